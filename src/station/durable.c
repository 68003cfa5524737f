#include "durable.h"

#include <string.h>

void durable_begin(struct kr_durable *d, const struct kr_durable *stored)
{
    *d = *stored;
    durable_touch(d);
}

void durable_touch(struct kr_durable *d)
{
    d->serial++;
}

bool durable_stored(const struct kr_station_in *in, uint32_t serial)
{
    return (int32_t)(in->committed_serial - serial) >= 0;
}

int64_t durable_waits_ms(struct storing *storing, const struct kr_durable *d, const struct kr_station_in *in,
                         int64_t wall_us)
{
    if (durable_stored(in, d->serial) || in->committed_serial != storing->seen)
        storing->grown_us = wall_us;
    storing->seen = in->committed_serial;
    return (wall_us - storing->grown_us) / 1000;
}

/* ---- holders --------------------------------------------------------------------------------------------------- */

void durable_take_rail(struct kr_durable *d, uint16_t rail, uint16_t n_holders, const struct kr_rail_knowledge *known)
{
    for (uint16_t i = 0; i < n_holders; i++) {
        d->holder[rail][i].position_um = known->place[i].position_um;
        d->holder[rail][i].known = known->place[i].known;
        d->holder[rail][i].origin = known->place[i].origin;
        d->holder[rail][i].was_known = known->place[i].was_known;
    }
    d->docking[rail] = known->docking;
    d->clamp_open[rail] = known->clamp_open;
    d->datum_doubted[rail] = known->datum_doubted;
    d->rests[rail] = known->rests;
    d->rest_um[rail] = known->rest_um;
    d->shift_um[rail] = known->shift_um;
    d->references[rail] = known->references;
    d->serial = known->generation; /* the rail already has the next number */
}

void durable_count_retry(struct kr_durable *d, uint16_t rail, uint16_t holder)
{
    uint16_t *retries = &d->holder[rail][holder].dock_retries;
    if (*retries < UINT16_MAX)
        ++*retries;
    durable_touch(d);
}

/* Adds metres. The sum stops at the greatest number, because a wrap to 0 would make a worn knife look new. */
uint32_t metres_sum(uint32_t metres, uint32_t more)
{
    return more < UINT32_MAX - metres ? metres + more : UINT32_MAX;
}

void durable_add_metres(struct kr_durable *d, const struct kr_geometry *geometry, const struct kr_plan *plan,
                        uint32_t metres)
{
    for (uint16_t r = 0; r < geometry->n_rails; r++)
        for (uint16_t h = 0; h < geometry->rail[r].n_holders; h++)
            if (plan->rail[r].holder[h].cut != 0)
                d->holder[r][h].metres = metres_sum(d->holder[r][h].metres, metres);
    d->cut_metres = metres_sum(d->cut_metres, metres);
    durable_touch(d);
}

void durable_set_holder(struct kr_durable *d, uint16_t rail, uint16_t holder, const struct kr_holder_data *data)
{
    struct kr_holder_data *is = &d->holder[rail][holder], was = *is;
    *is = *data;
    is->position_um = was.position_um;
    is->known = was.known;
    is->origin = was.origin;
    is->was_known = was.was_known;
    is->cut = was.cut;
    durable_touch(d);
}

void durable_set_offset(struct kr_durable *d, uint16_t rail, uint16_t holder, int32_t edge_offset_um)
{
    struct kr_holder_data *is = &d->holder[rail][holder];
    is->edge_offset_um = edge_offset_um;
    is->edge = is->edge == KR_EDGE_STRUCK ? KR_EDGE_STRUCK : KR_EDGE_UNPROVEN;
    durable_touch(d);
}

void durable_set_edge(struct kr_durable *d, uint16_t rail, uint16_t holder, enum kr_edge edge)
{
    d->holder[rail][holder].edge = (uint8_t)edge;
    durable_touch(d);
}

/* ---- proofs ------------------------------------------------------------------------------------------------------ */

void durable_count_access(struct kr_durable *d, uint16_t n_rails, uint16_t access_count)
{
    for (uint16_t r = 0; r < n_rails; r++) {
        if (d->access_count[r] == access_count)
            continue;
        d->access_count[r] = access_count;
        durable_touch(d);
    }
}

void durable_prove(struct kr_durable *d, uint16_t rail, uint32_t settings, uint16_t inputs,
                   const struct kr_plan_rail *plan)
{
    d->proof[rail] = settings;
    d->proof_inputs[rail] = inputs;
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++)
        d->holder[rail][h].cut = plan->holder[h].cut;
    durable_touch(d);
}

void durable_only_remember(struct kr_durable *d, uint16_t rail)
{
    d->proof[rail] = 0;
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++) {
        struct kr_holder_data *holder = &d->holder[rail][h];
        holder->known = holder->known > KR_REMEMBERED ? KR_REMEMBERED : holder->known;
        holder->was_known = 0;
    }
    durable_touch(d);
}

void durable_disprove(struct kr_durable *d, uint16_t rail)
{
    d->proof[rail] = 0;
    durable_touch(d);
}

bool holder_present(const struct kr_holder_data *holder)
{
    return kr_holder_on_rail(holder->state);
}

/* ---- the frame of a rail ----------------------------------------------------------------------------------------- */

void durable_seed_frames(struct kr_durable *d, const struct kr_station_config *config)
{
    for (uint16_t r = 0; r < config->geometry.n_rails; r++) {
        if (d->frame_origin[r] != KR_FRAME_FROM_NONE)
            continue;
        d->frame_origin[r] = KR_FRAME_FROM_FILE;
        d->frame[r] = config->carriage[r].frame;
    }
}

struct frame_kept durable_frame(const struct kr_durable *d, uint16_t rail)
{
    return (struct frame_kept){d->frame_origin[rail], d->frame[rail], d->frame_before[rail]};
}

void durable_set_frame(struct kr_durable *d, uint16_t rail, const struct frame_kept *is)
{
    d->frame_origin[rail] = is->origin;
    d->frame[rail] = is->frame;
    d->frame_before[rail] = is->before;
    durable_touch(d);
}

/* ---- the proximity switch of a rail ------------------------------------------------------------------------------ */

void durable_seed_switches(struct kr_durable *d, const struct kr_station_config *config)
{
    for (uint16_t r = 0; r < config->geometry.n_rails; r++) {
        const struct kr_carriage_config *carriage = &config->carriage[r];
        if (d->switch_origin[r] != KR_FRAME_FROM_NONE)
            continue;
        d->switch_origin[r] = KR_FRAME_FROM_FILE;
        d->of_switch[r] = (struct kr_switch){carriage->switch_offset_um, carriage->scan_bias_um};
    }
}

struct switch_kept durable_switch(const struct kr_durable *d, uint16_t rail)
{
    return (struct switch_kept){d->switch_origin[rail], d->of_switch[rail], d->switch_before[rail]};
}

void durable_set_switch(struct kr_durable *d, uint16_t rail, const struct switch_kept *is)
{
    d->switch_origin[rail] = is->origin;
    d->of_switch[rail] = is->is;
    d->switch_before[rail] = is->before;
    durable_touch(d);
}

/* ---- the planned times of a rail --------------------------------------------------------------------------------- */

void durable_seed_times(struct kr_durable *d, const struct kr_station_config *config)
{
    for (uint16_t r = 0; r < config->geometry.n_rails; r++) {
        const struct kr_rail_geometry *rail = &config->geometry.rail[r];
        if (d->times_origin[r] != KR_FRAME_FROM_NONE)
            continue;
        d->times_origin[r] = KR_FRAME_FROM_FILE;
        d->times[r] = (struct kr_rail_times){rail->dock_us, rail->undock_us, rail->setpoint_us, rail->rounding_us};
    }
}

struct times_kept durable_times(const struct kr_durable *d, uint16_t rail)
{
    return (struct times_kept){d->times_origin[rail], d->times[rail], d->times_before[rail]};
}

void durable_set_times(struct kr_durable *d, uint16_t rail, const struct times_kept *is)
{
    d->times_origin[rail] = is->origin;
    d->times[rail] = is->is;
    d->times_before[rail] = is->before;
    durable_touch(d);
}

/* ---- waiting orders ---------------------------------------------------------------------------------------------- */

static bool is_recipe(uint16_t recipe)
{
    return recipe >= 1 && recipe <= KR_RECIPES_MAX;
}

void durable_keep_waiting(const struct kr_durable *d, uint16_t recipe, struct waiting *before)
{
    before->staged = d->staged;
    before->n_queued = d->n_queued;
    before->staged_order = d->staged_order;
    memcpy(before->queue, d->queue, sizeof before->queue);
    if (is_recipe(recipe))
        before->recipe = d->recipe[recipe - 1];
}

void durable_restore_waiting(struct kr_durable *d, uint16_t recipe, const struct waiting *before)
{
    d->staged = before->staged;
    d->n_queued = before->n_queued;
    d->staged_order = before->staged_order;
    memcpy(d->queue, before->queue, sizeof before->queue);
    if (is_recipe(recipe))
        d->recipe[recipe - 1] = before->recipe;
    durable_touch(d);
}

void durable_stage(struct kr_durable *d, const struct kr_order *order)
{
    d->staged = 1;
    d->staged_order = *order;
    durable_touch(d);
}

void durable_queue(struct kr_durable *d, const struct kr_order *order)
{
    d->queue[d->n_queued++] = *order;
    durable_touch(d);
}

void durable_move_up(struct kr_durable *d)
{
    d->staged = d->n_queued > 0;
    if (d->staged) {
        d->staged_order = d->queue[0];
        d->n_queued--;
        memmove(&d->queue[0], &d->queue[1], d->n_queued * sizeof d->queue[0]);
    }
    durable_touch(d);
}

void durable_clear_waiting(struct kr_durable *d)
{
    d->staged = 0;
    d->n_queued = 0;
    durable_touch(d);
}

void durable_keep_recipe(struct kr_durable *d, uint16_t recipe, const struct kr_order *order)
{
    d->recipe[recipe - 1] = *order;
    durable_touch(d);
}

void durable_drop_recipe(struct kr_durable *d, uint16_t recipe)
{
    d->recipe[recipe - 1].n_slits = 0;
    durable_touch(d);
}

void durable_start_staged(struct kr_durable *d)
{
    d->order = d->staged_order;
    d->in_force = 1;
    durable_move_up(d);
}

/* ---- answers ----------------------------------------------------------------------------------------------------- */

void durable_set_verdict(struct kr_durable *d, const struct kr_verdict *verdict)
{
    d->verdict = *verdict;
    durable_touch(d);
}

void durable_set_test_cut(struct kr_durable *d, const struct kr_test_cut *test_cut)
{
    d->test_cut = *test_cut;
    durable_touch(d);
}

void durable_set_knife_event(struct kr_durable *d, const struct kr_knife_event *event)
{
    d->knife_event = *event;
    durable_touch(d);
}

void durable_set_edit(struct kr_durable *d, const struct kr_edit *edit)
{
    d->edit = *edit;
    durable_touch(d);
}

void durable_verified(struct kr_durable *d)
{
    d->was_verified = 1;
    durable_touch(d);
}

void durable_fell(struct kr_durable *d, uint32_t line_metres)
{
    d->was_verified = 0;
    d->fell = 1;
    d->fell_metres = line_metres;
    durable_touch(d);
}

void durable_set_record(struct kr_durable *d, const struct kr_record *record)
{
    d->record = *record;
    durable_touch(d);
}
