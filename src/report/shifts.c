#include "kniferail/report.h"

#define MINUTE_MS INT64_C(60000)
#define DAY_MS    (1440 * MINUTE_MS)

/* The part of the changeovers in one shift of one day, while it is added up. */
struct filling {
    int64_t begin_ms, setup_ms;
    bool is_open;
};

static int64_t floor_to_day(int64_t ms)
{
    int64_t day = ms / DAY_MS * DAY_MS;
    return day > ms ? day - DAY_MS : day;
}

/* Returns the index of the shift that contains a time. *begin_ms and *end_ms are those of that day's shift. */
static size_t shift_at(const struct kr_report_shift shift[], size_t n, int64_t ms, int64_t *begin_ms, int64_t *end_ms)
{
    int64_t day = floor_to_day(ms);
    size_t i = n;
    while (i > 0 && day + shift[i - 1].begin_min * MINUTE_MS > ms)
        i--;
    if (i == 0) { /* before the first shift of the day: the last one of the day before */
        *begin_ms = day - DAY_MS + shift[n - 1].begin_min * MINUTE_MS;
        *end_ms = day + shift[0].begin_min * MINUTE_MS;
        return n - 1;
    }
    *begin_ms = day + shift[i - 1].begin_min * MINUTE_MS;
    *end_ms = day + (i < n ? shift[i].begin_min * MINUTE_MS : DAY_MS + shift[0].begin_min * MINUTE_MS);
    return i - 1;
}

static void fill(struct kr_report_shift *shift, struct filling *filling, int64_t begin_ms, int64_t ms)
{
    if (!filling->is_open || filling->begin_ms != begin_ms) {
        *filling = (struct filling){.begin_ms = begin_ms, .is_open = true};
        shift->times++;
    }
    filling->setup_ms += ms;
    shift->setup_ms += ms;
    if (filling->setup_ms > shift->most_ms)
        shift->most_ms = filling->setup_ms;
}

void kr_report_share_out(const struct kr_report_changeover changeover[], size_t n, struct kr_report_shift shift[],
                         size_t n_shifts)
{
    struct filling filling[KR_SHIFTS_MAX] = {{0}};
    for (size_t s = 0; s < n_shifts; s++)
        shift[s] = (struct kr_report_shift){.begin_min = shift[s].begin_min};
    for (size_t i = 0; i < n; i++) {
        int64_t at_ms = changeover[i].ended_ms - changeover[i].total_ms, begin_ms, end_ms;
        shift[shift_at(shift, n_shifts, at_ms, &begin_ms, &end_ms)].changeovers++;
        while (at_ms < changeover[i].ended_ms) {
            size_t s = shift_at(shift, n_shifts, at_ms, &begin_ms, &end_ms);
            int64_t until_ms = end_ms < changeover[i].ended_ms ? end_ms : changeover[i].ended_ms;
            fill(&shift[s], &filling[s], begin_ms, until_ms - at_ms);
            at_ms = until_ms;
        }
    }
}
