/* Commands to a running simulated machine, one line each, and their answers. Pure: text in, text out.
 *
 *     break RAIL FAULT [HOLDER] [VALUE]     mend RAIL FAULT [HOLDER]
 *     inputs NAME=0|1 ...                   drive inputs, as in settings: guards_closed=0
 *     show                                  one line a rail, one for what went wrong
 *     holders                               where they truly stand
 *     counts                                set-points taken, and how often each holder was let go of
 *     faults                                what can be broken
 *     help */
#ifndef KNIFERAIL_SIM_COMMAND_H
#define KNIFERAIL_SIM_COMMAND_H

#include "sim/machine.h"

#define SIM_COMMAND_MAX 200  /* of a line, without its end */
#define SIM_ANSWER_MAX  8192 /* with its closing 0; every line of it ends with \n */

/* False: the command was refused, nothing has changed, and the answer says why. */
bool sim_command(struct sim_machine *machine, const char *line, char answer[SIM_ANSWER_MAX]);

#endif
