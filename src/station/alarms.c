/* Standing alarms. The first ones explain the later: they are kept, and those that find the list full are counted. */
#include "state.h"

#include <string.h>

static bool same(const struct kr_alarm *a, const struct kr_alarm *b)
{
    return a->code == b->code && a->rail == b->rail && a->item == b->item;
}

void alarm_raise(struct kr_station *s, struct kr_alarm alarm)
{
    enum kr_reaction reaction = kr_alarm_info(alarm.code)->reaction;
    if (reaction > s->reaction)
        s->reaction = reaction;
    for (uint16_t i = 0; i < s->n_alarms; i++)
        if (same(&s->alarm[i], &alarm))
            return;
    if (s->n_alarms == KR_ALARMS_MAX) {
        if (s->alarms_lost < UINT16_MAX)
            s->alarms_lost++;
        return;
    }
    s->alarm[s->n_alarms++] = alarm;
}

/* Whether what raised it is still so. An event (a pin that did not seat) is over once somebody has acknowledged it. */
static bool cause_stands(const struct kr_station *s, const struct kr_alarm *alarm)
{
    const struct kr_axis_in *axis = alarm->rail ? &s->in.axis[alarm->rail - 1] : NULL;
    switch (alarm->code) {
    case KR_ALARM_LINK_LOST: return axis && !axis->link;
    case KR_ALARM_DRIVE_FAULT: return axis && kr_drive_state_of(axis->statusword) == KR_DRIVE_FAULT;
    case KR_ALARM_HEARTBEAT_STALE: return !s->heartbeat_fresh;
    case KR_ALARM_PERMISSIVE_LOST: return permit_missing(s, (uint16_t)alarm->value) != 0;
    case KR_ALARM_BOOK_FAILED: return s->in.book_failed;
    case KR_ALARM_BOOK_LATE: return s->wall_us - s->committed_us >= 1000LL * KR_BOOK_LATE_MS;
    case KR_ALARM_KNIFE_METRES: return metres_over(s, alarm);
    default: return false;
    }
}

static bool stops(const struct kr_alarm *alarm)
{
    return kr_alarm_info(alarm->code)->reaction >= KR_REACT_HOLD;
}

bool alarm_stops(const struct kr_station *s, struct kr_alarm *first)
{
    for (uint16_t i = 0; i < s->n_alarms; i++) {
        if (!stops(&s->alarm[i]))
            continue;
        if (first)
            *first = s->alarm[i];
        return true;
    }
    return false;
}

bool alarms_acknowledge(struct kr_station *s)
{
    uint16_t kept = 0;
    for (uint16_t i = 0; i < s->n_alarms; i++)
        if (cause_stands(s, &s->alarm[i]))
            s->alarm[kept++] = s->alarm[i];
    memset(&s->alarm[kept], 0, (KR_ALARMS_MAX - (size_t)kept) * sizeof s->alarm[0]);
    s->n_alarms = kept;
    metres_notices(s); /* the knife that was named is reground: the next one's turn */
    return !alarm_stops(s, NULL);
}
