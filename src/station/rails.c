#include "rails.h"

#include "durable.h"
#include "job_traits.h"
#include "permit.h"
#include "planned_times.h"
#include "state.h"

struct kr_motion_in rail_in(const struct kr_station *s, uint16_t r)
{
    return (struct kr_motion_in){
        .geometry = &s->config.geometry,
        .rail = &s->config.geometry.rail[r],
        .carriage = &s->config.carriage[r],
        .carriages = s->config.carriage,
        .holder = s->rails.holder[r],
        .deadband_um = s->config.deadband_um,
        .axis = &s->in.axis[r],
        .n_axes = 1,
        .now_us = s->clock.now_us,
        .serial = s->clock.serial,
        .change = s->durable.serial + 1,
        .stored = s->in.committed_serial,
        .mode = KR_MOTION_STOP,
        .reduced = s->job.reduced,
        .guarded = !permit_hands_may_reach(&s->permits, &s->config, &s->in.axis[r]),
        .jog_wanted = jog_wanted(&s->jog, s->in.jog_direction, s->clock.wall_us),
        .gauge_holder = job_traits(s->job.kind)->plan == JOB_PLAN_DRAG ? s->job.holder : 0,
        .gauge_way = s->job.way,
        .drags_straight = job_traits(s->job.kind)->plan == JOB_PLAN_DRAG,
        .try_output = s->job.output,
        .move = s->planning.plan.rail[r].move,
        .n_moves = s->planning.plan.rail[r].n_moves,
    };
}

uint16_t rails_flags_known(const struct kr_station *s)
{
    unsigned known = 0;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        known |= (unsigned)kr_motion_flags_known(&s->rails.motion[r], &in) << r;
    }
    return (uint16_t)known;
}

/* ---- what a rail knows is stored ------------------------------------------------------------------------------- */

static struct kr_rail_knowledge stored_knowledge(const struct kr_durable *d, uint16_t r)
{
    struct kr_rail_knowledge known = {
        .docking = d->docking[r],
        .clamp_open = d->clamp_open[r],
        .datum_doubted = d->datum_doubted[r],
        .rests = d->rests[r],
        .rest_um = d->rest_um[r],
        .shift_um = d->shift_um[r],
        .references = d->references[r],
    };
    for (uint16_t i = 0; i < KR_HOLDERS_MAX; i++)
        known.place[i] = (struct kr_place){.position_um = d->holder[r][i].position_um,
                                           .known = d->holder[r][i].known,
                                           .was_known = d->holder[r][i].was_known,
                                           .origin = d->holder[r][i].origin};
    return known;
}

static void tell_switch(struct kr_carriage_config *told, const struct kr_switch *is)
{
    told->switch_offset_um = is->offset_um;
    told->scan_bias_um = is->bias_um;
}

void rails_told(struct rails *rails, struct kr_station_config *config, const struct kr_durable *durable)
{
    times_tell(config, durable);
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++) {
        rails->told[r] = config->carriage[r];
        rails->told[r].frame = durable->frame[r];
        tell_switch(&rails->told[r], &durable->of_switch[r]);
        kr_carriage_correct(&rails->told[r], &durable->references[r].correction, &config->carriage[r]);
    }
}

static void take_knowledge(struct kr_station *s, uint16_t r, const struct kr_rail_knowledge *known)
{
    struct rails *rails = &s->rails;
    /* The scan that says so went on only because somebody had acknowledged the alarm. A person's confirmation is no
     * scan: then the alarm waits for Unhold. */
    if (s->durable.shift_um[r] != 0 && known->shift_um == 0 && !known->shift_confirmed)
        alarms_end_shift(&s->alarms, (uint16_t)(r + 1));
    durable_take_rail(&s->durable, r, s->config.geometry.rail[r].n_holders, known);
    kr_carriage_correct(&rails->told[r], &known->references.correction, &s->config.carriage[r]);
    verify_places_changed(&s->placement, (uint16_t)(known->places_changed - rails->places_seen[r]));
    rails->generation[r] = known->generation;
    rails->places_seen[r] = known->places_changed;
}

void rail_learned(struct kr_station *s, uint16_t r)
{
    const struct kr_rail_knowledge *known = kr_motion_knowledge(&s->rails.motion[r]);
    if (known->generation != s->rails.generation[r])
        take_knowledge(s, r, known);
}

void rail_holder_changed(struct rails *rails, const struct kr_durable *durable, uint16_t r, uint16_t h)
{
    const struct kr_holder_data *data = &durable->holder[r][h];
    rails->holder[r][h] = (struct kr_rail_holder){data->holder_size, data->state};
}

void rails_init(struct kr_station *s)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        for (uint16_t i = 0; i < KR_HOLDERS_MAX; i++)
            rail_holder_changed(&s->rails, &s->durable, r, i);
        struct kr_rail_knowledge stored = stored_knowledge(&s->durable, r);
        struct kr_motion_in in = rail_in(s, r);
        kr_motion_init(&s->rails.motion[r], &in, &stored);
        take_knowledge(s, r, kr_motion_knowledge(&s->rails.motion[r]));
    }
}

void rail_doubt(struct kr_station *s, uint16_t r, enum rail_doubt how)
{
    struct kr_motion_in in = rail_in(s, r);
    switch (how) {
    case DOUBT_TO_STAY: kr_motion_doubt(&s->rails.motion[r], &in, KR_REMEMBERED); break;
    case DOUBT_FOR_NOW: kr_motion_doubt_for_now(&s->rails.motion[r], &in); break;
    case DOUBT_IS_OVER: kr_motion_doubt_over(&s->rails.motion[r], &in); break;
    }
    rail_learned(s, r);
}

void rail_told(struct kr_station *s, uint16_t r, uint16_t holder_number, int32_t position_um, enum kr_known known)
{
    struct kr_motion_in in = rail_in(s, r);
    kr_motion_told(&s->rails.motion[r], &in, holder_number, position_um, known);
    rail_learned(s, r);
}

void rail_confirmed(struct kr_station *s, uint16_t r, enum kr_edit_kind what, bool is_right, int32_t before)
{
    struct kr_motion_in in = rail_in(s, r);
    if (what == KR_EDIT_DATUM)
        kr_motion_confirm_datum(&s->rails.motion[r], &in, is_right);
    else if (what == KR_EDIT_SHIFT)
        kr_motion_confirm_shift(&s->rails.motion[r], &in, is_right, before);
    else {
        s->rails.told[r].frame = s->durable.frame[r];
        tell_switch(&s->rails.told[r], &s->durable.of_switch[r]);
        if (what == KR_EDIT_FRAME || what == KR_EDIT_FRAME_BACK)
            kr_motion_frame_taken(&s->rails.motion[r], &in, is_right ? 0 : before);
        else
            kr_motion_switch_taken(&s->rails.motion[r], &in, is_right ? 0 : before);
        verify_forget(&s->placement);
    }
    /* The places were measured by another frame, switch or datum, so that a scan must come before the next move. Where
     * remembered places are accepted, only an unknown place makes a scan due. */
    if (s->config.scan_policy == KR_SCAN_UNKNOWN)
        kr_motion_doubt(&s->rails.motion[r], &in, KR_UNKNOWN);
    rail_learned(s, r);
}

/* ---- a cycle --------------------------------------------------------------------------------------------------- */

static void count_retry(struct kr_station *s, uint16_t r, uint16_t holder_number)
{
    uint16_t notice = s->config.carriage[r].retries_notice;
    durable_count_retry(&s->durable, r, (uint16_t)(holder_number - 1));
    s->record.rail[r].retries++;
    if (notice && s->durable.holder[r][holder_number - 1].dock_retries == notice)
        alarm_raise(&s->alarms,
                    (struct kr_alarm){KR_ALARM_MANY_RETRIES, (uint16_t)(r + 1), holder_number, notice, notice});
}

static void count_move(struct kr_record_rail *record, bool correcting, uint16_t *moves_done)
{
    if (correcting)
        record->corrections++;
    else
        record->moves++;
    ++*moves_done;
}

void rail_events(struct kr_station *s, uint16_t r, const struct kr_motion_out *out)
{
    rail_learned(s, r);
    for (uint16_t i = 0; i < out->n_events; i++) {
        struct kr_motion_event event = out->event[i];
        event.alarm.rail = (uint16_t)(r + 1);
        switch (event.kind) {
        case KR_EVENT_ALARM: alarm_raise(&s->alarms, event.alarm); break;
        case KR_EVENT_STANDS: alarm_list(&s->alarms, event.alarm); break;
        case KR_EVENT_RETRY: count_retry(s, r, event.holder); break;
        case KR_EVENT_MOVED: count_move(&s->record.rail[r], s->job.correcting, &s->rails.moves_done[r]); break;
        }
    }
}

bool rails_at_rest(const struct rails *rails, uint16_t n_rails)
{
    for (uint16_t r = 0; r < n_rails; r++)
        if (!kr_motion_at_rest(&rails->motion[r]))
            return false;
    return true;
}

void rails_take_back(struct rails *rails)
{
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        kr_motion_take_back(&rails->motion[r]);
}

static bool scan_is_due_but_for(const struct kr_station_config *config, const struct kr_durable *durable,
                                uint16_t rails, const uint16_t moved[KR_RAILS_MAX])
{
    enum kr_known least = config->scan_policy == KR_SCAN_UNKNOWN ? KR_REMEMBERED : KR_PLACED;
    for (uint16_t r = 0; r < config->geometry.n_rails; r++)
        if (rails >> r & 1 && durable->shift_um[r] != 0)
            return true;
    for (uint16_t r = 0; r < config->geometry.n_rails; r++)
        for (uint16_t i = 0; i < config->geometry.rail[r].n_holders; i++)
            if (rails >> r & 1 && holder_present(&durable->holder[r][i]) && durable->holder[r][i].known < least &&
                moved[r] != i + 1)
                return true;
    return false;
}

bool scan_is_due(const struct kr_station_config *config, const struct kr_durable *durable, uint16_t rails)
{
    static const uint16_t none[KR_RAILS_MAX];
    return scan_is_due_but_for(config, durable, rails, none);
}

bool scan_is_shown_due(const struct kr_station_config *config, const struct kr_durable *durable,
                       enum kr_unit_state state)
{
    return state == KR_STATE_EXECUTE ? scan_is_due_but_for(config, durable, ANY_RAIL, durable->docking)
                                     : scan_is_due(config, durable, ANY_RAIL);
}
