#include "kniferail/alarm.h"

#include <stdio.h>

#include "kniferail/drive_error.h"
#include "text.h"

static const struct kr_alarm_info alarms[] = {
#define X(name, number, item, value, reaction, text, remedy) \
    {KR_ALARM_##name, #name, KR_ITEM_##item, KR_VALUE_##value, KR_REACT_##reaction, text, remedy},
    KR_ALARMS(X)
#undef X
};

/* A name belongs to a result or to an alarm, never to both. A name in both lists would be here twice, and would not
 * compile. */
enum {
#define X(name, ...) NAMED_ONCE_##name,
    KR_CODES(X) KR_ALARMS(X)
#undef X
};

#define N_ALARMS (sizeof alarms / sizeof alarms[0])

static size_t n_before(const struct kr_alarm_info *a)
{
    size_t n = 0;
    for (size_t i = 0; i < N_ALARMS; i++)
        n += alarms[i].code < a->code;
    return n;
}

const struct kr_alarm_info *kr_alarm_info_at(size_t index)
{
    for (size_t i = 0; i < N_ALARMS; i++)
        if (n_before(&alarms[i]) == index)
            return &alarms[i];
    return NULL;
}

const char *kr_reaction_word(enum kr_reaction reaction)
{
    static const char *const words[] = {
#define X(name, word) word,
        KR_REACTIONS(X)
#undef X
    };
    return words[reaction];
}

const struct kr_alarm_info *kr_alarm_info(int number)
{
    for (size_t i = 0; i < N_ALARMS; i++)
        if ((int)alarms[i].code == number)
            return &alarms[i];
    return NULL;
}

int kr_alarm_text(const struct kr_alarm *alarm, enum kr_length_unit unit, char *text, size_t size)
{
    const struct kr_alarm_info *info = kr_alarm_info(alarm->code);
    if (info == NULL)
        return snprintf(text, size, "unknown alarm code %u", (unsigned)alarm->code);
    struct kr_text_values values = {alarm->rail, alarm->item, alarm->value, alarm->limit, info->value, info->item};
    int n = kr_text_fill(info->text, &values, unit, text, size);
    const char *means = alarm->code == KR_ALARM_DRIVE_FAULT ? kr_drive_error_text((uint16_t)alarm->value) : NULL;
    if (means == NULL || n < 0)
        return n;
    size_t used = (size_t)n < size ? (size_t)n : size;
    return n + snprintf(text + used, size - used, " (%s)", means);
}
