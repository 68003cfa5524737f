/* The socket to which browsers connect. */
#ifndef KNIFERAIL_PANEL_LISTEN_H
#define KNIFERAIL_PANEL_LISTEN_H

#include "args.h"

/* Opens a socket that listens as args says. Sets *port to the port that the system gave to a TCP socket, 0 for a Unix
 * socket. -1: the reason was printed to standard error. */
int listen_open(const struct args *args, int *port);

/* Removes the file of the Unix socket. */
void listen_tidy(const struct args *args);

#endif
