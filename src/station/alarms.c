#include "alarms.h"

static bool same(const struct kr_alarm *a, const struct kr_alarm *b)
{
    return a->code == b->code && a->rail == b->rail && a->item == b->item;
}

void alarm_raise(struct alarms *alarms, struct kr_alarm alarm)
{
    enum kr_reaction reaction = kr_alarm_info(alarm.code)->reaction;
    if (reaction > alarms->reaction)
        alarms->reaction = reaction;
    for (uint16_t i = 0; i < alarms->n; i++)
        if (same(&alarms->at[i], &alarm))
            return;
    if (alarms->n == KR_ALARMS_MAX) {
        if (alarms->lost < UINT16_MAX)
            alarms->lost++;
        return;
    }
    alarms->at[alarms->n++] = alarm;
}

static bool stops(const struct kr_alarm *alarm)
{
    return kr_alarm_info(alarm->code)->reaction >= KR_REACT_HOLD;
}

bool alarm_stops(const struct alarms *alarms, struct kr_alarm *first)
{
    for (uint16_t i = 0; i < alarms->n; i++) {
        if (!stops(&alarms->at[i]))
            continue;
        if (first)
            *first = alarms->at[i];
        return true;
    }
    return false;
}

bool alarm_stands(const struct alarms *alarms, enum kr_alarm_code code, uint16_t rail_number)
{
    for (uint16_t i = 0; i < alarms->n; i++)
        if (alarms->at[i].code == code && (rail_number == OF_ANY_RAIL || alarms->at[i].rail == rail_number))
            return true;
    return false;
}
