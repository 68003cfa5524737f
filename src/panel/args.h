/* The panel's command line. */
#ifndef KNIFERAIL_PANEL_ARGS_H
#define KNIFERAIL_PANEL_ARGS_H

#include "panel.h"

struct args {
    int n_stations;
    struct watch_address station[PANEL_STATIONS_MAX];
    const char *records[PANEL_STATIONS_MAX]; /* path of the file of its past; NULL: none */
    struct watch_address listen; /* host and port; unit_id is not used. host "": the Unix socket */
    const char *socket;          /* path of a Unix socket; NULL: listen */
    int32_t period_ms;
    bool print_port;
    int n_names;
    char name[PANEL_NAMES_MAX][PANEL_NAME_MAX];
};

enum args_outcome { ARGS_RUN, ARGS_DONE, ARGS_WRONG, ARGS_VERSION };

/* Tells on standard error what is wrong. DONE: help was printed. VERSION: it is asked for. */
enum args_outcome args_read(int argc, char *argv[], struct args *args);

/* "host:port/unit", "host:port", "host", "[::1]:1502/3". False if it is none of these. */
bool args_address(const char *text, struct watch_address *address);

#endif
