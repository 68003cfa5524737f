/* Evaluates the positions of a carriage: whether it stands, and whether a position can't be true. */
#include "track.h"

#include "knowledge.h"
#include "signals.h"
#include "trip.h"

#define STILL_MS 100
#define STILL_UM 20
/* The age of an image is in whole milliseconds, and so is that of the image before. */
#define AGE_ERROR_US 2000
#define STOPS_HARDER 5 /* a quick stop decelerates at most this many times harder than a move */

/* Limits for speed and time, whatever a drive or a clock reports, so that products of the two fit in 64 bits. No
 * carriage is faster, and an older position tells nothing about the present one. */
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

static int64_t magnitude(int64_t v)
{
    return v < 0 ? -v : v;
}

static int64_t faster(const struct kr_track *t)
{
    int64_t slow = magnitude(t->slowest_um_per_s), fast = magnitude(t->fastest_um_per_s);
    return slow > fast ? slow : fast;
}

/* Returns the largest possible distance of the carriage from the place where its last speed would have brought it,
 * after the longest time that may have passed. Without a known speed it is the way at full speed. */
static int64_t leeway_um(const struct rail *r, int64_t longest_us)
{
    const struct kr_rail_geometry *rail = r->in->rail;
    int64_t jump_um = r->in->carriage->jump_um;
    if (r->m->track.n_samples < 2)
        return jump_um + (int64_t)rail->empty.v_um_per_s * longest_us / 1000000;
    int64_t change_um_per_s = (int64_t)STOPS_HARDER * rail->empty.a_um_per_s2 / 1000 * longest_us / 1000;
    if (change_um_per_s > 2 * (int64_t)rail->empty.v_um_per_s)
        change_um_per_s = 2 * (int64_t)rail->empty.v_um_per_s;
    return jump_um + change_um_per_s * longest_us / 1000000 + faster(&r->m->track) * AGE_ERROR_US / 1000000;
}

/* The places that the speeds between the last samples allow. Each sample may be later than its time by up to its span,
 * so that the time between them may be shorter or longer by that. */
struct reach {
    int64_t low_um, high_um;
};

static struct reach reach_of(const struct kr_track *t, int64_t between_us, int64_t span_us)
{
    if (t->n_samples < 2)
        return (struct reach){t->at_um, t->at_um};
    int64_t shortest_us = between_us > t->span_us ? between_us - t->span_us : 0, longest_us = between_us + span_us;
    int64_t slow = t->slowest_um_per_s, fast = t->fastest_um_per_s;
    return (struct reach){t->at_um + slow * (slow < 0 ? longest_us : shortest_us) / 1000000,
                          t->at_um + fast * (fast < 0 ? shortest_us : longest_us) / 1000000};
}

static int64_t bounded(int64_t value, int64_t most)
{
    return value > most ? most : value < -most ? -most : value;
}

/* No speed exceeds the carriage's own by more than a quick stop or a following error can cause. */
static int64_t possible(const struct rail *r, int64_t speed_um_per_s)
{
    return bounded(speed_um_per_s, 2 * (int64_t)r->in->rail->empty.v_um_per_s);
}

static void take_speed(const struct rail *r, int64_t moved_um, int64_t between_us, int64_t span_us)
{
    struct kr_track *t = &r->m->track;
    int64_t shortest_us = between_us - t->span_us, longest_us = between_us + span_us;
    if (t->span_us == 0 && span_us == 0) {
        t->slowest_um_per_s = t->fastest_um_per_s = bounded(moved_um * 1000000 / between_us, FASTEST_UM_PER_S);
        return;
    }
    int64_t least = moved_um * 1000000 / longest_us;
    int64_t most = shortest_us > 0 ? moved_um * 1000000 / shortest_us : moved_um * INT32_MAX;
    t->slowest_um_per_s = possible(r, least < most ? least : most);
    t->fastest_um_per_s = possible(r, least < most ? most : least);
}

static int32_t saturated(int64_t value)
{
    return (int32_t)(value > INT32_MAX ? INT32_MAX : value < INT32_MIN ? INT32_MIN : value);
}

/* The way of a jump is no speed, so that the next position is compared only with the new one. */
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
    const struct kr_axis_in *in = axis_of(r);
    int64_t between_us = sample_us - t->sample_us, moved_um = (int64_t)in->position_um - t->at_um;
    if (t->n_samples > 0 && between_us > 0)
        take_speed(r, moved_um, between_us, in->span_us);
    if (t->n_samples < 2)
        t->n_samples++;
    t->answers = in->answers;
    t->sample_us = sample_us;
    t->span_us = in->span_us;
    t->at_um = in->position_um;
    int64_t off_um = (int64_t)t->at_um - t->still_um;
    if (off_um > STILL_UM || off_um < -STILL_UM) {
        t->still_um = t->at_um;
        t->still_since_ms = sample_us / 1000;
    }
}

/* Only new images count: an old one tells nothing about the time since. */
void track_step(const struct rail *r)
{
    const struct kr_axis_in *in = axis_of(r);
    struct kr_track *t = &r->m->track;
    int64_t sample_us = r->in->now_us - 1000LL * in->age_ms, between_us = sample_us - t->sample_us;
    if (t->n_samples > 0 && (in->answers == t->answers || between_us <= 0))
        return;
    between_us = bounded(between_us, LONGEST_US);
    struct reach reach = reach_of(t, between_us, in->span_us);
    int64_t limit_um = leeway_um(r, between_us + in->span_us);
    int64_t over_um = in->position_um - reach.high_um, under_um = in->position_um - reach.low_um;
    bool looks = t->n_samples > 0 && in->referenced && r->m->phase != KR_CARRIAGE_HOMING;
    take_sample(r, sample_us);
    if (looks && (over_um > limit_um || under_um < -limit_um))
        jumped(r, over_um > limit_um ? over_um : under_um, limit_um);
}
