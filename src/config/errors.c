#include "errors.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static void add(struct kr_config_errors *errors, const char *start, const char *format, va_list values)
{
    if (errors->count == KR_CONFIG_ERRORS_MAX) {
        errors->lost++;
        return;
    }
    char *message = errors->message[errors->count++];
    int n = snprintf(message, KR_CONFIG_MESSAGE_MAX, "%s", start);
    if (n < 0 || n >= KR_CONFIG_MESSAGE_MAX)
        return;
    vsnprintf(message + n, (size_t)(KR_CONFIG_MESSAGE_MAX - n), format, values);
}

void kr_mistake(struct kr_config_errors *errors, const config_setting_t *at, const char *path,
                const char *format, ...)
{
    char start[KR_CONFIG_MESSAGE_MAX];
    const char *file = config_setting_source_file(at);
    unsigned line = config_setting_source_line(at); /* 0: the file itself */
    snprintf(start, sizeof start, "%s:%u: %s: ", file ? file : "?", line ? line : 1, path);
    va_list values;
    va_start(values, format);
    add(errors, start, format, values);
    va_end(values);
}

void kr_mistake_in(struct kr_config_errors *errors, const char *file, int line, const char *format, ...)
{
    char start[KR_CONFIG_MESSAGE_MAX];
    if (line > 0)
        snprintf(start, sizeof start, "%s:%d: ", file, line);
    else
        snprintf(start, sizeof start, "%s: ", file);
    va_list values;
    va_start(values, format);
    add(errors, start, format, values);
    va_end(values);
}

static void append(char path[KR_SETTING_PATH_MAX], const char *name)
{
    size_t n = strlen(path);
    snprintf(path + n, KR_SETTING_PATH_MAX - n, "%s%s", n ? "." : "", name);
}

static void append_path(const config_setting_t *setting, char path[KR_SETTING_PATH_MAX])
{
    if (!setting || config_setting_is_root(setting))
        return;
    append_path(config_setting_parent(setting), path);
    char index[24];
    snprintf(index, sizeof index, "[%d]", config_setting_index(setting));
    append(path, config_setting_name(setting) ? config_setting_name(setting) : index);
}

void kr_setting_path(const config_setting_t *setting, const char *member, char path[KR_SETTING_PATH_MAX])
{
    path[0] = '\0';
    append_path(setting, path);
    if (member)
        append(path, member);
}
