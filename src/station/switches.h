#ifndef KR_STATION_SWITCHES_H
#define KR_STATION_SWITCHES_H

#include "durable.h"

/* Maintenance requests that set a rail's switch offset and scan bias, or take that back. */
struct switches {
    struct kr_switch asked; /* by the request that was written last */
    struct switch_kept was; /* before the one that was accepted last */
    int32_t found_um;       /* the same: what references and dragged holders had found of its offset */
};

bool switches_own_kind(uint16_t kind);
void switches_decode(const struct kr_snapshot *block, struct kr_format format, struct kr_switch *asked);

/* The rail's carriage without what references have found. */
struct kr_result switches_judge(const struct kr_edit *edit, const struct kr_switch *asked,
                                const struct kr_rail_geometry *rail, const struct kr_carriage_config *told,
                                const struct kr_durable *durable);

/* Of an accepted one; switches_withdraw() brings back what was before. */
void switches_take(struct switches *switches, const struct kr_edit *edit, struct kr_durable *durable);
void switches_withdraw(const struct switches *switches, const struct kr_edit *edit,
                       struct kr_durable *durable);

#endif
