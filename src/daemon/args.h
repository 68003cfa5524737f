/* The command line of kniferaild. */
#ifndef DAEMON_ARGS_H
#define DAEMON_ARGS_H

#include <stdbool.h>
#include <stdint.h>

#include "kniferail/config.h"

struct args {
    const char *config;
    int32_t port;         /* of the first listen address, 0 to 65535; -1: the config decides */
    int32_t speed_factor; /* 1 to 1000; -1: the config decides */
    bool print_port;
    bool journal;
};

enum args_outcome { ARGS_RUN, ARGS_DONE, ARGS_WRONG };

/* Reads the command line. ARGS_DONE: --help or --version was asked for, and was printed. ARGS_WRONG: the mistake was
 * printed to standard error. */
enum args_outcome args_read(int argc, char *const argv[], struct args *args);

/* What --help says, without the cautions: help/daemon.txt. */
extern const char kr_daemon_help[];

/* Puts the settings of the command line in place of the file's. Call it whenever the file was read. */
void args_override(const struct args *args, struct kr_config *config);

#endif
