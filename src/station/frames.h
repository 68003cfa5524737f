#ifndef KR_STATION_FRAMES_H
#define KR_STATION_FRAMES_H

#include "durable.h"

/* Maintenance requests that set a rail's frame, or restore the one before. */
struct frames {
    struct kr_frame asked;   /* from the last request that was written */
    struct frame_kept was;   /* the frame before the last accepted request */
    int32_t found_scale_ppb; /* correction of the scale by references, before the last accepted request */
};

bool frames_own_kind(uint16_t kind);
void frames_decode(const struct kr_snapshot *block, struct kr_format format, struct kr_frame *asked);

/* Judges a request. told is the rail's carriage as in the station file, but with its frame: without corrections by
 * references. */
struct kr_result frames_judge(const struct kr_edit *edit, const struct kr_frame *asked,
                              const struct kr_rail_geometry *rail, const struct kr_carriage_config *told,
                              const struct kr_durable *durable);

/* frames_take() applies an accepted request, and frames_withdraw() restores what was before. */
void frames_take(struct frames *frames, const struct kr_edit *edit, struct kr_durable *durable);
void frames_withdraw(const struct frames *frames, const struct kr_edit *edit, struct kr_durable *durable);

/* Judges whether the rail's carriage with these settings reaches all places that it has to reach. */
struct kr_result frames_judge_reach(const struct kr_edit *edit, const struct kr_rail_geometry *rail,
                                    const struct kr_carriage_config *carriage);

/* Tells whether every rail's carriage reaches all places that it has to reach, by the frames and switch offsets in
 * force. */
bool frames_fit(const struct kr_station_config *config, const struct kr_durable *durable);

#endif
