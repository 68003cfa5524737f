#include "args.h"

#include <errno.h>
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/caution.h"

static bool number(const char *text, long least, long most, long *value)
{
    char *end;
    errno = 0;
    *value = strtol(text, &end, 10);
    return errno == 0 && end != text && *end == '\0' && *text != ' ' && *value >= least && *value <= most;
}

static bool copy_part(char *out, size_t size, const char *text, size_t n)
{
    if (n == 0 || n >= size)
        return false;
    for (size_t i = 0; i < n; i++)
        if (text[i] <= ' ' || text[i] > '~' || text[i] == '"' || text[i] == '\\')
            return false;
    memcpy(out, text, n);
    out[n] = '\0';
    return true;
}

/* Reads the host, without the brackets of a numeric IPv6 address. Returns the text after it; NULL if there is no
 * host. */
static const char *read_host(const char *text, struct watch_address *address)
{
    const char *end = text[0] == '[' ? strchr(text, ']') : text + strcspn(text, ":/");
    if (end == NULL)
        return NULL;
    const char *begin = text[0] == '[' ? text + 1 : text;
    if (!copy_part(address->host, sizeof address->host, begin, (size_t)(end - begin)))
        return NULL;
    return *end == ']' ? end + 1 : end;
}

bool args_address(const char *text, struct watch_address *address)
{
    long value;
    const char *rest = read_host(text, address);
    if (rest == NULL)
        return false;
    if (*rest == ':') {
        size_t n = strcspn(rest + 1, "/");
        if (!copy_part(address->port, sizeof address->port, rest + 1, n) || !number(address->port, 0, 65535, &value))
            return false;
        rest += 1 + n;
    }
    if (*rest == '/') {
        if (!number(rest + 1, 0, 255, &value))
            return false;
        address->unit_id = (int)value;
        return true;
    }
    return *rest == '\0';
}

static bool wrong(const char *option, const char *value, const char *wanted)
{
    fprintf(stderr, "kniferail-panel: --%s %s: %s is needed\n", option, value, wanted);
    return false;
}

#define ALONE "127.0.0.1" /* the station to watch if none is given */

static bool add_station(struct args *args, const char *text)
{
    struct watch_address address = {.port = "1502", .unit_id = 255};
    if (args->n_stations == PANEL_STATIONS_MAX)
        return wrong("station", text, "a panel of its own for more than 32 stations");
    if (!args_address(text, &address))
        return wrong("station", text, "HOST, HOST:PORT or HOST:PORT/UNIT (port 0 to 65535, unit 0 to 255)");
    args->station[args->n_stations++] = address;
    return true;
}

static bool add_records(struct args *args, const char *path)
{
    if (args->n_stations == 0)
        add_station(args, ALONE);
    const char **records = &args->records[args->n_stations - 1];
    if (*records != NULL)
        return wrong("records", path, "one file for each station");
    if (path[0] == '\0')
        return wrong("records", path, "the path of a file");
    *records = path;
    return true;
}

/* Browsers on other computers connect through a proxy, which adds TLS and passwords; this program has neither. */
static bool set_listen(struct args *args, const char *text)
{
    args->listen = (struct watch_address){.port = "8080"};
    if (args_address(text, &args->listen) &&
        (strncmp(args->listen.host, "127.", 4) == 0 || strcmp(args->listen.host, "::1") == 0) &&
        strchr(text, '/') == NULL)
        return true;
    return wrong("listen", text, "an address of the loopback interface in numbers, 127.0.0.1:8080 or [::1]:8080,");
}

static bool add_name(struct args *args, const char *text)
{
    if (args->n_names == PANEL_NAMES_MAX)
        return wrong("name", text, "no more than 8 names");
    if (!copy_part(args->name[args->n_names], PANEL_NAME_MAX, text, strlen(text)))
        return wrong("name", text, "a name of 1 to 63 characters");
    args->n_names++;
    return true;
}

enum { STATION = 256, RECORDS, LISTEN, SOCKET, NAME, PERIOD, PRINT_PORT, VERSION };

static bool take(struct args *args, int option, const char *value)
{
    long n;
    switch (option) {
    case STATION: return add_station(args, value);
    case RECORDS: return add_records(args, value);
    case LISTEN: return set_listen(args, value);
    case NAME: return add_name(args, value);
    case SOCKET: args->socket = value; return true;
    case PRINT_PORT: args->print_port = true; return true;
    default: break;
    }
    if (!number(value, 100, 10000, &n))
        return wrong("period-ms", value, "a whole number from 100 to 10000");
    args->period_ms = (int32_t)n;
    return true;
}

static enum args_outcome show_help(void)
{
    bool done = printf("%s\n%s", kr_panel_help, kr_caution) >= 0 && fflush(stdout) == 0;
    if (!done)
        fprintf(stderr, "kniferail-panel: standard output: %s\n", strerror(errno));
    return done ? ARGS_DONE : ARGS_WRONG;
}

enum args_outcome args_read(int argc, char *argv[], struct args *args)
{
    static const struct option options[] = {{"station", required_argument, NULL, STATION},
                                            {"records", required_argument, NULL, RECORDS},
                                            {"listen", required_argument, NULL, LISTEN},
                                            {"socket", required_argument, NULL, SOCKET},
                                            {"name", required_argument, NULL, NAME},
                                            {"period-ms", required_argument, NULL, PERIOD},
                                            {"print-port", no_argument, NULL, PRINT_PORT},
                                            {"version", no_argument, NULL, VERSION},
                                            {"help", no_argument, NULL, 'h'},
                                            {0}};
    *args = (struct args){.listen = {.host = "127.0.0.1", .port = "8080"}, .period_ms = 500};
    for (int c; (c = getopt_long(argc, argv, "h", options, NULL)) != -1;) {
        if (c == 'h')
            return show_help();
        if (c == VERSION)
            return ARGS_VERSION;
        if (c == '?' || !take(args, c, optarg))
            return ARGS_WRONG;
    }
    if (optind < argc) {
        fprintf(stderr, "kniferail-panel: '%s' is not understood; kniferail-panel --help lists the options\n",
                argv[optind]);
        return ARGS_WRONG;
    }
    if (args->n_stations == 0)
        add_station(args, ALONE);
    return ARGS_RUN;
}
