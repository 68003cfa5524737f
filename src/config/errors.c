#include "errors.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* Sorts the messages by line within each file, because contradictions are found only after all values were read. */
static void file_in_order(struct kr_config_errors *errors)
{
    char message[KR_CONFIG_MESSAGE_MAX];
    int last = errors->count - 1;
    uint32_t line = errors->line[last];
    memcpy(message, errors->message[last], sizeof message);
    size_t name = strcspn(message, ":") + 1;
    int i = last;
    for (; i > 0 && errors->line[i - 1] > line && strncmp(errors->message[i - 1], message, name) == 0; i--) {
        memcpy(errors->message[i], errors->message[i - 1], sizeof message);
        errors->line[i] = errors->line[i - 1];
    }
    memcpy(errors->message[i], message, sizeof message);
    errors->line[i] = line;
}

static bool told_already(const struct kr_config_errors *errors, const char *message)
{
    for (int i = 0; i < errors->count; i++)
        if (strcmp(errors->message[i], message) == 0)
            return true;
    return false;
}

/* A message is always one line, even if the file or its name contains line ends. */
static void join_lines(char *message)
{
    for (char *p = message; *p; p++)
        if (iscntrl((unsigned char)*p))
            *p = '?';
}

static void add(struct kr_config_errors *errors, uint32_t line, const char *start, const char *text)
{
    char message[KR_CONFIG_MESSAGE_MAX];
    int n = snprintf(message, sizeof message, "%s", start);
    if (n >= 0 && (size_t)n < sizeof message)
        snprintf(message + n, sizeof message - (size_t)n, "%s", text);
    join_lines(message);
    /* A mistake in a group that applies to several rails would otherwise be reported once for each rail. */
    if (told_already(errors, message))
        return;
    if (errors->count == KR_CONFIG_ERRORS_MAX) {
        errors->lost++;
        return;
    }
    memcpy(errors->message[errors->count], message, sizeof message);
    errors->line[errors->count++] = line;
    file_in_order(errors);
}

void kr_mistake(struct kr_config_errors *errors, const config_setting_t *at, const char *path, const char *format, ...)
{
    char start[KR_CONFIG_MESSAGE_MAX], text[KR_CONFIG_MESSAGE_MAX];
    va_list values;
    va_start(values, format);
    vsnprintf(text, sizeof text, format, values);
    va_end(values);
    const char *file = config_setting_source_file(at);
    unsigned line = config_setting_source_line(at);
    if (line == 0) /* the mistake is about the file itself */
        line = 1;
    snprintf(start, sizeof start, "%s:%u: %s: ", file ? file : "?", line, path);
    add(errors, line, start, text);
}

void kr_mistake_in(struct kr_config_errors *errors, const char *file, int line, const char *format, ...)
{
    char start[KR_CONFIG_MESSAGE_MAX], text[KR_CONFIG_MESSAGE_MAX];
    va_list values;
    va_start(values, format);
    vsnprintf(text, sizeof text, format, values);
    va_end(values);
    if (line > 0)
        snprintf(start, sizeof start, "%s:%d: ", file, line);
    else
        snprintf(start, sizeof start, "%s: ", file);
    add(errors, (uint32_t)(line > 0 ? line : 0), start, text);
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
