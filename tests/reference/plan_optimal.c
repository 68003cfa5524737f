/* The planner against the exhaustive search on random small rails: the same verdict, the same least time. Arguments:
 * cases, seed, most holders; `pushed' if they
 * are to be pushed together. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/plan.h"
#include "order_rules.h"
#include "plan_cases.h"
#include "plan_exhaustive.h"

struct tally {
    unsigned long long rails, refused, skipped, wrong, proven;
    struct order_tally orders;
};

static void compare(const struct kr_plan_request *q, const struct kr_result *r, const struct kr_plan *plan, int rail,
                    unsigned long long seed, struct tally *t)
{
    struct kr_cuts cuts;
    const char *bad = order_rules_plan(q, r, &t->orders);
    if (bad != NULL) {
        t->wrong++;
        printf("seed %llu: %s\n", seed, bad);
    }
    if (!q->park && kr_cuts_make(&q->geometry, &q->order, &cuts).code != KR_OK)
        return;
    if (q->park) {
        if (r->code != KR_OK)
            return;
        cuts = plan->cuts;
    }
    int64_t least = plan_exhaustive(q, &cuts, rail);
    if (least == -2) {
        t->skipped++;
        return;
    }
    t->rails++;
    t->refused += least < 0;
    if ((r->code != KR_OK) != (least < 0)) {
        t->wrong++;
        printf("seed %llu rail %d: %s, but the search says %lld\n", seed, rail + 1, kr_code_info((int)r->code)->name,
               (long long)least);
    } else if (least >= 0 && plan->rail[rail].time_us != least) {
        t->wrong++;
        printf("seed %llu rail %d: %lld us instead of %lld\n", seed, rail + 1, (long long)plan->rail[rail].time_us,
               (long long)least);
    } else if (least >= 0 && plan->rail[rail].bound_us > least) {
        t->wrong++;
        printf("seed %llu rail %d: a bound of %lld us, but %lld is possible\n", seed, rail + 1,
               (long long)plan->rail[rail].bound_us, (long long)least);
    } else if (least >= 0 && plan->rail[rail].bound_us == least) {
        t->proven++;
    }
}

int main(int argc, char **argv)
{
    uint64_t cases = argc > 1 ? strtoull(argv[1], NULL, 10) : 2000;
    uint64_t seed = argc > 2 ? strtoull(argv[2], NULL, 10) : 1;
    int most = argc > 3 ? atoi(argv[3]) : 5;
    bool pushed = argc > 4 && strcmp(argv[4], "pushed") == 0;
    static struct kr_plan_request q;
    static struct kr_plan plan;
    struct tally t = {0};
    void *workspace = malloc(kr_plan_workspace_size());
    if (workspace == NULL)
        return 2;
    printf("%llu cases from seed %llu, up to %d holders\n", (unsigned long long)cases, (unsigned long long)seed, most);
    for (uint64_t i = 0; i < cases; i++) {
        (pushed ? cases_pushed : cases_any)(seed + i, most, &q);
        q.geometry.n_rails = 1; /* the exhaustive search judges rails one by one */
        struct kr_result r = kr_plan_make(&q, workspace, &plan);
        compare(&q, &r, &plan, 0, seed + i, &t);
    }
    printf("%llu rails compared, %llu of them impossible, %llu proven by the planner itself; %llu were too "
           "much to "
           "try; %llu differ\n",
           t.rails, t.refused, t.proven, t.skipped, t.wrong);
    order_tally_print(&t.orders);
    free(workspace);
    return t.wrong == 0 && t.rails > 0 && t.orders.refused > 0 ? 0 : 1;
}
