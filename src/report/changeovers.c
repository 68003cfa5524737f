#include "kniferail/map.h"
#include "kniferail/report.h"

static void add(struct kr_report_sum *sum, const struct kr_report_changeover *c)
{
    sum->n++;
    sum->verified += c->outcome == KR_OUTCOME_VERIFIED;
    sum->planned_ms += c->planned_ms;
    sum->actual_ms += c->actual_ms;
    sum->total_ms += c->total_ms;
    if (c->total_ms > sum->longest_ms)
        sum->longest_ms = c->total_ms;
    if (!c->is_told)
        return;
    sum->told++;
    sum->told_ms += c->total_ms;
    for (int i = 0; i < KR_N_SPENT; i++)
        sum->spent_ms[i] += c->spent_ms[i];
}

struct kr_report_sum kr_report_sum_of(const struct kr_report_changeover changeover[], size_t n, double room[])
{
    struct kr_report_sum sum = {0};
    size_t planned = 0;
    for (size_t i = 0; i < n; i++) {
        add(&sum, &changeover[i]);
        if (changeover[i].planned_ms > 0)
            room[planned++] = (double)changeover[i].actual_ms / changeover[i].planned_ms;
    }
    sum.ratio = kr_spread_of(room, planned);
    return sum;
}
