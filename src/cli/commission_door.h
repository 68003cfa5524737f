/* The control socket of kniferail-sim, as kniferail commission uses it: each line is answered by one line. */
#ifndef KNIFERAIL_CLI_COMMISSION_DOOR_H
#define KNIFERAIL_CLI_COMMISSION_DOOR_H

#include <stdbool.h>
#include <stddef.h>

struct commission_door {
    int fd;        /* -1: not open */
    char why[256]; /* why the socket could not be opened, or does not answer */
};

/* Opens the socket. Returns false if that fails: door->why says why, and nothing is left open. */
bool commission_door_open(struct commission_door *door, const char *path);
void commission_door_close(struct commission_door *door);
/* Sends a line and waits for the line that answers it. Returns false if that fails: door->why says why, and the socket
 * is closed. */
__attribute__((format(printf, 4, 5))) bool commission_door_say(struct commission_door *door, char answer[], size_t size,
                                                               const char *format, ...);

#endif
