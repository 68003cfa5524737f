/* Cycles that began late by more than a period: how many, and the worst with its time, told in the log. */
#ifndef DAEMON_OVERRUNS_H
#define DAEMON_OVERRUNS_H

#include <stdint.h>

#define OVERRUNS_APART_US 60000000 /* between two lines: a computer that is too slow is told once a minute */

/* All 0: none yet. */
struct overruns {
    uint32_t count, told; /* since the start; of which the log has told */
    int64_t worst_us;     /* since the start: how late a cycle began */
    int64_t worst_utc_ms; /* and when it began */
    int64_t untold_us;    /* the worst of those that the log has not told */
    int64_t untold_utc_ms;
    int64_t told_us; /* when the log told of them, by clock_us() */
};

/* In each cycle. beats: of the cycle's timer since the cycle before, 1 or more. late_us: how late this cycle begins,
 * counted from the first of them. */
void overruns_beat(struct overruns *overruns, uint32_t beats, int64_t late_us);

#endif
