#ifndef KR_STATION_FRAMES_H
#define KR_STATION_FRAMES_H

#include "durable.h"

/* Maintenance requests that set where a rail lies in the machine's frame, or take that back. */
struct frames {
    struct kr_frame asked;   /* by the request that was written last */
    struct frame_kept was;   /* before the one that was accepted last */
    int32_t found_scale_ppb; /* the same: what references had found of its scale */
};

bool frames_own_kind(uint16_t kind);
void frames_decode(const struct kr_snapshot *block, struct kr_format format, struct kr_frame *asked);

/* The rail's carriage as the station file tells it, but for its frame: without what references have found. */
struct kr_result frames_judge(const struct kr_edit *edit, const struct kr_frame *asked,
                              const struct kr_rail_geometry *rail, const struct kr_carriage_config *told,
                              const struct kr_durable *durable);

/* Of an accepted one; frames_withdraw() brings back what was before. */
void frames_take(struct frames *frames, const struct kr_edit *edit, struct kr_durable *durable);
void frames_withdraw(const struct frames *frames, const struct kr_edit *edit, struct kr_durable *durable);

/* Whether the rail's carriage, told so, reaches all that it has to. */
struct kr_result frames_judge_reach(const struct kr_edit *edit, const struct kr_rail_geometry *rail,
                                    const struct kr_carriage_config *carriage);

/* Whether every rail's carriage reaches all that it has to, by the frames and switch offsets that count. */
bool frames_fit(const struct kr_station_config *config, const struct kr_durable *durable);

#endif
