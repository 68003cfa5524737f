/* Random planning problems: each plan judged by the independent checker, each refusal of an order's own numbers by the
 * rules stated anew. Arguments: cases, seed, most holders; `pushed' if they
 * are to be pushed together. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/plan.h"
#include "order_rules.h"
#include "plan_cases.h"
#include "plan_checker.h"

/* Whatever the workspace holds, the plan is the same. */
static bool is_repeated(const struct kr_plan_request *q, void *workspace, int fill, const struct kr_result *result,
                        const struct kr_plan *plan)
{
    static struct kr_plan again;
    memset(workspace, fill, kr_plan_workspace_size());
    struct kr_result r = kr_plan_make(q, workspace, &again);
    return r.code == result->code && r.rail == result->rail && r.item == result->item && r.value == result->value &&
           r.limit == result->limit && (r.code != KR_OK || memcmp(plan, &again, sizeof again) == 0);
}

int main(int argc, char **argv)
{
    uint64_t cases = argc > 1 ? strtoull(argv[1], NULL, 10) : 2000;
    uint64_t seed = argc > 2 ? strtoull(argv[2], NULL, 10) : 1;
    int most = argc > 3 ? atoi(argv[3]) : 12;
    bool pushed = argc > 4 && strcmp(argv[4], "pushed") == 0;
    static struct kr_plan_request q;
    static struct kr_plan plan;
    unsigned long long made = 0, refused[100] = {0};
    struct order_tally orders = {0, 0};
    void *workspace = malloc(kr_plan_workspace_size());
    if (workspace == NULL)
        return 2;
    printf("%llu cases from seed %llu, up to %d holders\n", (unsigned long long)cases, (unsigned long long)seed, most);
    for (uint64_t i = 0; i < cases; i++) {
        (pushed ? cases_pushed : cases_any)(seed + i, most, &q);
        struct kr_result r = kr_plan_make(&q, workspace, &plan);
        if (i % 16 == 0 && !is_repeated(&q, workspace, (int)(i / 16 % 256), &r, &plan)) {
            printf("seed %llu: another plan with another workspace\n", (unsigned long long)(seed + i));
            free(workspace);
            return 1;
        }
        const char *bad = order_rules_plan(&q, &r, &orders);
        if (bad == NULL && r.code == KR_OK)
            bad = plan_checker(&q, &plan);
        made += r.code == KR_OK;
        refused[r.code] += r.code != KR_OK;
        if (bad != NULL) {
            printf("seed %llu: %s\n", (unsigned long long)(seed + i), bad);
            free(workspace);
            return 1;
        }
    }
    printf("%llu plans, all sound; refused:\n", made);
    for (int code = 0; code < 100; code++) {
        if (refused[code] > 0)
            printf("  %8llu %s\n", refused[code], kr_code_info(code)->name);
    }
    order_tally_print(&orders);
    free(workspace);
    return made > 0 && orders.refused > 0 ? 0 : 1;
}
