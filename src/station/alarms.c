#include "alarms.h"

bool alarm_is(const struct kr_alarm *a, const struct kr_alarm *b)
{
    return a->code == b->code && a->rail == b->rail && a->item == b->item;
}

bool alarm_is_listed(const struct alarms *alarms, const struct kr_alarm *alarm)
{
    for (uint16_t i = 0; i < alarms->n; i++)
        if (alarm_is(&alarms->at[i], alarm))
            return true;
    return false;
}

uint16_t alarms_listed(const struct alarms *alarms)
{
    return alarms->n < KR_ALARMS_MAX ? alarms->n : KR_ALARMS_MAX;
}

uint16_t alarms_unlisted(const struct alarms *alarms)
{
    return (uint16_t)(alarms->n - alarms_listed(alarms) + alarms->lost);
}

static enum kr_reaction strength(const struct kr_alarm *alarm)
{
    return kr_alarm_info(alarm->code)->reaction;
}

/* Returns the newest of the weakest alarms in a full list. */
static uint16_t weakest(const struct alarms *alarms)
{
    uint16_t least = 0;
    for (uint16_t i = 1; i < KR_ALARMS_MAX; i++)
        if (strength(&alarms->at[i]) <= strength(&alarms->at[least]))
            least = i;
    return least;
}

/* Puts the alarm at the end of a full list, if a weaker one can leave it. Returns the alarm that is now kept after the
 * list. */
static struct kr_alarm place_in_list(struct alarms *alarms, struct kr_alarm alarm)
{
    uint16_t least = weakest(alarms);
    struct kr_alarm displaced = alarms->at[least];
    if (strength(&displaced) >= strength(&alarm))
        return alarm;
    for (uint16_t i = least; i + 1 < KR_ALARMS_MAX; i++)
        alarms->at[i] = alarms->at[i + 1];
    alarms->at[KR_ALARMS_MAX - 1] = alarm;
    return displaced;
}

static void append(struct alarms *alarms, struct kr_alarm alarm)
{
    if (alarms->n < KR_ALARMS_KNOWN_MAX)
        alarms->at[alarms->n++] = alarm;
    else if (alarms->lost < UINT16_MAX)
        alarms->lost++;
}

void alarm_list(struct alarms *alarms, struct kr_alarm alarm)
{
    if (alarm_is_listed(alarms, &alarm))
        return;
    if (alarms->n >= KR_ALARMS_MAX)
        alarm = place_in_list(alarms, alarm);
    append(alarms, alarm);
}

void alarm_end_of_rail(struct alarms *alarms, enum kr_alarm_code code, uint16_t rail_number)
{
    uint16_t kept = 0;
    for (uint16_t i = 0; i < alarms->n; i++)
        if (alarms->at[i].code != code || (rail_number != OF_ANY_RAIL && alarms->at[i].rail != rail_number))
            alarms->at[kept++] = alarms->at[i];
    for (uint16_t i = kept; i < alarms->n; i++)
        alarms->at[i] = (struct kr_alarm){0};
    alarms->n = kept;
}

void alarm_end(struct alarms *alarms, enum kr_alarm_code code)
{
    alarm_end_of_rail(alarms, code, OF_ANY_RAIL);
}

struct kr_alarm *alarm_standing(struct alarms *alarms, enum kr_alarm_code code, uint16_t rail_number)
{
    for (uint16_t i = 0; i < alarms->n; i++)
        if (alarms->at[i].code == code && alarms->at[i].rail == rail_number)
            return &alarms->at[i];
    return NULL;
}

void alarm_raise(struct alarms *alarms, struct kr_alarm alarm)
{
    enum kr_reaction reaction = strength(&alarm);
    if (reaction > alarms->reaction)
        alarms->reaction = reaction;
    alarm_list(alarms, alarm);
}

void alarms_react(struct alarms *alarms, enum kr_alarm_code code)
{
    enum kr_reaction reaction = kr_alarm_info((int)code)->reaction;
    if (alarm_stands(alarms, code, OF_ANY_RAIL) && reaction > alarms->reaction)
        alarms->reaction = reaction;
}

static const enum kr_alarm_code of_shift[] = {KR_ALARM_RAIL_SHIFTED, KR_ALARM_RAIL_SCALED, KR_ALARM_SWITCH_SHIFTED,
                                              KR_ALARM_SWITCHES_APART, KR_ALARM_REFERENCES_SHIFTED};
#define N_OF_SHIFT (sizeof of_shift / sizeof of_shift[0])

bool alarm_is_of_shift(uint16_t code)
{
    for (size_t i = 0; i < N_OF_SHIFT; i++)
        if (code == of_shift[i])
            return true;
    return false;
}

void alarms_end_shift(struct alarms *alarms, uint16_t rail_number)
{
    for (size_t i = 0; i < N_OF_SHIFT; i++)
        alarm_end_of_rail(alarms, of_shift[i], rail_number);
}

bool alarm_is_of_datum(uint16_t code)
{
    return code == KR_ALARM_POSITION_IMPLAUSIBLE || code == KR_ALARM_ENCODER_BLAMED ||
           code == KR_ALARM_CARRIAGE_DRIFTED || code == KR_ALARM_DATUM_DECLARED || alarm_is_of_shift(code) ||
           code == KR_ALARM_REFERENCE_SWITCH_DEAD ||
           (code >= KR_ALARM_REFERENCES_UNSEEN && code <= KR_ALARM_REFERENCES_MIRRORED);
}

static bool find(const struct alarms *alarms, enum kr_reaction least, bool of_datum, struct kr_alarm *first)
{
    for (uint16_t i = 0; i < alarms->n; i++) {
        bool is_of_datum = alarm_is_of_datum(alarms->at[i].code);
        if (strength(&alarms->at[i]) < least || (is_of_datum && !of_datum))
            continue;
        if (first)
            *first = alarms->at[i];
        return true;
    }
    return false;
}

bool alarm_reacts(const struct alarms *alarms, enum kr_reaction least, struct kr_alarm *first)
{
    return find(alarms, least, true, first);
}

bool alarm_stops(const struct alarms *alarms, struct kr_alarm *first)
{
    return find(alarms, KR_REACT_HOLD, true, first);
}

bool alarm_hinders(const struct alarms *alarms, struct kr_alarm *first)
{
    return find(alarms, KR_REACT_HOLD, false, first);
}

bool alarm_stands(const struct alarms *alarms, enum kr_alarm_code code, uint16_t rail_number)
{
    for (uint16_t i = 0; i < alarms->n; i++)
        if (alarms->at[i].code == code && (rail_number == OF_ANY_RAIL || alarms->at[i].rail == rail_number))
            return true;
    return false;
}
