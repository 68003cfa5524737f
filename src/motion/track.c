/* What a carriage's positions say: whether it stands, and whether one of them can't be true. */
#include "track.h"

#include "knowledge.h"
#include "signals.h"
#include "trip.h"

#define STILL_MS     100
#define STILL_UM     20
#define AGE_ERROR_US 2000 /* an image's age is in whole milliseconds, and so is its predecessor's */
#define STOPS_HARDER 5    /* a quick stop decelerates so much more than a move */

/* Bounds of what is reckoned with, whatever a drive or a clock says: products of the two fit 64 bits. No carriage is so
 * fast, and where one was so long ago says nothing of where it is. */
#define FASTEST_UM_PER_S INT64_C(100000000)
#define LONGEST_US       INT64_C(10000000000)

bool carriage_still(const struct rail *r)
{
    const struct kr_track *t = &r->m->track;
    return carriage_fresh(r) && t->sample_us / 1000 - t->still_since_ms >= STILL_MS;
}

void track_forget(const struct rail *r)
{
    r->m->track.n_samples = 0;
}

/* How far the carriage can be from where its last speed would have brought it. Without a speed: as far as it gets at
 * all. */
static int64_t leeway_um(const struct rail *r, int64_t between_us)
{
    const struct kr_rail_geometry *rail = r->in->rail;
    int64_t jump_um = r->in->carriage->jump_um;
    if (r->m->track.n_samples < 2)
        return jump_um + (int64_t)rail->empty.v_um_per_s * between_us / 1000000;
    int64_t speed = r->m->track.speed_um_per_s < 0 ? -r->m->track.speed_um_per_s : r->m->track.speed_um_per_s;
    int64_t change_um_per_s = (int64_t)STOPS_HARDER * rail->empty.a_um_per_s2 / 1000 * between_us / 1000;
    if (change_um_per_s > 2 * (int64_t)rail->empty.v_um_per_s)
        change_um_per_s = 2 * (int64_t)rail->empty.v_um_per_s;
    return jump_um + change_um_per_s * between_us / 1000000 + speed * AGE_ERROR_US / 1000000;
}

static int64_t bounded(int64_t value, int64_t most)
{
    return value > most ? most : value < -most ? -most : value;
}

static int32_t saturated(int64_t value)
{
    return (int32_t)(value > INT32_MAX ? INT32_MAX : value < INT32_MIN ? INT32_MIN : value);
}

/* The way of the jump is no speed: what comes next is held against the new place alone. */
static void jumped(const struct rail *r, int64_t off_um, int64_t limit_um)
{
    r->m->track.n_samples = 1;
    places_demote(r, KR_UNKNOWN);
    knowledge_of(r)->datum_doubted = true;
    knowledge_touch(r);
    carriage_trip(r, KR_ALARM_POSITION_JUMPED, r->m->docked, saturated(off_um), saturated(limit_um));
}

static void take_sample(const struct rail *r, int64_t sample_us)
{
    struct kr_track *t = &r->m->track;
    int64_t between_us = sample_us - t->sample_us, moved_um = (int64_t)axis_of(r)->position_um - t->at_um;
    if (t->n_samples > 0 && between_us > 0)
        t->speed_um_per_s = bounded(moved_um * 1000000 / between_us, FASTEST_UM_PER_S);
    if (t->n_samples < 2)
        t->n_samples++;
    t->answers = axis_of(r)->answers;
    t->sample_us = sample_us;
    t->at_um = axis_of(r)->position_um;
    int64_t off_um = (int64_t)t->at_um - t->still_um;
    if (off_um > STILL_UM || off_um < -STILL_UM) {
        t->still_um = t->at_um;
        t->still_since_ms = sample_us / 1000;
    }
}

/* Only images that are new count: an old one seen again says nothing of the time since. */
void track_step(const struct rail *r)
{
    const struct kr_axis_in *in = axis_of(r);
    struct kr_track *t = &r->m->track;
    int64_t sample_us = r->in->now_us - 1000LL * in->age_ms, between_us = sample_us - t->sample_us;
    if (t->n_samples > 0 && (in->answers == t->answers || between_us <= 0))
        return;
    between_us = bounded(between_us, LONGEST_US);
    int64_t expected_um = t->at_um + (t->n_samples == 2 ? t->speed_um_per_s * between_us / 1000000 : 0);
    int64_t off_um = in->position_um - expected_um, limit_um = leeway_um(r, between_us);
    bool looks = t->n_samples > 0 && in->referenced && r->m->phase != KR_CARRIAGE_HOMING;
    take_sample(r, sample_us);
    if (looks && (off_um > limit_um || off_um < -limit_um))
        jumped(r, off_um, limit_um);
}
