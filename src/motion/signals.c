/* Evaluates the inputs of a rail, and limits its speeds. */
#include "signals.h"

bool carriage_fresh(const struct rail *r)
{
    return axis_of(r)->link && (int32_t)(axis_of(r)->answers - r->m->proof) >= 0;
}

static bool input(const struct kr_axis_in *axis, uint16_t on, uint16_t off)
{
    return axis->link && (axis->inputs & on) == on && (axis->inputs & off) == 0;
}

bool carriage_input(const struct rail *r, uint16_t on, uint16_t off)
{
    return input(axis_of(r), on, off);
}

bool input_proven(const struct rail *r, uint16_t on, uint16_t off)
{
    return carriage_fresh(r) && carriage_input(r, on, off);
}

bool kr_motion_pin_is_out(const struct kr_axis_in axis[])
{
    return input(&axis[0], KR_DI_PIN_OUT, KR_DI_PIN_IN);
}

bool pin_is_out(const struct rail *r)
{
    return kr_motion_pin_is_out(r->in->axis);
}

bool pin_is_in(const struct rail *r)
{
    return carriage_input(r, KR_DI_PIN_IN, KR_DI_PIN_OUT);
}

bool kr_motion_jog_enabled(const struct kr_axis_in axis[])
{
    return input(&axis[0], KR_DI_JOG_ENABLE, 0);
}

bool kr_motion_clamped(const struct kr_carriage_config *carriage, const struct kr_axis_in axis[])
{
    if (carriage->clamping == KR_CLAMP_PER_HOLDER)
        return true;
    return input(&axis[0], KR_DI_CLAMP_CLOSED, KR_DI_CLAMP_OPEN);
}

bool carriage_clamped(const struct rail *r)
{
    return kr_motion_clamped(r->in->carriage, r->in->axis);
}

bool within_travel(const struct kr_carriage_config *carriage, int32_t at_um)
{
    int64_t margin_um = carriage->travel_margin_um;
    return at_um >= carriage->travel_min_um - margin_um && at_um <= carriage->travel_max_um + margin_um;
}

/* A drive whose position jumped still reports that it is referenced. It is not believed until it is homed. */
static bool claims_datum(const struct kr_motion *motion, const struct kr_axis_in *axis)
{
    return axis->link && axis->referenced && !motion->knowledge.datum_doubted;
}

bool kr_motion_has_datum(const struct kr_motion *motion, const struct kr_carriage_config *carriage,
                         const struct kr_axis_in axis[])
{
    return claims_datum(motion, &axis[0]) && within_travel(carriage, axis[0].position_um);
}

bool kr_motion_is_implausible(const struct kr_motion *motion, const struct kr_carriage_config *carriage,
                              const struct kr_axis_in axis[])
{
    return claims_datum(motion, &axis[0]) && !within_travel(carriage, axis[0].position_um);
}

bool carriage_has_datum(const struct rail *r)
{
    return kr_motion_has_datum(r->m, r->in->carriage, r->in->axis);
}

bool kr_motion_parked(const struct kr_motion *motion, const struct kr_carriage_config *carriage,
                      const struct kr_axis_in axis[])
{
    int64_t off_um = (int64_t)kr_frame_place_um(&carriage->frame, axis[0].position_um) - carriage->park_um;
    int32_t window_um = carriage->park_window_um;
    return kr_motion_has_datum(motion, carriage, axis) && off_um >= -window_um && off_um <= window_um;
}

bool kr_motion_rests_clear(const struct kr_motion *motion, const struct kr_carriage_config *carriage,
                           const struct kr_axis_in axis[])
{
    return motion->phase == KR_CARRIAGE_OFF && motion->rest_compared && kr_motion_pin_is_out(axis) &&
           kr_motion_clamped(carriage, axis) && kr_motion_parked(motion, carriage, axis);
}

bool phase_is_late(const struct rail *r, int32_t limit_ms)
{
    return now_ms(r) - r->m->since_ms >= limit_ms;
}

struct kr_speed kr_setup_speed(const struct kr_carriage_config *carriage, struct kr_speed full, bool reduced)
{
    if (reduced && full.v_um_per_s > carriage->setup_speed_um_per_s)
        full.v_um_per_s = carriage->setup_speed_um_per_s;
    return full;
}

struct kr_speed limited_speed(const struct rail *r, struct kr_speed full)
{
    return kr_setup_speed(r->in->carriage, full, r->in->reduced);
}
