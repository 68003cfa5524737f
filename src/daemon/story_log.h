/* Logs a station's story as it happens, at a log level of its own. The same functions tell it as in `kniferail trace
 * show`. */
#ifndef DAEMON_STORY_LOG_H
#define DAEMON_STORY_LOG_H

#include "kniferail/bucket.h"
#include "kniferail/trace.h"

struct story_log {
    const char *name; /* the station's; borrowed */
    uint16_t n_rails;
    enum kr_length_unit length_unit;
    bool on;
    struct kr_story story;
    struct kr_buckets buckets; /* they limit the lines: the simulated machine may run a thousand times as fast */
    uint64_t now_ms;           /* time of this cycle, by clock_us(); the story itself uses utc_ms of the step */
};

/* Takes name, geometry and unit from config; the name is borrowed. Logs nothing yet. */
void story_log_open(struct story_log *log, const struct kr_station_config *config);

/* Switches the story on or off. It begins with the events after switching on. If something is being waited for at the
 * moment of switching off, the log says so. */
void story_log_switch(struct story_log *log, bool on);

/* Called after each step of the station. Costs nothing while the story is off. */
void story_log_step(struct story_log *log, const struct kr_station_in *in, const struct kr_station_steps *steps);

#endif
