#ifndef KR_STATION_SWITCHES_H
#define KR_STATION_SWITCHES_H

#include "durable.h"

/* Maintenance requests that set a rail's switch offset and scan bias, or restore those before. */
struct switches {
    struct kr_switch asked; /* from the last request that was written */
    struct switch_kept was; /* the switch before the last accepted request */
    /* Correction of the offset by references and dragged holders, before the last accepted request. */
    int32_t found_um;
};

bool switches_own_kind(uint16_t kind);
void switches_decode(const struct kr_snapshot *block, struct kr_format format, struct kr_switch *asked);

/* Judges a request. told is the rail's carriage without corrections by references. */
struct kr_result switches_judge(const struct kr_edit *edit, const struct kr_switch *asked,
                                const struct kr_rail_geometry *rail, const struct kr_carriage_config *told,
                                const struct kr_durable *durable);

/* switches_take() applies an accepted request, and switches_withdraw() restores what was before. */
void switches_take(struct switches *switches, const struct kr_edit *edit, struct kr_durable *durable);
void switches_withdraw(const struct switches *switches, const struct kr_edit *edit, struct kr_durable *durable);

#endif
