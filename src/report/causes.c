#include <stdbool.h>

#include "kniferail/report.h"

/* Greater numbers are not distinguished. Rail 0 is the station, and item 0 is the whole. */
#define RAILS (KR_RAILS_MAX + 1)
#define ITEMS (KR_HOLDERS_MAX + 1)

static bool same(const struct kr_report_alarm *a, const struct kr_report_alarm *b)
{
    return a->code == b->code && a->rail == b->rail && a->item == b->item;
}

/* Returns how long the alarm stood until it was gone; 0: it was raised again without having gone, because the gateway
 * had ended meanwhile. */
static int64_t stood_ms(const struct kr_report_alarm alarm[], size_t n, size_t i)
{
    for (size_t k = i + 1; k < n; k++)
        if (same(&alarm[k], &alarm[i]))
            return alarm[k].raised ? 0 : alarm[k].at_ms - alarm[i].at_ms;
    return 0;
}

static struct kr_report_cause *cause_of(struct kr_report_cause cause[], size_t *n_causes, uint16_t code)
{
    size_t i = 0;
    while (i < *n_causes && cause[i].code != code)
        i++;
    if (i == KR_REPORT_CAUSES_MAX)
        return NULL;
    if (i == *n_causes)
        cause[(*n_causes)++] = (struct kr_report_cause){.code = code};
    return &cause[i];
}

static void find_place(const struct kr_report_alarm alarm[], size_t n, struct kr_report_cause *cause)
{
    uint32_t times[RAILS][ITEMS] = {{0}};
    for (size_t i = 0; i < n; i++) {
        const struct kr_report_alarm *a = &alarm[i];
        if (a->raised && a->code == cause->code && a->rail < RAILS && a->item < ITEMS)
            times[a->rail][a->item]++;
    }
    for (uint16_t r = 0; r < RAILS; r++)
        for (uint16_t i = 0; i < ITEMS; i++)
            if (times[r][i] > cause->times_there) {
                cause->rail = r;
                cause->item = i;
                cause->times_there = times[r][i];
            }
}

static void sort(struct kr_report_cause cause[], size_t n)
{
    for (size_t i = 1; i < n; i++) {
        struct kr_report_cause moved = cause[i];
        size_t k = i;
        for (; k > 0 && cause[k - 1].raised < moved.raised; k--)
            cause[k] = cause[k - 1];
        cause[k] = moved;
    }
}

size_t kr_report_causes(const struct kr_report_alarm alarm[], size_t n,
                        struct kr_report_cause cause[KR_REPORT_CAUSES_MAX])
{
    size_t n_causes = 0;
    for (size_t i = 0; i < n; i++) {
        struct kr_report_cause *of = alarm[i].raised ? cause_of(cause, &n_causes, alarm[i].code) : NULL;
        if (of == NULL)
            continue;
        of->raised++;
        of->stood_ms += stood_ms(alarm, n, i);
    }
    for (size_t c = 0; c < n_causes; c++)
        find_place(alarm, n, &cause[c]);
    sort(cause, n_causes);
    return n_causes;
}
