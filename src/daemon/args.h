/* The command line of kniferaild. */
#ifndef DAEMON_ARGS_H
#define DAEMON_ARGS_H

#include <stdbool.h>
#include <stdint.h>

#include "kniferail/config.h"

struct args {
    const char *config;
    int32_t port;         /* of the first listen address, 0 to 65535; -1: as configured */
    int32_t speed_factor; /* 1 to 1000; -1: as configured */
    bool print_port;
    bool journal;
};

enum args_outcome { ARGS_RUN, ARGS_DONE, ARGS_WRONG };

/* Prints what --help and --version ask for (ARGS_DONE), or to standard error what is wrong (ARGS_WRONG). */
enum args_outcome args_read(int argc, char *const argv[], struct args *args);

/* What the command line says instead of the file, now and whenever the file is read again. */
void args_override(const struct args *args, struct kr_config *config);

#endif
