/* Whose drive it is. Two gateways on one drive would take turns in moving it and switching it off.
 *
 * With an owner register the gateway that works the drive writes a number there twelve times in three seconds: in the
 * high byte its own, in the low byte a count. Who finds a number that changes leaves the drive alone; a number that
 * stands still for longer than its owner could be silent is a dead one's, and 0 is nobody's. Whoever reads back another
 * number than it wrote has lost the drive.
 *
 * Without it, and where registers can be read back, another gateway shows by what this one has not written. */
#ifndef POSITIONER_OWNER_H
#define POSITIONER_OWNER_H

#include "admit.h"

/* One transfer at the most, and only now and then. As admit_drive(). */
void owner_step(struct line *line, struct port *port, struct admitted *answer);

/* The link was lost: it may be another's when it comes back. */
void owner_forget(struct port *port);

/* At the end: the drive is nobody's. */
void owner_give_up(struct line *line, struct port *port);

/* This program's own number: random, 1 to 255. */
uint16_t owner_number(void);

#endif
