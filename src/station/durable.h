#ifndef KR_STATION_DURABLE_H
#define KR_STATION_DURABLE_H

#include "kniferail/station.h"

/* Changes what must survive a power cut. No other file of this part writes a field of struct kr_durable: each function
 * here makes one change, and the serial grows. */

/* A start is a change, and the serial grows. */
void durable_begin(struct kr_durable *d, const struct kr_durable *stored);
void durable_touch(struct kr_durable *d);

/* Tells whether the state with this serial is stored. */
bool durable_stored(const struct kr_station_in *in, uint32_t serial);

/* Watches the book. A slow book only makes things wait, and a book that fails reports that. A book that does neither is
 * noticed here. */
struct storing {
    uint32_t seen;    /* the committed serial when last seen */
    int64_t grown_us; /* wall time at which the serial grew, or at which nothing waited */
};
int64_t durable_waits_ms(struct storing *storing, const struct kr_durable *d, const struct kr_station_in *in,
                         int64_t wall_us);

/* ---- holders --------------------------------------------------------------------------------------------------- */

void durable_take_rail(struct kr_durable *d, uint16_t rail, uint16_t n_holders, const struct kr_rail_knowledge *known);
void durable_count_retry(struct kr_durable *d, uint16_t rail, uint16_t holder);
uint32_t metres_sum(uint32_t metres, uint32_t more);
void durable_add_metres(struct kr_durable *d, const struct kr_geometry *geometry, const struct kr_plan *plan,
                        uint32_t metres); /* adds to every holder that cuts in the plan */

/* Sets a holder's data without its position, which belongs to its rail. */
void durable_set_holder(struct kr_durable *d, uint16_t rail, uint16_t holder, const struct kr_holder_data *data);
/* The new edge is not proven. A knife that was struck stays struck: nobody has looked at it. */
void durable_set_offset(struct kr_durable *d, uint16_t rail, uint16_t holder, int32_t edge_offset_um);
void durable_set_edge(struct kr_durable *d, uint16_t rail, uint16_t holder, enum kr_edge edge);

bool holder_present(const struct kr_holder_data *holder);

/* ---- proofs: see kr_durable -------------------------------------------------------------------------------------- */

/* The positions are known under this ACCESS_COUNT. */
void durable_count_access(struct kr_durable *d, uint16_t n_rails, uint16_t access_count);
void durable_prove(struct kr_durable *d, uint16_t rail, uint32_t settings, uint16_t inputs,
                   const struct kr_plan_rail *plan);
void durable_disprove(struct kr_durable *d, uint16_t rail);
/* Keeps the positions as remembered, without a proof. */
void durable_only_remember(struct kr_durable *d, uint16_t rail);

/* ---- the frame of a rail ---------------------------------------------------------------------------------------- */

/* What a request changes. */
struct frame_kept {
    uint8_t origin;
    struct kr_frame frame, before;
};
/* Those that are not yet. */
void durable_seed_frames(struct kr_durable *d, const struct kr_station_config *config);
struct frame_kept durable_frame(const struct kr_durable *d, uint16_t rail);
void durable_set_frame(struct kr_durable *d, uint16_t rail, const struct frame_kept *is);

/* ---- the proximity switch of a rail ----------------------------------------------------------------------------- */

/* What a request changes. */
struct switch_kept {
    uint8_t origin;
    struct kr_switch is, before;
};
/* Those that are not yet. */
void durable_seed_switches(struct kr_durable *d, const struct kr_station_config *config);
struct switch_kept durable_switch(const struct kr_durable *d, uint16_t rail);
void durable_set_switch(struct kr_durable *d, uint16_t rail, const struct switch_kept *is);

/* ---- the planned times of a rail -------------------------------------------------------------------------------- */

/* What a request changes. */
struct times_kept {
    uint8_t origin;
    struct kr_rail_times is, before;
};
/* Those that are not yet. */
void durable_seed_times(struct kr_durable *d, const struct kr_station_config *config);
struct times_kept durable_times(const struct kr_durable *d, uint16_t rail);
void durable_set_times(struct kr_durable *d, uint16_t rail, const struct times_kept *is);

/* ---- waiting orders --------------------------------------------------------------------------------------------- */

/* The waiting orders that a request can change. */
struct waiting {
    uint8_t staged;
    uint16_t n_queued;
    struct kr_order staged_order, queue[KR_QUEUE_MAX], recipe;
};

/* Copies the waiting orders, for durable_restore_waiting(). recipe_number is 0 if no recipe changes. */
void durable_keep_waiting(const struct kr_durable *d, uint16_t recipe_number, struct waiting *before);
void durable_restore_waiting(struct kr_durable *d, uint16_t recipe, const struct waiting *before);

void durable_stage(struct kr_durable *d, const struct kr_order *order);
/* Adds an order to the queue, which must have room for it. */
void durable_queue(struct kr_durable *d, const struct kr_order *order);
void durable_move_up(struct kr_durable *d); /* the next order takes the place of the staged one */
void durable_clear_waiting(struct kr_durable *d);
void durable_keep_recipe(struct kr_durable *d, uint16_t recipe, const struct kr_order *order);
void durable_drop_recipe(struct kr_durable *d, uint16_t recipe);
/* The staged order comes into force, and the next one moves up. */
void durable_start_staged(struct kr_durable *d);

/* ---- answers ----------------------------------------------------------------------------------------------------- */

void durable_set_verdict(struct kr_durable *d, const struct kr_verdict *verdict);
void durable_set_edit(struct kr_durable *d, const struct kr_edit *edit);
void durable_set_test_cut(struct kr_durable *d, const struct kr_test_cut *test_cut);
void durable_set_knife_event(struct kr_durable *d, const struct kr_knife_event *event);
void durable_verified(struct kr_durable *d); /* VERIFIED has become 1 */
/* VERIFIED has become 0, at this LINE_METRES. */
void durable_fell(struct kr_durable *d, uint32_t line_metres);
void durable_set_record(struct kr_durable *d, const struct kr_record *record);

#endif
