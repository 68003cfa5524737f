#ifndef KR_STATION_DURABLE_H
#define KR_STATION_DURABLE_H

#include "kniferail/station.h"

/* What must survive a power cut. No other file of this part writes a field of struct kr_durable: each function here
 * makes one change and lets the serial grow. */

void durable_begin(struct kr_durable *d, const struct kr_durable *stored); /* a start is a change, too */
void durable_touch(struct kr_durable *d);

/* Whether what has this serial is stored. */
bool durable_stored(const struct kr_station_in *in, uint32_t serial);

/* A slow book only makes things wait, and one that fails says so; one that does neither is noticed by this. */
struct storing {
    uint32_t seen;    /* committed serial, as last seen */
    int64_t grown_us; /* wall time at which it grew, or nothing waited */
};
int64_t durable_waits_ms(struct storing *storing, const struct kr_durable *d, const struct kr_station_in *in,
                         int64_t wall_us);

/* ---- holders --------------------------------------------------------------------------------------------------- */

void durable_take_rail(struct kr_durable *d, uint16_t rail, uint16_t n_holders,
                       const struct kr_rail_knowledge *known);
void durable_count_retry(struct kr_durable *d, uint16_t rail, uint16_t holder);
uint32_t metres_sum(uint32_t metres, uint32_t more);
void durable_add_metres(struct kr_durable *d, const struct kr_geometry *geometry, const struct kr_plan *plan,
                        uint32_t metres); /* to every holder that cuts in the plan */

/* A holder's data without its place, which its rail knows. */
void durable_set_holder(struct kr_durable *d, uint16_t rail, uint16_t holder,
                        const struct kr_holder_data *data);
void durable_set_offset(struct kr_durable *d, uint16_t rail, uint16_t holder,
                        int32_t edge_offset_um); /* nobody has proven that edge yet */
void durable_set_edge(struct kr_durable *d, uint16_t rail, uint16_t holder, enum kr_edge edge);

bool holder_present(const struct kr_holder_data *holder);

/* ---- what was proven: see kr_durable ----------------------------------------------------------------------------- */

void durable_count_access(struct kr_durable *d, uint16_t n_rails,
                          uint16_t access_count); /* places are known under it */
void durable_prove(struct kr_durable *d, uint16_t rail, uint32_t settings, uint16_t inputs,
                   const struct kr_plan_rail *plan);
void durable_disprove(struct kr_durable *d, uint16_t rail);
void durable_only_remember(struct kr_durable *d, uint16_t rail); /* places, and no proof */

/* ---- where a rail lies in the machine's frame ------------------------------------------------------------------- */

/* What a request changes. */
struct frame_kept {
    uint8_t origin;
    struct kr_frame frame, before;
};
void durable_seed_frames(struct kr_durable *d,
                         const struct kr_station_config *config); /* those that are not yet */
struct frame_kept durable_frame(const struct kr_durable *d, uint16_t rail);
void durable_set_frame(struct kr_durable *d, uint16_t rail, const struct frame_kept *is);

/* ---- where a rail's proximity switch is ------------------------------------------------------------------------- */

/* What a request changes. */
struct switch_kept {
    uint8_t origin;
    struct kr_switch is, before;
};
void durable_seed_switches(struct kr_durable *d,
                           const struct kr_station_config *config); /* those that are not yet */
struct switch_kept durable_switch(const struct kr_durable *d, uint16_t rail);
void durable_set_switch(struct kr_durable *d, uint16_t rail, const struct switch_kept *is);

/* ---- orders that wait ------------------------------------------------------------------------------------------ */

/* What a request can change. */
struct waiting {
    uint8_t staged;
    uint16_t n_queued;
    struct kr_order staged_order, queue[KR_QUEUE_MAX], recipe;
};

void durable_keep_waiting(const struct kr_durable *d, uint16_t recipe_number,
                          struct waiting *before); /* 0: no recipe changes */
void durable_restore_waiting(struct kr_durable *d, uint16_t recipe, const struct waiting *before);

void durable_stage(struct kr_durable *d, const struct kr_order *order);
void durable_queue(struct kr_durable *d,
                   const struct kr_order *order); /* behind the others, of which there are few enough */
void durable_move_up(struct kr_durable *d);       /* the staged order is gone; the next one takes its place */
void durable_clear_waiting(struct kr_durable *d);
void durable_keep_recipe(struct kr_durable *d, uint16_t recipe, const struct kr_order *order);
void durable_drop_recipe(struct kr_durable *d, uint16_t recipe);
void durable_start_staged(struct kr_durable *d); /* it comes into force, the next one moves up */

/* ---- what was answered ----------------------------------------------------------------------------------------- */

void durable_set_verdict(struct kr_durable *d, const struct kr_verdict *verdict);
void durable_set_edit(struct kr_durable *d, const struct kr_edit *edit);
void durable_set_knife_event(struct kr_durable *d, const struct kr_knife_event *event);
void durable_verified(struct kr_durable *d);                   /* VERIFIED has risen */
void durable_fell(struct kr_durable *d, uint32_t line_metres); /* VERIFIED has fallen, at that LINE_METRES */
void durable_set_record(struct kr_durable *d, const struct kr_record *record);

#endif
