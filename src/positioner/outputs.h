/* What is written to a drive, run of registers by run, and the stop that must not wait for an answer. */
#ifndef POSITIONER_OUTPUTS_H
#define POSITIONER_OUTPUTS_H

#include "line.h"

#define RUN_MAX 64 /* more registers than all objects together have */

/* The words of one run. */
void outputs_fill(const struct port *port, const struct kr_drive_objects *objects, struct kr_drive_run run,
                  uint16_t words[RUN_MAX]);

/* Whether a drive that has these outputs comes to rest, or is at rest. */
bool outputs_are_a_stop(const struct kr_axis_out *out);

/* Whether the newest outputs of a drive ask for a stop that it has not been told yet: *out, then. */
bool outputs_stop_wanted(struct line *line, const struct port *port, struct kr_axis_out *out);

/* The run with the controlword, as *out has it: a stop. */
struct kr_drive_run outputs_stop(const struct port *port, const struct kr_axis_out *out,
                                 uint16_t words[RUN_MAX]);

#endif
