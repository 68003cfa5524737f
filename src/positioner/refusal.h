#ifndef POSITIONER_REFUSAL_H
#define POSITIONER_REFUSAL_H

#include "line.h"

/* What a drive has just refused, by the name of the setting and its register: it is asked for each one by itself. why:
 * the exception in words. */
void refusal_text(struct line *line, struct port *port, const char *why, char text[REASON_MAX]);

#endif
