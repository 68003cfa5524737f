/* Random small rails and what the planner makes of them, a line of JSON each, for plan_mip.py to solve anew. An order
 * that is refused for its own numbers leaves nothing to solve: it is judged here, by the rules stated anew, and the
 * last line says how many there were. Arguments: lines, seed, most holders. */
#include <stdio.h>
#include <stdlib.h>

#include "kniferail/plan.h"
#include "order_rules.h"
#include "plan_cases.h"

static void print_geometry(const struct kr_plan_request *q, const struct kr_cuts *cuts)
{
    const struct kr_rail_geometry *g = &q->geometry.rail[0];
    bool outside = q->park || q->geometry.idle_policy == KR_IDLE_OUTSIDE_WEB;
    printf("\"min\":%d,\"max\":%d,\"outside\":%d,\"left\":%d,\"right\":%d,\"deadband\":%d,", g->min_um, g->max_um,
           outside, cuts->web_left_um - q->geometry.idle_clearance_um,
           cuts->web_right_um + q->geometry.idle_clearance_um, q->deadband_um);
    printf("\"approach\":%d,\"over\":%d,\"carriage\":%d,\"handling\":%d,\"way\":%d,", g->approach,
           g->approach ? g->overtravel_um : 0, q->rail[0].carriage_um,
           g->dock_us + g->undock_us + 2 * (g->setpoint_us + g->rounding_us), g->setpoint_us + g->rounding_us);
    printf("\"empty\":[%d,%d],\"drag\":[%d,%d],\"cuts\":[", g->empty.v_um_per_s, g->empty.a_um_per_s2,
           g->drag.v_um_per_s, g->drag.a_um_per_s2);
    for (uint16_t j = 0; j < cuts->n_cuts; j++)
        printf("%s%d", j > 0 ? "," : "", cuts->cut_um[j] + g->cut_side_um);
    printf("],\"sizes\":[%d,%d,%d],", q->geometry.size_spacing_um[0], q->geometry.size_spacing_um[1],
           q->geometry.size_spacing_um[2]);
}

static void print_holders(const struct kr_plan_request *q)
{
    bool first = true;
    printf("\"holders\":[");
    for (uint16_t i = 0; i < q->geometry.rail[0].n_holders; i++) {
        const struct kr_holder *h = &q->rail[0].holder[i];
        if (h->state == KR_HOLDER_ABSENT)
            continue;
        printf("%s[%d,%d,%d,%d]", first ? "" : ",", h->position_um, h->edge_offset_um, h->holder_size, h->state);
        first = false;
    }
    printf("],");
}

int main(int argc, char **argv)
{
    uint64_t lines = argc > 1 ? strtoull(argv[1], NULL, 10) : 100;
    uint64_t seed = argc > 2 ? strtoull(argv[2], NULL, 10) : 1;
    int most = argc > 3 ? atoi(argv[3]) : 4;
    static struct kr_plan_request q;
    static struct kr_plan plan;
    struct kr_cuts cuts;
    struct order_tally orders = {0, 0};
    void *workspace = malloc(kr_plan_workspace_size());
    if (workspace == NULL)
        return 2;
    for (uint64_t made = 0; made < lines; seed++) {
        cases_any(seed, most, &q);
        q.geometry.n_rails = 1;
        struct kr_result r = kr_plan_make(&q, workspace, &plan);
        const char *bad = order_rules_plan(&q, &r, &orders);
        if (bad != NULL) {
            fprintf(stderr, "seed %llu: %s\n", (unsigned long long)seed, bad);
            free(workspace);
            return 1;
        }
        if (!q.park && kr_cuts_make(&q.geometry, &q.order, &cuts).code != KR_OK)
            continue;
        if (q.park && r.code != KR_OK)
            continue;
        if (q.park)
            cuts = plan.cuts;
        /* most of the impossible ones are too few holders or disordered: nothing for a solver to find out */
        if (r.code == KR_TOO_FEW_HOLDERS || r.code == KR_HOLDERS_DISORDERED)
            continue;
        printf("{\"seed\":%llu,", (unsigned long long)seed);
        print_geometry(&q, &cuts);
        print_holders(&q);
        printf("\"us\":%lld}\n", r.code == KR_OK ? (long long)plan.rail[0].time_us : -1LL);
        made++;
    }
    printf("{\"orders_refused\":%llu}\n", orders.refused);
    free(workspace);
    return 0;
}
