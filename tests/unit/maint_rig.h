/* What maintenance does to a rig: requests in the EDIT block, written as a client would write them. */
#ifndef KR_TESTS_MAINT_RIG_H
#define KR_TESTS_MAINT_RIG_H

#include "rig.h"

/* Of the block EDIT; lengths in micrometres. */
struct edit_values {
    uint16_t rail, holder; /* from 1 */
    uint16_t holder_class;
    int32_t edge_offset_um, position_um;
};

/* The next number of this test, then runs until it is judged and stored; returns the published result code. */
enum kr_code rig_edit(struct rig *rig, enum kr_edit_kind kind, struct edit_values values);
enum kr_code rig_edit_numbered(struct rig *rig, uint16_t session, enum kr_edit_kind kind, uint16_t number,
                               struct edit_values values);

/* A test cut of n strips, widths in micrometres; 0: not measured. kind says whether it stands with those before. */
enum kr_code rig_test_cut(struct rig *rig, enum kr_edit_kind kind, const int32_t width_um[], uint16_t n);

/* A Start with all that it can carry; returns the result code. */
struct start_values {
    enum kr_job job;
    uint16_t rail, holder, speed;
    int32_t position_um;
};
enum kr_code rig_start_job(struct rig *rig, struct start_values values);

/* An order of n equal slits, staged and set up until the unit is Complete; fails the test if it isn't verified. */
void rig_set_up(struct rig *rig, uint32_t number, uint16_t n_slits, int32_t width_um);

/* Reset and Start of a changeover, until Complete; fails the test if it isn't verified. */
void rig_set_up_again(struct rig *rig);

uint16_t rig_moves(const struct rig *rig); /* of the last record, on all rails */
const struct kr_holder_data *rig_holder(const struct rig *rig, uint16_t rail, uint16_t holder); /* from 1 */
uint16_t rig_cut_of(const struct rig *rig, uint16_t rail, uint16_t holder);                     /* 0: idle */
uint16_t rig_holder_of_cut(const struct rig *rig, uint16_t rail, uint16_t cut);

/* What hands do while the guards are open: the simulated machine alone learns of it. The guards are opened and closed
 * again around it. */
void rig_take_off(struct rig *rig, uint16_t rail, uint16_t holder);
void rig_put_on(struct rig *rig, uint16_t rail, uint16_t holder, int32_t at_um);

#endif
