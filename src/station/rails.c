/* The station's rails: what each is told in a cycle, and what the station takes over from it. */
#include "state.h"

#include <string.h>

struct kr_motion_in rail_in(const struct kr_station *s, uint16_t r)
{
    return (struct kr_motion_in){
        .geometry = &s->config.geometry,
        .rail = &s->config.geometry.rail[r],
        .carriage = &s->config.carriage[r],
        .holder = s->rail_holder[r],
        .deadband_um = s->config.deadband_um,
        .axis = &s->in.axis[r],
        .n_axes = 1,
        .now_us = s->now_us,
        .serial = s->serial,
        .change = s->durable.serial + 1,
        .stored = s->in.committed_serial,
        .mode = KR_MOTION_STOP,
        .reduced = s->job.reduced,
        .jog_wanted = jog_wanted(s),
        .move = s->plan.rail[r].move,
        .n_moves = s->plan.rail[r].n_moves,
    };
}

/* ---- what a rail knows is stored -------------------------------------------------------------------------------- */

static struct kr_rail_knowledge stored_knowledge(const struct kr_station *s, uint16_t r)
{
    const struct kr_durable *d = &s->durable;
    struct kr_rail_knowledge known = {
        .docking = d->docking[r],
        .clamp_open = d->clamp_open[r],
        .datum_doubted = d->datum_doubted[r],
    };
    for (uint16_t i = 0; i < KR_HOLDERS_MAX; i++)
        known.place[i] = (struct kr_place){d->holder[r][i].position_um, d->holder[r][i].known, 0};
    return known;
}

static void take_knowledge(struct kr_station *s, uint16_t r, const struct kr_rail_knowledge *known)
{
    struct kr_durable *d = &s->durable;
    uint16_t places = (uint16_t)(known->places_changed - s->places_seen[r]);
    for (uint16_t i = 0; i < s->config.geometry.rail[r].n_holders; i++) {
        d->holder[r][i].position_um = known->place[i].position_um;
        d->holder[r][i].known = known->place[i].known;
    }
    d->docking[r] = known->docking;
    d->clamp_open[r] = known->clamp_open;
    d->datum_doubted[r] = known->datum_doubted;
    d->serial = known->generation;
    s->known_generation[r] = known->generation;
    s->places_seen[r] = known->places_changed;
    positions_changed(s, places);
}

void rail_learned(struct kr_station *s, uint16_t r)
{
    const struct kr_rail_knowledge *known = kr_motion_knowledge(&s->motion[r]);
    if (known->generation != s->known_generation[r])
        take_knowledge(s, r, known);
}

void rail_holder_changed(struct kr_station *s, uint16_t r, uint16_t h)
{
    const struct kr_holder_data *data = &s->durable.holder[r][h];
    s->rail_holder[r][h] = (struct kr_rail_holder){data->holder_class, data->state};
}

void rails_init(struct kr_station *s)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        for (uint16_t i = 0; i < KR_HOLDERS_MAX; i++)
            rail_holder_changed(s, r, i);
        struct kr_rail_knowledge stored = stored_knowledge(s, r);
        struct kr_motion_in in = rail_in(s, r);
        kr_motion_init(&s->motion[r], &in, &stored);
        take_knowledge(s, r, kr_motion_knowledge(&s->motion[r]));
    }
}

void rail_doubt(struct kr_station *s, uint16_t r, enum kr_known at_most)
{
    struct kr_motion_in in = rail_in(s, r);
    kr_motion_doubt(&s->motion[r], &in, at_most);
    rail_learned(s, r);
}

/* ---- a cycle ---------------------------------------------------------------------------------------------------- */

static void count_retry(struct kr_station *s, uint16_t r, uint16_t holder)
{
    struct kr_holder_data *data = &s->durable.holder[r][holder - 1];
    uint16_t notice = s->config.carriage[r].retries_notice;
    if (data->dock_retries < UINT16_MAX)
        data->dock_retries++;
    s->record.rail[r].retries++;
    durable_touch(s);
    if (notice && data->dock_retries == notice)
        alarm_raise(s, (struct kr_alarm){KR_ALARM_MANY_RETRIES, (uint16_t)(r + 1), holder, notice, notice});
}

static void count_move(struct kr_station *s, uint16_t r)
{
    struct kr_record_rail *record = &s->record.rail[r];
    if (s->job.correcting)
        record->corrections++;
    else
        record->moves++;
    s->moves_done[r]++;
}

void rail_events(struct kr_station *s, uint16_t r, const struct kr_motion_out *out)
{
    rail_learned(s, r);
    for (uint16_t i = 0; i < out->n_events; i++) {
        struct kr_motion_event event = out->event[i];
        event.alarm.rail = (uint16_t)(r + 1);
        switch (event.kind) {
        case KR_EVENT_ALARM: alarm_raise(s, event.alarm); break;
        case KR_EVENT_RETRY: count_retry(s, r, event.holder); break;
        case KR_EVENT_MOVED: count_move(s, r); break;
        }
    }
}

void rails_step(struct kr_station *s, enum kr_motion_mode mode, bool resets_faults)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        struct kr_motion_in in = rail_in(s, r);
        struct kr_motion_out out;
        in.mode = mode;
        in.resets_faults = resets_faults;
        out.n_events = 0;
        kr_motion_step(&s->motion[r], &in, &out);
        rail_events(s, r, &out);
    }
}

/* ---- questions ---------------------------------------------------------------------------------------------------- */

bool rail_pin_is_out(const struct kr_station *s, uint16_t r)
{
    struct kr_motion_in in = rail_in(s, r);
    return kr_motion_pin_is_out(&in);
}

bool rail_clamped(const struct kr_station *s, uint16_t r)
{
    struct kr_motion_in in = rail_in(s, r);
    return kr_motion_clamped(&in);
}

bool rail_has_datum(const struct kr_station *s, uint16_t r)
{
    struct kr_motion_in in = rail_in(s, r);
    return kr_motion_has_datum(&s->motion[r], &in);
}

bool rail_parked(const struct kr_station *s, uint16_t r)
{
    struct kr_motion_in in = rail_in(s, r);
    return kr_motion_parked(&s->motion[r], &in);
}
