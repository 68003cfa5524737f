/* kniferail-sim: serves the simulated machine of a station at the addresses in the station's own config. */
#include <errno.h>
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "build_id.h"
#include "kniferail/caution.h"
#include "kniferail/config.h"
#include "sim/command.h"
#include "sim/script_read.h"
#include "sim/server.h"
#include "sim/texts.h"

struct args {
    const char *config, *station, *script, *control;
    char listen[KR_DRIVE_ADDRESS_MAX];
    uint16_t port;
    bool seeded;
    uint64_t seed;
};

/* ---- the command line ---------------------------------------------------------------------------------- */

static bool read_listen(const char *text, struct args *args)
{
    const char *colon = strrchr(text, ':');
    bool brackets = text[0] == '[' && colon && colon > text + 1 && colon[-1] == ']';
    size_t length = colon ? (size_t)(colon - text) : 0;
    if (brackets) {
        text++;
        length -= 2;
    }
    char *end = NULL;
    errno = 0;
    long port = colon ? strtol(colon + 1, &end, 10) : -1;
    if (length < 2 || length >= sizeof args->listen || errno != 0 || end == colon + 1 || *end != 0 || port < 0 ||
        port > 65535) {
        fprintf(stderr, "kniferail-sim: --listen: ADDRESS:PORT is needed\n");
        return false;
    }
    memcpy(args->listen, text, length);
    args->listen[length] = 0;
    args->port = (uint16_t)port;
    return true;
}

static bool read_seed(const char *text, struct args *args)
{
    char *end;
    errno = 0;
    args->seed = strtoull(text, &end, 10);
    args->seeded = errno == 0 && end != text && *end == 0;
    if (!args->seeded)
        fprintf(stderr, "kniferail-sim: --seed %s: a whole number is needed\n", text);
    return args->seeded;
}

static void print_version(void)
{
    char build[BUILD_ID_TEXT_MAX];
    printf("kniferail-sim %s, build %s\n", KR_VERSION, build_id_text(build));
}

static int print_faults(void)
{
    for (int f = 0; f < SIM_N_FAULTS; f++) {
        const struct sim_fault_info *info = sim_fault_info((enum sim_fault)f);
        printf("%-18s %-9s %-5s  %s\n", info->name, sim_item_word(info->item), sim_value_word(info->value), info->what);
    }
    printf("\nphases of a carriage:\n");
#define X(NAME, name, what) printf("%-18s %s\n", name, what);
    SIM_PHASES(X)
#undef X
    return EXIT_SUCCESS;
}

/* Returns -1 to run, or else the exit status. */
static int read_args(int argc, char *argv[], struct args *args)
{
    static const struct option options[] = {
        {"config", required_argument, NULL, 'c'},  {"station", required_argument, NULL, 's'},
        {"listen", required_argument, NULL, 'l'},  {"script", required_argument, NULL, 'f'},
        {"control", required_argument, NULL, 'o'}, {"seed", required_argument, NULL, 'n'},
        {"faults", no_argument, NULL, 'F'},        {"version", no_argument, NULL, 'v'},
        {"help", no_argument, NULL, 'h'},          {0}};
    *args = (struct args){0};
    for (int c; (c = getopt_long(argc, argv, "c:h", options, NULL)) != -1;) {
        bool good = true;
        switch (c) {
        case 'c': args->config = optarg; break;
        case 's': args->station = optarg; break;
        case 'l': good = read_listen(optarg, args); break;
        case 'f': args->script = optarg; break;
        case 'o': args->control = optarg; break;
        case 'n': good = read_seed(optarg, args); break;
        case 'F': return print_faults();
        case 'v': print_version(); return EXIT_SUCCESS;
        case 'h': printf("%s\n%s", kr_sim_help, kr_caution); return EXIT_SUCCESS;
        default: return 2; /* getopt has printed why */
        }
        if (!good)
            return 2;
    }
    if (optind < argc || !args->config) {
        fprintf(stderr,
                "kniferail-sim: --config FILE is needed, and an argument without -- is not possible; see --help\n");
        return 2;
    }
    return -1;
}

/* ---- the station file ---------------------------------------------------------------------------------- */

static bool read_station(const struct args *args, struct kr_config *config, const struct kr_config_station **station)
{
    static struct kr_config_errors errors;
    if (!kr_config_read(args->config, config, &errors)) {
        for (uint16_t i = 0; i < errors.count; i++)
            fprintf(stderr, "%s\n", errors.message[i]);
        return false;
    }
    int index = kr_config_station_named(config, args->station);
    if (index < 0) {
        fprintf(stderr,
                args->station ? "kniferail-sim: %s: no station has the name %s\n"
                              : "kniferail-sim: %s has several stations: --station has to name one\n",
                args->config, args->station);
        return false;
    }
    *station = &config->station[index];
    if ((*station)->has_drives && (*station)->simulated.n_rails > 0)
        return true;
    fprintf(stderr, "kniferail-sim: %s: station %s %s\n", args->config, (*station)->station.name,
            (*station)->has_drives
                ? "has no machine that can be simulated: its 'simulated' group contradicts the rest of the file"
                : "has no drives to serve: its 'drive' groups are missing");
    return false;
}

/* ---- serving ------------------------------------------------------------------------------------------- */

static bool open_links(struct sim_server *server, const struct args *args, char *error, size_t size)
{
    uint16_t port = args->port;
    for (uint16_t i = 0; i < server->n_links; i++) {
        struct sim_link *link = &server->link[i];
        const char *address = args->listen[0] ? args->listen : NULL;
        bool open = link->drive_link->serial ? sim_server_open_line(link, error, size)
                                             : sim_server_listen(link, address, port, error, size);
        if (!open)
            return false;
        if (!link->drive_link->serial && port != 0)
            port++;
    }
    return true;
}

static void tell_links(const struct sim_server *server)
{
    for (uint16_t i = 0; i < server->n_links; i++)
        for (uint16_t k = 0; k < server->link[i].n_rails; k++) {
            uint16_t rail = server->link[i].rail[k];
            printf("rail %u: %s, unit %u\n", rail + 1u, server->link[i].name,
                   (unsigned)server->drive[rail].link.unit_id);
        }
    fflush(stdout);
}

static bool open_all(struct sim_server *server, const struct args *args, char *error, size_t size)
{
    if (args->script && !sim_script_read(args->script, &server->machine.config, &server->script, error, size))
        return false;
    if (!open_links(server, args, error, size))
        return false;
    if (args->control && !sim_server_open_control(server, args->control, error, size))
        return false;
    sim_server_open_stdin(server);
    return true;
}

static int serve(struct sim_server *server, const struct args *args)
{
    char error[400];
    bool started = sim_server_start(server, error, sizeof error);
    if (started && !open_all(server, args, error, sizeof error)) {
        started = false;
        sim_server_stop(server);
    }
    if (!started)
        fprintf(stderr, "kniferail-sim: %s\n", error);
    else
        tell_links(server);
    (void)uv_run(server->loop, UV_RUN_DEFAULT);
    if (!started)
        return EXIT_FAILURE;
    char text[SIM_ANSWER_MAX];
    (void)sim_command(&server->machine, "show", text); /* this command is never refused */
    fputs(text, stdout);
    return sim_machine_collision(&server->machine) || sim_machine_dragged(&server->machine) ? 3 : EXIT_SUCCESS;
}

/* If the help could not be written, for example because a disk is full, this is an error. */
static bool is_printed(void)
{
    if (fflush(stdout) == 0 && !ferror(stdout))
        return true;
    fprintf(stderr, "kniferail-sim: the output could not be written: %s\n", strerror(errno));
    return false;
}

int main(int argc, char *argv[])
{
    static struct kr_config config;
    static struct sim_server server;
    const struct kr_config_station *station;
    struct args args;
    char error[400];
    int status = read_args(argc, argv, &args);
    if (status >= 0)
        return is_printed() ? status : EXIT_FAILURE;
    if (!read_station(&args, &config, &station))
        return 2;
    struct sim_config machine = station->simulated;
    if (args.seeded)
        machine.seed = args.seed;
    if (!sim_server_init(&server, uv_default_loop(), &machine, station->drive, error, sizeof error)) {
        fprintf(stderr, "kniferail-sim: %s\n", error);
        return EXIT_FAILURE;
    }
    status = serve(&server, &args);
    (void)uv_loop_close(server.loop);
    return status;
}
