/* If the time of a way were proportional to its length, the best sequence would lead the carriage to one end of its
 * work, from there to the other end, and back to where it stops. Exchanges of blocks never reverse such a sweep, so
 * each sweep is a first sequence of its own. (The stacker crane problem on a line: M. J. Atallah and S. R. Kosaraju
 * 1988. README.md beside this file has the sources.) */
#ifndef KNIFERAIL_PLAN_SWEEP_H
#define KNIFERAIL_PLAN_SWEEP_H

#include "moves.h"

#define SWEEPS_KEPT 3

struct sweeps {
    int n; /* at least 1 */
    int64_t us[SWEEPS_KEPT];
    int16_t sequence[SWEEPS_KEPT][MOVES_MAX]; /* the fastest first */
};

/* Makes the fastest sweeps, in both directions and with several places to stop at. */
void sweeps_make(const struct moves *moves, struct sweeps *sweeps, int64_t *steps);

#endif
