/* What is answered to which request. It knows nothing of sockets, so that any bytes can be tried on it. */
#ifndef KNIFERAIL_PANEL_ROUTE_H
#define KNIFERAIL_PANEL_ROUTE_H

#include "panel.h"

enum route_what {
    ROUTE_REFUSED,  /* status says why, text is one line for people */
    ROUTE_FILE,     /* a file of the page, embedded: text, size, type */
    ROUTE_STATIONS, /* the list of stations, as JSON */
    ROUTE_STATION,  /* all about one station, as JSON */
    ROUTE_DRAWING,  /* a station's rails to scale, as SVG */
    ROUTE_NEXT,     /* the web of its staged order, as SVG */
    ROUTE_RECORDS,  /* its past, as JSON */
    ROUTE_LIST_EVENTS,
    ROUTE_STATION_EVENTS,
    ROUTE_METRICS,
};

struct route {
    enum route_what what;
    int status;       /* of HTTP */
    int station;      /* index, of what is about one */
    const char *type; /* media type */
    const char *text;
    size_t size;
};

/* host: the header's value, NULL if there was none. path: without the query. All are any bytes that end with 0. */
struct route route_of(const struct panel *panel, const char *method, const char *host, const char *path);

#endif
