#ifndef KR_STATION_PLANNED_TIMES_H
#define KR_STATION_PLANNED_TIMES_H

#include "durable.h"

/* Maintenance requests that set the times of a rail that go into plans, or restore those before. Nothing moves by them
 * and nothing is doubted: plans that are made from then on take the new times. */
struct planned_times {
    struct kr_rail_times asked; /* from the last request that was written */
    struct times_kept was;      /* the times before the last accepted request */
};

bool times_own_kind(uint16_t kind);
void times_decode(const struct kr_snapshot *block, struct kr_format format, struct kr_rail_times *asked);
struct kr_result times_judge(const struct kr_edit *edit, const struct kr_rail_times *asked,
                             const struct kr_station_config *config, const struct kr_durable *durable);

/* times_take() applies an accepted request, and times_withdraw() restores what was before. */
void times_take(struct planned_times *times, const struct kr_edit *edit, struct kr_durable *durable);
void times_withdraw(const struct planned_times *times, const struct kr_edit *edit, struct kr_durable *durable);

/* Copies the times that are kept to the config, from which plans are made. */
void times_tell(struct kr_station_config *config, const struct kr_durable *durable);

#endif
