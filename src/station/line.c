#include "line.h"

#include "queue.h"

static bool all_clear(const struct rails *rails, const struct kr_station_config *config,
                      const struct kr_axis_in axis_of[])
{
    for (uint16_t r = 0; r < config->geometry.n_rails; r++) {
        const struct kr_motion *motion = &rails->motion[r];
        const struct kr_carriage_config *carriage = &config->carriage[r];
        const struct kr_axis_in *axis = &axis_of[r];
        if (!kr_motion_at_rest(motion) || !kr_motion_pin_is_out(axis) || !kr_motion_clamped(carriage, axis) ||
            !kr_motion_parked(motion, carriage, axis))
            return false;
    }
    return true;
}

uint16_t line_status(const struct kr_station *s)
{
    bool in_job = unit_in_job(s->unit.state);
    bool placed = s->placement.verified && s->planning.valid && s->durable.in_force && !in_job &&
                  all_clear(&s->rails, &s->config, s->in.axis);
    bool good = placed && s->permits.heartbeat_fresh && !s->in.book_failed &&
                !alarm_stops(&s->alarms, NULL) && s->unit.state != KR_STATE_ABORTED &&
                s->unit.state != KR_STATE_ABORTING;
    static const uint16_t allowed[] = {
        [EDGE_FOR_NOTHING] = 0,
        [EDGE_FOR_TEST_CUT] = KR_LINE_MAY_LOWER | KR_LINE_TEST_CUT,
        [EDGE_FOR_ALL] = KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER,
    };
    uint16_t status = in_job ? KR_LINE_RAISE : 0;
    return good ? (uint16_t)(status | allowed[edges_allow(view_of_edges(s))]) : status;
}

struct orders_shown orders_shown(const struct kr_station *s)
{
    if (s->starting.storing)
        return s->starting.before;
    return queue_shown(&s->durable, s->intake.step == INTAKE_STORING ? &s->intake.before : NULL);
}
