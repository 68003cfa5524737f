/* What all files of the panel share: the stations that are watched, and who else may be asked for. */
#ifndef KNIFERAIL_PANEL_PANEL_H
#define KNIFERAIL_PANEL_PANEL_H

#include "watch.h"

#define PANEL_STATIONS_MAX 32
#define PANEL_NAMES_MAX    8
#define PANEL_NAME_MAX     64

struct panel {
    int n_stations;
    struct watch *station[PANEL_STATIONS_MAX];
    const char *records[PANEL_STATIONS_MAX]; /* path of a file of each one's past; NULL: none was given */
    /* The names by which browsers may ask for this program, beside those of the loopback interface. A page of somebody
     * else that has its own name point here (DNS rebinding) is refused. */
    bool any_name; /* a Unix socket: only a proxy asks, and it is the proxy that looks at names */
    int n_names;
    char name[PANEL_NAMES_MAX][PANEL_NAME_MAX];
};

#endif
