#include "hands.h"

/* A drive that connects again may need this time until it shows its inputs and its datum. */
#define RETURN_LIMIT_MS 2000

/* The first write after a silence may have been made before the cause ended, and delayed on its way. */
#define RETURN_BEATS 2

#define STANDS \
    (KR_DI_PIN_IN | KR_DI_PIN_OUT | KR_DI_BRAKE_OPEN | KR_DI_BRAKE_CLOSED | KR_DI_CLAMP_OPEN | KR_DI_CLAMP_CLOSED)

static bool is_seen(const struct kr_axis_in *axis)
{
    return axis->link && axis->statusword & KR_SW_VOLTAGE_ENABLED;
}

static bool rests_clear(const struct hands_view *v, uint16_t r)
{
    return is_seen(&v->axis[r]) && kr_motion_rests_clear(&v->rails->motion[r], &v->config->carriage[r], &v->axis[r]);
}

static bool access_is_open(const struct hands_view *v)
{
    return permit_missing(v->permits, v->config->access) != 0;
}

/* Tells whether an access was counted, or whether the PLC no longer counts, so that it is unknown what happened. */
static bool was_counted(const struct hands_view *v, uint16_t r)
{
    uint16_t known = v->durable->access_count[r];
    return v->permits->heartbeat_fresh && known != 0 && v->access_count != known;
}

/* A refused drive is another drive, or another gateway works it. A gateway that stood still has not seen whether the
 * power failed. */
static bool may_turn_out_well(const struct hands_rail *h, const struct hands_view *v, uint16_t r, bool open, bool seen)
{
    bool stood_still = v->gap_us >= 1000LL * v->config->heartbeat_limit_ms;
    bool counted = !open || v->durable->access_count[r] != 0;
    bool held = (seen && !(open && stood_still)) || v->config->brakes_hold;
    return v->may_return && !v->in_job && h->clear && counted && held &&
           (v->axis[r].link || v->axis[r].refusal.why == KR_REFUSED_NOT);
}

static enum hands_verdict there(struct hands_rail *h)
{
    *h = (struct hands_rail){0};
    return HANDS_THERE;
}

static enum hands_verdict while_it_lasts(struct hands_rail *h, const struct hands_view *v, uint16_t r, bool open,
                                         bool seen)
{
    bool before = h->aside;
    if (!may_turn_out_well(h, v, r, open, seen))
        return there(h);
    h->aside = true;
    h->back = false;
    h->unheard = h->unheard || !v->permits->heartbeat_fresh;
    return before ? HANDS_NO_NEWS : HANDS_SET_ASIDE;
}

static enum hands_verdict after_it(struct hands_rail *h, const struct hands_view *v, uint16_t r, struct kr_alarm *alarm)
{
    uint16_t inputs = v->axis[r].inputs & STANDS;
    bool as_before = rests_clear(v, r) && inputs == h->inputs;
    if (!v->may_return || v->in_job)
        return there(h);
    if (!h->back || !v->permits->heartbeat_fresh) {
        h->unheard = h->unheard || !v->permits->heartbeat_fresh;
        h->back_ms = h->back ? h->back_ms : v->now_ms;
        h->beats = v->permits->beats;
        h->back = true;
    }
    if (!as_before && v->now_ms - h->back_ms >= RETURN_LIMIT_MS) {
        *alarm =
            (struct kr_alarm){KR_ALARM_RETURNED_OTHERWISE, (uint16_t)(r + 1), (uint16_t)(r + 1), inputs, h->inputs};
        return there(h);
    }
    if (!as_before || v->permits->beats - h->beats < RETURN_BEATS)
        return HANDS_NO_NEWS;
    h->aside = h->unheard = h->back = false;
    return HANDS_OVER;
}

enum hands_verdict hands_step(struct hands *hands, const struct hands_view *v, uint16_t r, struct kr_alarm *alarm)
{
    struct hands_rail *h = &hands->rail[r];
    bool open = access_is_open(v), seen = is_seen(&v->axis[r]);
    alarm->code = 0;
    if (was_counted(v, r)) {
        if (v->may_return)
            *alarm = (struct kr_alarm){
                .code = KR_ALARM_ACCESS_COUNTED, .value = v->access_count, .limit = v->durable->access_count[r]};
        return there(h);
    }
    if (open || !seen)
        return while_it_lasts(h, v, r, open, seen);
    if (h->aside)
        return after_it(h, v, r, alarm);
    h->clear = rests_clear(v, r);
    h->inputs = v->axis[r].inputs & STANDS;
    return HANDS_NO_NEWS;
}

bool hands_aside(const struct hands *hands)
{
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        if (hands->rail[r].aside)
            return true;
    return false;
}

bool hands_excuse(const struct hands *hands)
{
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        if (hands->rail[r].aside && hands->rail[r].unheard)
            return false;
    return true;
}

bool hands_unseen(const struct hands *hands, uint16_t r)
{
    return hands->rail[r].aside;
}

void hands_sum_up(struct hands *hands, const struct hands_view *v)
{
    bool heard = v->permits->heartbeat_fresh;
    unsigned doubts = access_is_open(v) || !heard ? KR_DOUBT_ACCESS : 0u;
    for (uint16_t r = 0; r < v->config->geometry.n_rails; r++)
        doubts |= is_seen(&v->axis[r]) ? 0u : (unsigned)KR_DOUBT_DRIVES;
    hands->count = heard ? v->access_count : 0;
    hands->doubts = (uint16_t)(doubts | (hands_aside(hands) ? KR_DOUBT_SET_ASIDE : 0u));
}

void hands_begin_aside(struct hands *hands, uint16_t r, uint16_t inputs)
{
    hands->rail[r] = (struct hands_rail){.aside = true, .clear = true, .inputs = inputs, .unheard = true};
}
