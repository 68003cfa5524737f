/* The socket that browsers come to. */
#ifndef KNIFERAIL_PANEL_LISTEN_H
#define KNIFERAIL_PANEL_LISTEN_H

#include "args.h"

/* A socket that listens as args says. -1 after telling why on standard error. port: of a TCP socket, as the system gave
 * it; 0 for a Unix socket. */
int listen_open(const struct args *args, int *port);

/* Removes a Unix socket's file. */
void listen_tidy(const struct args *args);

#endif
