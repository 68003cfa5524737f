#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"

int kr_usage(const char *command, const char *format, ...)
{
    va_list values;
    fprintf(stderr, "kniferail %s: ", command);
    va_start(values, format);
    vfprintf(stderr, format, values);
    va_end(values);
    fprintf(stderr, "; see 'kniferail help %s'\n", command);
    return KR_EXIT_USAGE;
}

int kr_option(int argc, char **argv, int *i, const char *name, const char **value)
{
    size_t n = strlen(name);
    if (strncmp(argv[*i], name, n) != 0 || (argv[*i][n] != '\0' && argv[*i][n] != '='))
        return 0;
    if (argv[*i][n] == '=') {
        *value = argv[*i] + n + 1;
        return 1;
    }
    if (*i + 1 >= argc) {
        kr_usage(argv[0], "%s needs a value", name);
        return -1;
    }
    *value = argv[++*i];
    return 1;
}

bool kr_number(const char *command, const char *option, const char *text, long least, long most, long *value)
{
    char *end;
    errno = 0;
    long n = strtol(text, &end, 10);
    if (errno == 0 && end != text && *end == '\0' && n >= least && n <= most) {
        *value = n;
        return true;
    }
    kr_usage(command, "%s: '%s'; allowed: %ld to %ld", option, text, least, most);
    return false;
}

int kr_flushed(int status)
{
    if (fflush(stdout) == 0 && !ferror(stdout))
        return status;
    fprintf(stderr, "kniferail: the output could not be written: %s\n", strerror(errno));
    return KR_EXIT_REFUSED;
}
