#ifndef POSITIONER_REFUSAL_H
#define POSITIONER_REFUSAL_H

#include "line.h"

/* Says which register a drive has just refused, by the name of its setting: reads each register by itself to find out.
 * why: the exception in words. */
void refusal_text(struct line *line, struct port *port, const char *why, char text[REASON_MAX]);

#endif
