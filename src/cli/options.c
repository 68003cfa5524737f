#include <assert.h>
#include <errno.h>
#include <getopt.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"

#define FIRST_OPTION 256 /* beyond every letter */

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

static void name_options(const struct kr_option option[], int n, struct option out[])
{
    for (int i = 0; i < n; i++)
        out[i] =
            (struct option){option[i].name, option[i].value ? required_argument : no_argument, NULL, FIRST_OPTION + i};
    out[n] = (struct option){"help", no_argument, NULL, 'h'};
    out[n + 1] = (struct option){0};
}

/* Prints what getopt_long refused. c is ':' if a value is missing; optopt is the option, as far as it is known. */
static int tell_refused(char **argv, int c, const struct kr_option option[])
{
    if (c == ':')
        return kr_usage(argv[0], "--%s needs a value", option[optopt - FIRST_OPTION].name);
    if (optopt >= FIRST_OPTION)
        return kr_usage(argv[0], "--%s takes no value", option[optopt - FIRST_OPTION].name);
    if (optopt == 'h')
        return kr_usage(argv[0], "--help takes no value");
    if (optopt != 0)
        return kr_usage(argv[0], "unknown option '-%c'", optopt);
    return kr_usage(argv[0], "unknown option '%s'", argv[optind - 1]);
}

static int read_options(int argc, char **argv, const char *letters, const struct kr_option option[], int n,
                        int *operands)
{
    struct option names[KR_OPTIONS_MAX + 2];
    assert(n <= KR_OPTIONS_MAX);
    name_options(option, n, names);
    optind = 0; /* makes GNU's and musl's getopt begin anew */
    opterr = 0;
    for (int c; (c = getopt_long(argc, argv, letters, names, NULL)) != -1;) {
        if (c == 'h')
            return KR_SHOW_HELP;
        if (c < FIRST_OPTION)
            return tell_refused(argv, c, option);
        const struct kr_option *is = &option[c - FIRST_OPTION];
        if (is->value)
            *is->value = optarg;
        else
            *is->given = true;
    }
    *operands = optind;
    return KR_RUN;
}

int kr_read_options(int argc, char **argv, const struct kr_option option[], int n, int *operands)
{
    return read_options(argc, argv, ":h", option, n, operands);
}

int kr_read_options_before(int argc, char **argv, const struct kr_option option[], int n, int *operands)
{
    return read_options(argc, argv, "+:h", option, n, operands);
}

int kr_read_only_options(int argc, char **argv, const struct kr_option option[], int n)
{
    int operands = argc, answer = kr_read_options(argc, argv, option, n, &operands);
    if (answer == KR_RUN && operands < argc)
        return kr_usage(argv[0], "unknown argument '%s'", argv[operands]);
    return answer;
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
