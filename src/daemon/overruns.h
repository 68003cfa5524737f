/* Counts the cycles that began late by more than a period, and logs their number, the longest delay and its time. */
#ifndef DAEMON_OVERRUNS_H
#define DAEMON_OVERRUNS_H

#include <stdint.h>

#define OVERRUNS_APART_US 60000000 /* on a computer that is too slow, the log says so once a minute */

/* All fields are 0 in the beginning. */
struct overruns {
    uint32_t count, told;  /* late cycles since the start, and how many of these the log has told */
    int64_t worst_us;      /* the longest delay since the start */
    int64_t worst_utc_ms;  /* when the cycle of that delay began */
    int64_t untold_us;     /* the longest delay of the cycles that the log has not told */
    int64_t untold_utc_ms; /* when the cycle of that delay began */
    int64_t told_us;       /* when the log last told of late cycles, by clock_us() */
};

/* Called in each cycle. beats: how often the cycle's timer was due since the last cycle, 1 or more. late_us: how late
 * this cycle begins, counted from the first of these times. */
void overruns_beat(struct overruns *overruns, uint32_t beats, int64_t late_us);

#endif
