/* owner: which gateway a drive belongs to. Two gateways on one drive would take turns in moving it and switching it
 * off.
 *
 * If the drive has an owner register, the gateway that works the drive writes to this register twelve times in three
 * seconds: its own number in the high byte, and a count in the low byte. A gateway that reads a changing value leaves
 * the drive alone. A value that stays the same for longer than its owner could be silent was left by a dead gateway; 0
 * means that nobody owns the drive. A gateway that reads back another value than it wrote has lost the drive. One that
 * stood still after it had read the register reads it once more before it writes.
 *
 * If the drive has no owner register, but its registers can be read back, another gateway shows by values that this one
 * has not written. */
#ifndef POSITIONER_OWNER_H
#define POSITIONER_OWNER_H

#include "admit.h"

/* Makes at most one transfer, and only now and then. Answers as admit_drive() does. */
void owner_step(struct line *line, struct port *port, struct admitted *answer);

/* Call it when the link was lost: the drive may belong to another gateway when it is found again. */
void owner_forget(struct port *port);

/* Call it at the end: gives the drive up, so that it belongs to nobody. */
void owner_give_up(struct line *line, struct port *port);

/* Draws this program's own number, 1 to 255, at random. */
uint16_t owner_number(void);

#endif
