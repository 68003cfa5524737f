#ifndef KR_STATION_PERMIT_H
#define KR_STATION_PERMIT_H

#include "kniferail/station.h"

/* Heartbeat, control and permissives. A permissive from the PLC counts only while its heartbeat is fresh; after a start
 * and after a change of control the heartbeat has to be seen changing anew. */
struct permits {
    uint16_t plc_heartbeat;
    int64_t heartbeat_us; /* wall time of its last change, or of the last change of control */
    /* Since then: the longest time in which this program made no cycle, and saw no heartbeat; 0: it was less than half
     * of the limit. */
    int64_t own_gap_us;
    int64_t gap_us; /* the longest between two changes under the present control, own gaps left out */
    bool heartbeat_seen, heartbeat_fresh;
    uint32_t beats;    /* changes of the heartbeat, since the start; wraps */
    bool control_lost; /* since the last cycle */
    uint32_t control_generation;
    uint16_t given; /* permissives as they count */
};

#define ALL_PERMISSIVES 0x1Fu

void permit_step(struct permits *permits, const struct kr_station_config *config,
                 const struct kr_station_in *in, int64_t wall_us);

/* For how long the PLC has been silent, and for how long if this program's own gap is not held against it. */
int64_t permit_silent_us(const struct permits *permits, int64_t wall_us);
int64_t permit_plc_silent_us(const struct permits *permits, int64_t wall_us);

/* What a job needs in one of its phases; KR_PHASE_NONE: to start. */
uint16_t permit_needed(const struct kr_station_config *config, enum kr_job job, enum kr_phase phase);
uint16_t permit_missing(const struct permits *permits, uint16_t needed);

/* Where the station takes LINE_SPEED: it says that the line runs, and 'line stopped' is given all the same. */
bool permit_line_contradicts(const struct permits *permits, const struct kr_station_config *config,
                             uint16_t line_speed);
uint16_t permit_standing_speed(
    const struct kr_station_config *config); /* the most that a line that stands may show, in 0.1 m/min */

/* Whether hands may be at this rail's holders now: an access is open, or its drive has no power. */
bool permit_hands_may_reach(const struct permits *permits, const struct kr_station_config *config,
                            const struct kr_axis_in *axis);

#endif
