/* outputs: the words to write to a drive, one run of registers after the other, and the stop that must not wait for an
 * answer. */
#ifndef POSITIONER_OUTPUTS_H
#define POSITIONER_OUTPUTS_H

#include "line.h"

#define RUN_MAX 64 /* more than the registers of all objects together */

/* Fills in the words of one run. */
void outputs_fill(const struct port *port, const struct kr_drive_objects *objects, struct kr_drive_run run,
                  uint16_t words[RUN_MAX]);

/* Tells whether these outputs bring a drive to rest, or keep it at rest. */
bool outputs_are_a_stop(const struct kr_axis_out *out);

/* Tells whether the newest outputs stop the drive, while those that it received last do not. *out is the newest
 * then. */
bool outputs_stop_wanted(struct line *line, const struct port *port, struct kr_axis_out *out);

/* Fills in the words of the run that contains the controlword of *out, and returns that run. */
struct kr_drive_run outputs_stop(const struct port *port, const struct kr_axis_out *out, uint16_t words[RUN_MAX]);

#endif
