/* Commands to a running simulated machine, each in one line, and their answers. Pure: a text in, a text out.
 *
 *     break RAIL FAULT [HOLDER] [VALUE]     begin a fault
 *     mend RAIL FAULT [HOLDER]              end it
 *     inputs NAME=0|1 ...                   set drive inputs, as in settings: guards_closed=0
 *     show                                  one line for each rail, and one for incidents
 *     holders                               where the holders truly stand
 *     counts                                how many set-points were taken, and how often each holder was released
 *     faults                                the list of faults
 *     help                                  the list of commands */
#ifndef KNIFERAIL_SIM_COMMAND_H
#define KNIFERAIL_SIM_COMMAND_H

#include "sim/machine.h"

#define SIM_COMMAND_MAX 200  /* bytes of a line, without its end */
#define SIM_ANSWER_MAX  8192 /* bytes with the final 0; every line of the answer ends with \n */

/* False: the command was refused, nothing has changed, and the answer says why. */
bool sim_command(struct sim_machine *machine, const char *line, char answer[SIM_ANSWER_MAX]);

#endif
