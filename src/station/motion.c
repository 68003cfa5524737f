/* What a carriage's positions say: whether it stands, and whether one of them can't be true. */
#include "state.h"

#define STILL_MS     100
#define STILL_UM     20
#define AGE_ERROR_US 2000 /* an image's age is in whole milliseconds, and so is its predecessor's */
#define STOPS_HARDER 5    /* a quick stop decelerates so much more than a move */

bool carriage_still(const struct kr_station *s, const struct carriage *c)
{
    const struct motion *m = &c->motion;
    return carriage_fresh(s, c) && m->sample_us / 1000 - m->still_since_ms >= STILL_MS;
}

void motion_forget(struct carriage *c)
{
    c->motion.n_samples = 0;
}

/* How far the carriage can be from where its last speed would have brought it. Without a speed: as far as it gets at
 * all. */
static int64_t leeway_um(const struct kr_station *s, const struct carriage *c, int64_t between_us)
{
    const struct kr_rail_geometry *rail = &s->config.geometry.rail[c->rail];
    int64_t jump_um = s->config.carriage[c->rail].jump_um;
    if (c->motion.n_samples < 2)
        return jump_um + (int64_t)rail->empty.v_um_per_s * between_us / 1000000;
    int64_t speed = c->motion.speed_um_per_s < 0 ? -c->motion.speed_um_per_s : c->motion.speed_um_per_s;
    int64_t change_um_per_s = (int64_t)STOPS_HARDER * rail->empty.a_um_per_s2 / 1000 * between_us / 1000;
    if (change_um_per_s > 2 * (int64_t)rail->empty.v_um_per_s)
        change_um_per_s = 2 * (int64_t)rail->empty.v_um_per_s;
    return jump_um + change_um_per_s * between_us / 1000000 + speed * AGE_ERROR_US / 1000000;
}

static int32_t saturated(int64_t value)
{
    return (int32_t)(value > INT32_MAX ? INT32_MAX : value < INT32_MIN ? INT32_MIN : value);
}

static void jumped(struct kr_station *s, struct carriage *c, int64_t off_um, int64_t limit_um)
{
    holders_demote(s, c->rail, KR_UNKNOWN);
    s->durable.datum_doubted[c->rail] = 1;
    durable_touch(s);
    carriage_trip(s, c, KR_ALARM_POSITION_JUMPED, c->docked, saturated(off_um), saturated(limit_um));
}

static void take_sample(struct kr_station *s, struct carriage *c, int64_t sample_us)
{
    struct motion *m = &c->motion;
    int64_t between_us = sample_us - m->sample_us, moved_um = (int64_t)axis_of(s, c)->position_um - m->at_um;
    if (m->n_samples > 0 && between_us > 0)
        m->speed_um_per_s = moved_um * 1000000 / between_us;
    if (m->n_samples < 2)
        m->n_samples++;
    m->answers = axis_of(s, c)->answers;
    m->sample_us = sample_us;
    m->at_um = axis_of(s, c)->position_um;
    if (m->at_um > m->still_um + STILL_UM || m->at_um < m->still_um - STILL_UM) {
        m->still_um = m->at_um;
        m->still_since_ms = sample_us / 1000;
    }
}

/* Only images that are new count: an old one seen again says nothing of the time since. */
void motion_step(struct kr_station *s, struct carriage *c)
{
    const struct kr_axis_in *in = axis_of(s, c);
    struct motion *m = &c->motion;
    int64_t sample_us = s->now_us - 1000LL * in->age_ms, between_us = sample_us - m->sample_us;
    if (m->n_samples > 0 && (in->answers == m->answers || between_us <= 0))
        return;
    int64_t expected_um = m->at_um + (m->n_samples == 2 ? m->speed_um_per_s * between_us / 1000000 : 0);
    int64_t off_um = in->position_um - expected_um, limit_um = leeway_um(s, c, between_us);
    bool looks = m->n_samples > 0 && in->referenced && c->phase != KR_CARRIAGE_HOMING;
    take_sample(s, c, sample_us);
    if (looks && (off_um > limit_um || off_um < -limit_um))
        jumped(s, c, off_um, limit_um);
}
