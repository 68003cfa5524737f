/* The panel's web server: GET and HEAD over HTTP/1.1, by libmicrohttpd, in its own thread. */
#ifndef KNIFERAIL_PANEL_SERVER_H
#define KNIFERAIL_PANEL_SERVER_H

#include "events.h"

#define SERVER_CONNECTIONS_MAX 256 /* a further one waits until one of them ends */
/* A connection without traffic is closed after this time; streams of events send something more often. */
#define SERVER_IDLE_S 30

struct server;

/* listening: a socket that already listens; the server closes it at the end. NULL: error says why. */
struct server *server_start(const struct panel *panel, struct events *events, int listening, char *error,
                            size_t error_size);
void server_end(struct server *server); /* call it after events_finish() */

#endif
