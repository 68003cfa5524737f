/* Decides how a request is answered. It knows nothing of sockets, so that tests can try any bytes on it. */
#ifndef KNIFERAIL_PANEL_ROUTE_H
#define KNIFERAIL_PANEL_ROUTE_H

#include "panel.h"

enum route_what {
    ROUTE_REFUSED,  /* status says why, and text is one line for people */
    ROUTE_FILE,     /* an embedded file of the pages: text, size, type */
    ROUTE_STATIONS, /* the list of stations, as JSON */
    ROUTE_STATION,  /* everything about one station, as JSON */
    ROUTE_DRAWING,  /* a station's rails to scale, as SVG */
    ROUTE_NEXT,     /* the web of a station's staged order, as SVG */
    ROUTE_RECORDS,  /* a station's past, as JSON */
    ROUTE_LIST_EVENTS,
    ROUTE_STATION_EVENTS,
    ROUTE_METRICS,
};

struct route {
    enum route_what what;
    int status;       /* the HTTP status */
    int station;      /* index of the station, if the answer is about one */
    const char *type; /* the media type */
    const char *text;
    size_t size;
};

/* host: the header's value, NULL if there was none. path: without the query. All texts may contain any bytes, and end
 * with 0. */
struct route route_of(const struct panel *panel, const char *method, const char *host, const char *path);

#endif
