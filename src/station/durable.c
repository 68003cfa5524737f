/* What must survive a power cut, and how holders' positions are known. */
#include "state.h"

void durable_touch(struct kr_station *s)
{
    s->durable.serial++;
}

bool durable_committed(const struct kr_station *s, uint32_t serial)
{
    return (int32_t)(s->in.committed_serial - serial) >= 0;
}

/* A slow book only makes things wait, and one that fails says so; one that does neither is noticed here. */
void durable_watch(struct kr_station *s)
{
    if (durable_committed(s, s->durable.serial) || s->in.committed_serial != s->committed_seen)
        s->committed_us = s->wall_us;
    s->committed_seen = s->in.committed_serial;
    int64_t waited_ms = (s->wall_us - s->committed_us) / 1000;
    if (waited_ms >= KR_BOOK_LATE_MS)
        alarm_raise(s, (struct kr_alarm){KR_ALARM_BOOK_LATE, 0, 0, (int32_t)waited_ms, KR_BOOK_LATE_MS});
}

void positions_changed(struct kr_station *s, uint16_t n)
{
    s->position_generation = (uint16_t)(s->position_generation + n);
    if (n > 0)
        s->verified = s->slits_measured = false; /* a verification sets them again at its end */
}

void position_changed(struct kr_station *s)
{
    positions_changed(s, 1);
    durable_touch(s);
}

bool holder_present(const struct kr_holder_data *holder)
{
    return holder->state != KR_HOLDER_ABSENT;
}

bool scan_is_due(const struct kr_station *s)
{
    enum kr_known least = s->config.scan_policy == KR_SCAN_UNKNOWN ? KR_REMEMBERED : KR_PLACED;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        for (uint16_t i = 0; i < s->config.geometry.rail[r].n_holders; i++)
            if (holder_present(&s->durable.holder[r][i]) && s->durable.holder[r][i].known < least)
                return true;
    return false;
}

void order_into_force(struct kr_station *s, const struct kr_order *order)
{
    if (order != &s->durable.order)
        s->durable.order = *order;
    s->durable.in_force = 1;
    s->plan_valid = false;
    s->cuts_valid = kr_cuts_make(&s->config.geometry, &s->durable.order, &s->cuts).code == KR_OK;
    s->verified = s->slits_measured = false;
    s->offsets.placed.valid = false; /* strips of an order tell of its own placement only */
    s->order_generation++;
    durable_touch(s);
}
