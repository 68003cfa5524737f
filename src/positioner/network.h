#ifndef POSITIONER_NETWORK_H
#define POSITIONER_NETWORK_H

#include <stdbool.h>

/* Tells whether the other end of a TCP connection has confirmed all that was sent. If it has, its network stack works,
 * and only the program there is silent. Also true if this can't be found out. */
bool network_confirms(int fd);

#endif
