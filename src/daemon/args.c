#include "args.h"

#include <errno.h>
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>

#include "build_id.h"
#include "kniferail/caution.h"
#include "kniferail/map.h"

static bool number(const char *option, const char *text, long least, long most, int32_t *value)
{
    char *end;
    errno = 0;
    long n = strtol(text, &end, 10);
    if (errno != 0 || end == text || *end != 0 || n < least || n > most) {
        fprintf(stderr, "kniferaild: --%s %s: a whole number from %ld to %ld is needed\n", option, text, least, most);
        return false;
    }
    *value = (int32_t)n;
    return true;
}

static enum args_outcome complete(int argc, char *const argv[], const struct args *args)
{
    if (optind < argc) {
        fprintf(stderr, "kniferaild: '%s' is not understood; kniferaild --help lists the options\n", argv[optind]);
        return ARGS_WRONG;
    }
    if (args->config == NULL) {
        fprintf(stderr, "kniferaild: --config FILE is needed; kniferaild --help lists the options\n");
        return ARGS_WRONG;
    }
    return ARGS_RUN;
}

static void print_version(void)
{
    char build[BUILD_ID_TEXT_MAX];
    printf("kniferaild %s, register map %d, build %s\n", KR_VERSION, KR_MAP_VERSION, build_id_text(build));
}

void args_override(const struct args *args, struct kr_config *config)
{
    if (args->port >= 0)
        config->face.listen[0].port = (uint16_t)args->port;
    if (args->speed_factor > 0)
        config->speed_factor = args->speed_factor;
}

enum args_outcome args_read(int argc, char *const argv[], struct args *args)
{
    static const struct option options[] = {{"config", required_argument, NULL, 'c'},
                                            {"port", required_argument, NULL, 'p'},
                                            {"speed-factor", required_argument, NULL, 's'},
                                            {"print-port", no_argument, NULL, 'P'},
                                            {"journal", no_argument, NULL, 'j'},
                                            {"version", no_argument, NULL, 'v'},
                                            {"help", no_argument, NULL, 'h'},
                                            {0}};
    *args = (struct args){.port = -1, .speed_factor = -1};
    for (int c; (c = getopt_long(argc, argv, "c:h", options, NULL)) != -1;) {
        bool ok = true;
        switch (c) {
        case 'c': args->config = optarg; break;
        case 'p': ok = number("port", optarg, 0, 65535, &args->port); break;
        case 's': ok = number("speed-factor", optarg, 1, 1000, &args->speed_factor); break;
        case 'P': args->print_port = true; break;
        case 'j': args->journal = true; break;
        case 'v': print_version(); return ARGS_DONE;
        case 'h': printf("%s\n%s", kr_daemon_help, kr_caution); return ARGS_DONE;
        default: ok = false; /* getopt_long has printed what is wrong */
        }
        if (!ok)
            return ARGS_WRONG;
    }
    return complete(argc, argv, args);
}
