#ifndef KR_STATION_PERMIT_H
#define KR_STATION_PERMIT_H

#include "kniferail/station.h"

/* Heartbeat, control and permissives. A permissive from the PLC counts only while the PLC's heartbeat is fresh. After a
 * start and after a change of control, the heartbeat must be seen to change again. */
struct permits {
    uint16_t plc_heartbeat;
    int64_t heartbeat_us; /* wall time of its last change, or of the last change of control */
    /* The longest time since then in which this program made no cycle and saw no heartbeat; 0: less than half of the
     * limit. */
    int64_t own_gap_us;
    /* The longest time between two changes under the present control, without this program's own gaps. */
    int64_t gap_us;
    bool heartbeat_seen, heartbeat_fresh;
    uint32_t beats;    /* number of changes of the heartbeat since the start; wraps */
    bool control_lost; /* control was lost since the last cycle */
    uint32_t control_generation;
    uint16_t given; /* permissives in force */
};

#define ALL_PERMISSIVES 0x1Fu

void permit_step(struct permits *permits, const struct kr_station_config *config, const struct kr_station_in *in,
                 int64_t wall_us);

/* These return how long the PLC has been silent; the second one does not count this program's own gap. */
int64_t permit_silent_us(const struct permits *permits, int64_t wall_us);
int64_t permit_plc_silent_us(const struct permits *permits, int64_t wall_us);

/* Returns the permissives that a job needs in a phase; KR_PHASE_NONE: for its start. */
uint16_t permit_needed(const struct kr_station_config *config, enum kr_job job, enum kr_phase phase);
uint16_t permit_missing(const struct permits *permits, uint16_t needed);

/* If the station uses LINE_SPEED, tells whether it shows a running line while 'line stopped' is given. */
bool permit_line_contradicts(const struct permits *permits, const struct kr_station_config *config,
                             uint16_t line_speed);
/* The largest LINE_SPEED of a line that stands, in 0.1 m/min. */
uint16_t permit_standing_speed(const struct kr_station_config *config);

/* Tells whether hands may be at this rail's holders now, because an access is open or the drive has no power. */
bool permit_hands_may_reach(const struct permits *permits, const struct kr_station_config *config,
                            const struct kr_axis_in *axis);

#endif
