/* The knowledge of the rail, and all its changes. The grade of a position rises only by a scan, by a proven release, or
 * when a temporary doubt ends. */
#include "knowledge.h"

#include <string.h>

struct kr_rail_knowledge *knowledge_of(const struct rail *r)
{
    return &r->m->knowledge;
}

void knowledge_touch(const struct rail *r)
{
    r->m->knowledge.generation = r->in->change;
}

bool kr_holder_on_rail(uint8_t state)
{
    return state != KR_HOLDER_ABSENT;
}

bool is_on_rail(const struct rail *r, uint16_t index)
{
    return kr_holder_on_rail(r->in->holder[index].state);
}

/* Afterwards, the end of a temporary doubt restores no grade above at_most. */
static void forget_before(const struct rail *r, struct kr_place *place, enum kr_known at_most)
{
    if (place->was_known <= at_most)
        return;
    place->was_known = 0;
    knowledge_touch(r);
}

void place_set(const struct rail *r, uint16_t holder_number, int32_t position_um, enum kr_known how)
{
    struct kr_place *place = &knowledge_of(r)->place[holder_number - 1];
    forget_before(r, place, KR_UNKNOWN);
    if (place->position_um == position_um && place->known == how)
        return;
    place->position_um = position_um;
    place->known = (uint8_t)how;
    knowledge_of(r)->places_changed++;
    knowledge_touch(r);
}

void place_scanned(const struct rail *r, uint16_t holder_number, int32_t position_um, enum kr_known how)
{
    knowledge_of(r)->place[holder_number - 1].origin = KR_ORIGIN_SCANNED;
    place_set(r, holder_number, position_um, how);
}

void place_released(const struct rail *r, uint16_t holder_number, int32_t position_um)
{
    knowledge_of(r)->place[holder_number - 1].origin = KR_ORIGIN_RELEASED;
    place_set(r, holder_number, position_um, KR_PLACED);
}

void shift_set(const struct rail *r, int32_t shift_um)
{
    if (knowledge_of(r)->shift_um == shift_um)
        return;
    knowledge_of(r)->shift_um = shift_um;
    knowledge_touch(r);
}

void places_demote(const struct rail *r, enum kr_known at_most)
{
    for (uint16_t i = 0; i < r->in->rail->n_holders; i++) {
        struct kr_place *place = &knowledge_of(r)->place[i];
        forget_before(r, place, at_most);
        if (place->known > at_most && is_on_rail(r, i))
            place_set(r, (uint16_t)(i + 1), place->position_um, at_most);
    }
}

void docking_over(const struct rail *r)
{
    if (knowledge_of(r)->docking == 0)
        return; /* there is nothing to store */
    knowledge_of(r)->docking = 0;
    knowledge_touch(r);
}

void kr_motion_doubt(struct kr_motion *motion, const struct kr_motion_in *in, enum kr_known at_most)
{
    places_demote(&(struct rail){motion, in, NULL}, at_most);
}

void kr_motion_doubt_for_now(struct kr_motion *motion, const struct kr_motion_in *in)
{
    struct rail r = {motion, in, NULL};
    for (uint16_t i = 0; i < in->rail->n_holders; i++) {
        struct kr_place *place = &knowledge_of(&r)->place[i];
        uint8_t known = place->known;
        if (known <= KR_REMEMBERED || !is_on_rail(&r, i))
            continue;
        place_set(&r, (uint16_t)(i + 1), place->position_um, KR_REMEMBERED);
        place->was_known = known;
    }
}

void kr_motion_doubt_over(struct kr_motion *motion, const struct kr_motion_in *in)
{
    struct rail r = {motion, in, NULL};
    for (uint16_t i = 0; i < in->rail->n_holders; i++) {
        const struct kr_place *place = &knowledge_of(&r)->place[i];
        if (place->was_known > place->known && is_on_rail(&r, i))
            place_set(&r, (uint16_t)(i + 1), place->position_um, (enum kr_known)place->was_known);
    }
}

void kr_motion_told(struct kr_motion *motion, const struct kr_motion_in *in, uint16_t holder_number,
                    int32_t position_um, enum kr_known at_most)
{
    struct rail r = {motion, in, NULL};
    struct kr_place *place = &knowledge_of(&r)->place[holder_number - 1];
    place->position_um = position_um;
    place->known = (uint8_t)(at_most < KR_REMEMBERED ? at_most : KR_REMEMBERED);
    place->origin = KR_ORIGIN_TOLD;
    place->was_known = 0;
    knowledge_touch(&r);
}

void kr_motion_geometry_changed(struct kr_motion *motion, const struct kr_motion_in *in)
{
    places_demote(&(struct rail){motion, in, NULL}, KR_REMEMBERED);
    for (uint16_t i = 0; i < KR_HOLDERS_MAX; i++)
        motion->knowledge.place[i].flag_width_um = 0;
    motion->knowledge.references.seen = 0;
    memset(motion->knowledge.references.width_um, 0, sizeof motion->knowledge.references.width_um);
    motion->knowledge.settings_changed = true;
    motion->gauge = (struct kr_gauge){0};
}

/* References have not moved. If the next scan finds them off from the last scan by more than a step, they contradict
 * the new setting. That must raise an alarm, and must not be added silently to the datum. */
static void calibration_taken(struct kr_motion *motion, const struct kr_motion_in *in)
{
    uint8_t seen = motion->knowledge.references.seen;
    kr_motion_geometry_changed(motion, in);
    motion->knowledge.references.seen = seen;
}

void kr_motion_frame_taken(struct kr_motion *motion, const struct kr_motion_in *in, int32_t found_scale_ppb)
{
    calibration_taken(motion, in);
    motion->knowledge.references.correction.scale_ppb = found_scale_ppb;
    knowledge_touch(&(struct rail){motion, in, NULL});
}

void kr_motion_switch_taken(struct kr_motion *motion, const struct kr_motion_in *in, int32_t found_um)
{
    struct kr_gauge gauge = motion->gauge; /* the measurements of the switch stay valid */
    calibration_taken(motion, in);
    motion->gauge = gauge;
    motion->knowledge.references.correction.switch_um = found_um;
    knowledge_touch(&(struct rail){motion, in, NULL});
}

bool kr_motion_expand(struct kr_motion *motion, const struct kr_motion_in *in, int32_t expansion_ppb)
{
    struct kr_rail_knowledge *known = &motion->knowledge;
    int32_t before_ppb = known->references.correction.expansion_ppb;
    if (before_ppb == expansion_ppb)
        return false;
    for (uint16_t i = 0; i < in->rail->n_holders; i++) {
        int32_t at_20_um = kr_expanded_um(known->place[i].position_um, kr_expansion_back_ppb(before_ppb));
        known->place[i].position_um = kr_expanded_um(at_20_um, expansion_ppb);
    }
    known->places_changed++;
    known->references.correction.expansion_ppb = expansion_ppb;
    knowledge_touch(&(struct rail){motion, in, NULL});
    return true;
}

void kr_motion_confirm_shift(struct kr_motion *motion, const struct kr_motion_in *in, bool is_right, int32_t shift_um)
{
    motion->knowledge.shift_confirmed = is_right;
    motion->knowledge.confirmed_um = shift_um;
    shift_set(&(struct rail){motion, in, NULL}, is_right ? 0 : shift_um);
}

/* Hands may have moved holders that were measured or placed before this start. The position of a holder that was in
 * motion is unknown. */
void kr_motion_init(struct kr_motion *motion, const struct kr_motion_in *in, const struct kr_rail_knowledge *stored)
{
    struct rail r = {motion, in, NULL};
    *motion = (struct kr_motion){.knowledge = *stored, .docked = stored->docking};
    for (uint16_t i = 0; i < in->rail->n_holders; i++) {
        struct kr_place *place = &knowledge_of(&r)->place[i];
        place->flag_width_um = 0;
        if (place->known <= KR_REMEMBERED)
            continue;
        place->was_known = place->known;
        place->known = KR_REMEMBERED;
    }
    if (stored->docking) {
        knowledge_of(&r)->place[stored->docking - 1].known = KR_UNKNOWN;
        knowledge_of(&r)->place[stored->docking - 1].was_known = 0;
    }
    if (stored->clamp_open)
        places_demote(&r, KR_UNKNOWN);
    knowledge_of(&r)->clamp_open = false;
    knowledge_touch(&r);
}

const struct kr_rail_knowledge *kr_motion_knowledge(const struct kr_motion *motion)
{
    return &motion->knowledge;
}
