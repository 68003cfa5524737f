#include "wear.h"

/* FNV-1a of 32 bits (Fowler, Noll and Vo; the numbers from memory). */
uint32_t kr_knife_kind_digest(const char *kind)
{
    uint32_t digest = 0x811C9DC5u;
    for (; *kind != '\0'; kind++)
        digest = (digest ^ (unsigned char)*kind) * 0x01000193u;
    return digest != 0 ? digest : 1;
}

/* ---- one knife ------------------------------------------------------------------------------------------------- */

/* How near a knife is to its limit. */
enum stage { FRESH, SOON, DUE };

static const struct kr_knife_limit *limit_of(const struct kr_station_config *config,
                                             const struct kr_holder_data *holder)
{
    for (uint16_t i = 0; holder->knife != 0 && i < config->n_knife_limits; i++)
        if (kr_knife_kind_digest(config->knife_limit[i].kind) == holder->knife_kind)
            return &config->knife_limit[i];
    return NULL;
}

static int64_t left_of(const struct kr_knife_limit *limit, const struct kr_holder_data *holder)
{
    return (int64_t)limit->due_metres - holder->metres;
}

static enum stage stage_of(const struct kr_knife_limit *limit, const struct kr_holder_data *holder)
{
    int64_t left = left_of(limit, holder);
    if (left <= 0)
        return DUE;
    return left <= limit->notice_metres ? SOON : FRESH;
}

static int32_t in_i32(int64_t metres)
{
    if (metres > INT32_MAX)
        return INT32_MAX;
    return metres < INT32_MIN ? INT32_MIN : (int32_t)metres;
}

/* ---- notices --------------------------------------------------------------------------------------------------- */

/* Returns the alarm of the knife of that holder at that stage; code 0: none. */
static struct kr_alarm alarm_at(const struct kr_station_config *config, const struct kr_durable *durable, uint16_t r,
                                uint16_t h, enum stage stage)
{
    const struct kr_holder_data *holder = &durable->holder[r][h];
    const struct kr_knife_limit *limit = limit_of(config, holder);
    if (limit == NULL || stage_of(limit, holder) != stage)
        return (struct kr_alarm){.code = KR_ALARM_NONE};
    return (struct kr_alarm){.code = stage == DUE ? KR_ALARM_GRIND_DUE : KR_ALARM_GRIND_SOON,
                             .rail = (uint16_t)(r + 1),
                             .item = (uint16_t)(h + 1),
                             .value = in_i32(holder->metres),
                             .limit = in_i32(limit->due_metres)};
}

/* Returns the knife of the rail with the fewest metres left. */
static struct kr_alarm nearest(const struct kr_station_config *config, const struct kr_durable *durable, uint16_t r,
                               enum stage stage)
{
    struct kr_alarm found = {.code = KR_ALARM_NONE};
    for (uint16_t h = 0; h < config->geometry.rail[r].n_holders; h++) {
        struct kr_alarm alarm = alarm_at(config, durable, r, h, stage);
        bool nearer =
            found.code == KR_ALARM_NONE || (int64_t)alarm.limit - alarm.value < (int64_t)found.limit - found.value;
        if (alarm.code != KR_ALARM_NONE && nearer)
            found = alarm;
    }
    return found;
}

static void name(const struct kr_station_config *config, const struct kr_durable *durable, uint16_t r, enum stage stage,
                 struct alarms *alarms)
{
    enum kr_alarm_code code = stage == DUE ? KR_ALARM_GRIND_DUE : KR_ALARM_GRIND_SOON;
    struct kr_alarm *stands = alarm_standing(alarms, code, (uint16_t)(r + 1));
    struct kr_alarm now = {.code = KR_ALARM_NONE};
    if (stands != NULL)
        now = alarm_at(config, durable, r, (uint16_t)(stands->item - 1), stage);
    if (now.code != KR_ALARM_NONE) {
        *stands = now; /* the same knife, with its present metres */
        return;
    }
    alarm_end_of_rail(alarms, code, (uint16_t)(r + 1));
    now = nearest(config, durable, r, stage);
    if (now.code != KR_ALARM_NONE)
        alarm_raise(alarms, now);
}

void wear_step(struct wear *wear, const struct kr_station_config *config, const struct kr_durable *durable, bool waits,
               struct alarms *alarms)
{
    if (waits || (wear->looked && wear->serial == durable->serial))
        return;
    wear->looked = true;
    wear->serial = durable->serial;
    for (uint16_t r = 0; r < config->geometry.n_rails; r++) {
        name(config, durable, r, SOON, alarms);
        name(config, durable, r, DUE, alarms);
    }
}

void wear_limits_changed(struct wear *wear)
{
    wear->looked = false;
}

/* ---- what clients read ----------------------------------------------------------------------------------------- */

void wear_add(const struct kr_station_config *config, const struct kr_holder_data *holder, uint16_t index,
              struct wear_of_rail *wear)
{
    const struct kr_knife_limit *limit = limit_of(config, holder);
    uint16_t bit = (uint16_t)(1u << index % 16);
    if (limit == NULL)
        return;
    enum stage stage = stage_of(limit, holder);
    int32_t left = in_i32(left_of(limit, holder));
    if (wear->next == 0 || left < wear->left_metres) {
        wear->next = (uint16_t)(index + 1);
        wear->left_metres = left;
    }
    wear->n_soon = (uint16_t)(wear->n_soon + (stage == SOON));
    wear->n_due = (uint16_t)(wear->n_due + (stage == DUE));
    if (stage == SOON)
        wear->soon[index / 16] |= bit;
    if (stage == DUE)
        wear->due[index / 16] |= bit;
}
