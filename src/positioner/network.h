#ifndef POSITIONER_NETWORK_H
#define POSITIONER_NETWORK_H

#include <stdbool.h>

/* Whether the other end of a TCP connection has confirmed all that was sent: then its network stack lives, and whoever
 * is silent is the program behind it. True, too, where that can't be known. */
bool network_confirms(int fd);

#endif
