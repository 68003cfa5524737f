/* A station's story in the log, as it happens and at a level of its own: what `kniferail trace show` tells of a file,
 * made by the same functions. */
#ifndef DAEMON_STORY_LOG_H
#define DAEMON_STORY_LOG_H

#include "kniferail/bucket.h"
#include "kniferail/trace.h"

struct story_log {
    const char *name; /* of the station; borrowed */
    uint16_t n_rails;
    enum kr_length_unit length_unit;
    bool on;
    struct kr_story story;
    struct kr_buckets buckets; /* lines are limited: the simulated machine may run a thousand times as fast */
    uint64_t now_ms;           /* of this cycle, by clock_us(); utc_ms of the step is the story's */
};

/* config: name, geometry and unit; the name is borrowed. Nothing is told yet. */
void story_log_open(struct story_log *log, const struct kr_station_config *config);

/* What happened before it is switched on is not told. What is waited for when it is switched off is told as that. */
void story_log_switch(struct story_log *log, bool on);

/* After each step of the station. Costs nothing while it is off. */
void story_log_step(struct story_log *log, const struct kr_station_in *in,
                    const struct kr_station_steps *steps);

#endif
