/* kniferaild: reads the command line and the station file, and runs the gateway until it is told to end. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "build_id.h"
#include "gateway.h"
#include "log.h"
#include "supervisor.h"

enum { EXIT_DONE = 0, EXIT_FAILED = 1, EXIT_CONFIG = 2 };

static bool read_config(const struct args *args, struct kr_config *config)
{
    static struct kr_config_errors errors;
    bool ok = kr_config_read(args->config, config, &errors);
    for (uint16_t i = 0; i < errors.count; i++)
        fprintf(stderr, "%s\n", errors.message[i]);
    if (errors.lost > 0)
        fprintf(stderr, "and %lu more mistakes\n", (unsigned long)errors.lost);
    if (ok)
        args_override(args, config);
    return ok;
}

static void tell_start(const struct gateway *gateway)
{
    const struct kr_config *config = &gateway->config;
    char build[BUILD_ID_TEXT_MAX];
    log_line(LOG_NOTICE, "kniferaild %s, build %.8s, register map %d, session %u, %s (%08" PRIx32 "): %s port %u",
             KR_VERSION, build_id_text(build), KR_MAP_VERSION, gateway->session, config->path, config->digest,
             config->face.listen[0].address, kr_face_port(gateway->face));
    for (uint16_t i = 0; i < config->n_stations; i++)
        log_line(LOG_NOTICE, "%s: unit identifier %u, %s", config->station[i].station.name, config->station[i].unit_id,
                 kr_positioner_text(config->station[i].positioner));
    if (config->speed_factor > 1)
        log_line(LOG_NOTICE, "simulated machines run up to %d times as fast as the clock", config->speed_factor);
}

static bool print_port(const struct gateway *gateway)
{
    return printf("%u\n", kr_face_port(gateway->face)) > 0 && fflush(stdout) == 0;
}

/* Returns the exit status. */
static int run(const struct args *args, const struct kr_config *config)
{
    static struct gateway gateway;
    char error[512];
    uv_loop_t *loop = uv_default_loop();
    if (!gateway_open(&gateway, loop, args, config, error, sizeof error)) {
        log_line(LOG_ERROR, "%s", error);
        gateway_close(&gateway);
        return EXIT_FAILED;
    }
    tell_start(&gateway);
    if (args->print_port && !print_port(&gateway))
        log_line(LOG_WARNING, "the port can't be printed: standard output is closed");
    uv_run(loop, UV_RUN_DEFAULT);
    gateway_close(&gateway);
    return gateway.came_to_rest ? EXIT_DONE : EXIT_FAILED;
}

int main(int argc, char *argv[])
{
    static struct kr_config config;
    struct args args;
    switch (args_read(argc, argv, &args)) {
    case ARGS_DONE: return fflush(stdout) == 0 ? EXIT_DONE : EXIT_FAILED;
    case ARGS_WRONG: return EXIT_CONFIG;
    case ARGS_RUN: break;
    }
    if (!read_config(&args, &config))
        return EXIT_CONFIG;
    if (!log_open(args.journal || log_is_read_by_journald())) {
        fprintf(stderr, "kniferaild: no thread for the log\n");
        return EXIT_FAILED;
    }
    if (!supervisor_open())
        log_line(LOG_WARNING, "the thread for messages to the service manager can't be started: it gets none");
    int status = run(&args, &config);
    supervisor_close();
    log_close();
    return status;
}
