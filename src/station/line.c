#include "line.h"

#include "unit_state.h"

static bool is_clear(const struct line_view *v, uint16_t r)
{
    const struct kr_motion *motion = &v->rails->motion[r];
    const struct kr_carriage_config *carriage = &v->config->carriage[r];
    const struct kr_axis_in *axis = &v->axis[r];
    return kr_motion_at_rest(motion) && kr_motion_pin_is_out(axis) && kr_motion_clamped(carriage, axis) &&
           kr_motion_parked(motion, carriage, axis);
}

/* A carriage that can't be seen now was clear when it was last seen; otherwise nothing would be set aside. */
static bool all_clear(const struct line_view *v, bool unseen_too)
{
    for (uint16_t r = 0; r < v->config->geometry.n_rails; r++)
        if (!is_clear(v, r) && !(unseen_too && hands_unseen(v->hands, r)))
            return false;
    return true;
}

static bool in_force(const struct line_view *v)
{
    return v->edges.planning->valid && v->edges.durable->in_force && !unit_in_job(v->state) &&
           v->state != KR_STATE_ABORTED && v->state != KR_STATE_ABORTING;
}

/* Returns the signals that are allowed now, if everything is proven. */
static uint16_t allowed_now(const struct line_view *v)
{
    static const uint16_t allowed[] = {
        [EDGE_FOR_NOTHING] = 0,
        [EDGE_FOR_TEST_CUT] = KR_LINE_MAY_LOWER | KR_LINE_TEST_CUT,
        [EDGE_FOR_ALL] = KR_LINE_MAY_START | KR_LINE_MAY_LOWER,
    };
    bool proven = v->placement->verified && in_force(v) && all_clear(v, false) && v->permits->heartbeat_fresh &&
                  !v->book_failed && !alarm_stops(v->alarms, NULL);
    return proven ? allowed[edges_allow(v->edges)] : 0;
}

/* An alarm or a failing book moves no knife: a line that runs may go on, but may not be started again before they
 * end. */
static bool nothing_has_moved(const struct line_view *v)
{
    return verify_may_return(v->placement) && in_force(v) && all_clear(v, true) &&
           edges_allow(v->edges) == EDGE_FOR_ALL;
}

void line_step(struct line *line, const struct line_view *v)
{
    uint16_t now = allowed_now(v);
    line->may_go_on = now & KR_LINE_MAY_START || (line->may_go_on && nothing_has_moved(v));
    bool heard = v->permits->heartbeat_fresh && hands_excuse(v->hands);
    line->status = (uint16_t)(now | (line->may_go_on && heard ? KR_LINE_MAY_RUN : 0u) |
                              (unit_in_job(v->state) ? KR_LINE_RAISE : 0u));
}
