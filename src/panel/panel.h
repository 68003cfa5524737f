/* Shared by all files of the panel: the stations that are watched, and the names that browsers may ask for. */
#ifndef KNIFERAIL_PANEL_PANEL_H
#define KNIFERAIL_PANEL_PANEL_H

#include "watch.h"

#define PANEL_STATIONS_MAX 32
#define PANEL_NAMES_MAX    8
#define PANEL_NAME_MAX     64

struct panel {
    int n_stations;
    struct watch *station[PANEL_STATIONS_MAX];
    /* Path of the file with the station's past; NULL: none was given. */
    const char *records[PANEL_STATIONS_MAX];
    /* On a Unix socket every host name is answered: only a proxy connects, and the proxy checks the name. */
    bool any_name;
    /* The host names in requests that are answered, in addition to those of the loopback interface. Requests with any
     * other name are refused, because a foreign page could let its own name point to this computer (DNS rebinding). */
    int n_names;
    char name[PANEL_NAMES_MAX][PANEL_NAME_MAX];
};

#endif
