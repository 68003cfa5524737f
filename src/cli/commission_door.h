/* The control socket of kniferail-sim, as kniferail commission uses it: one line there, one line back. */
#ifndef KNIFERAIL_CLI_COMMISSION_DOOR_H
#define KNIFERAIL_CLI_COMMISSION_DOOR_H

#include <stdbool.h>
#include <stddef.h>

struct commission_door {
    int fd;        /* -1: not open */
    char why[256]; /* it could not be opened, or does not answer */
};

/* False: door->why says why, and nothing is left open. */
bool commission_door_open(struct commission_door *door, const char *path);
void commission_door_close(struct commission_door *door);
/* Says a line that is answered by one line. False as above; the door is closed then. */
__attribute__((format(printf, 4, 5))) bool commission_door_say(struct commission_door *door, char answer[], size_t size,
                                                               const char *format, ...);

#endif
