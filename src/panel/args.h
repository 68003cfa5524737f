/* The panel's command line. */
#ifndef KNIFERAIL_PANEL_ARGS_H
#define KNIFERAIL_PANEL_ARGS_H

#include "panel.h"

struct args {
    int n_stations;
    struct watch_address station[PANEL_STATIONS_MAX];
    const char *records[PANEL_STATIONS_MAX]; /* path of the file with the station's past; NULL: none */
    struct watch_address listen; /* host and port to listen on; unit_id is not used. host "": use the Unix socket */
    const char *socket;          /* path of a Unix socket; NULL: use `listen` */
    int32_t period_ms;
    bool print_port;
    int n_names;
    char name[PANEL_NAMES_MAX][PANEL_NAME_MAX];
};

enum args_outcome { ARGS_RUN, ARGS_DONE, ARGS_WRONG, ARGS_VERSION };

/* Reads the command line. ARGS_WRONG: the mistake was printed to standard error. ARGS_DONE: help was printed.
 * ARGS_VERSION: the caller has to print the version. */
enum args_outcome args_read(int argc, char *argv[], struct args *args);

/* What --help says, without the cautions: help/panel.txt. */
extern const char kr_panel_help[];

/* Reads "host:port/unit", "host:port", "host" or "[::1]:1502/3". False: text is none of these. */
bool args_address(const char *text, struct watch_address *address);

#endif
