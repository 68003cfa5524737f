/* How good plans are, and how quickly they are made: per number of holders and family, the time against the best that
 * a search with ten times the steps finds and against the proven bound, beside a plain order from left to right that
 * only respects the neighbours. Computing time is the thread's own, of each instance the least of three runs: so what
 * else the computer did isn't counted. Then how quickly what can't be done is refused. Arguments: instances of each
 * family and profile, first seed, [holders]. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "kniferail/plan.h"
#include "plan_checker.h"
#include "plan_rails.h"

#define LONG_RUNS 10 /* times the steps, for the best known */
#define RUNS      3

struct figures {
    int n;
    double ratio[4000], bound[4000], sequence_bound[4000], plain_s, ms_sum, ms_worst, steps;
};

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double mean(const double v[], int n)
{
    double sum = 0;
    for (int i = 0; i < n; i++)
        sum += v[i];
    return n > 0 ? sum / n : 0;
}

static double quantile(double v[], int n, double q)
{
    qsort(v, (size_t)n, sizeof *v, ascending);
    return n > 0 ? v[(int)(q * (n - 1))] : 0;
}

/* The same moves from left to right, each as soon as those that must come first are made. */
static double plain_s(const struct kr_plan_request *q, const struct kr_plan_rail *p)
{
    bool done[KR_HOLDERS_MAX + 1] = {false};
    int64_t carriage = q->rail[0].carriage_um, us = 0;
    for (int made = 0; made < p->n_moves; made++) {
        const struct kr_move *next = NULL;
        for (int m = 0; m < p->n_moves; m++) {
            const struct kr_move *v = &p->move[m];
            bool ready =
                !done[v->holder] && (v->after[0] == 0 || done[v->after[0]]) && (v->after[1] == 0 || done[v->after[1]]);
            if (ready && (next == NULL || v->holder < next->holder))
                next = v;
        }
        done[next->holder] = true;
        us += kr_move_time_us(llabs((long long)next->from_um - carriage), q->geometry.rail[0].empty);
        carriage = next->to_um;
    }
    for (int m = 0; m < p->n_moves; m++) {
        int64_t from = m == 0 ? q->rail[0].carriage_um : p->move[m - 1].to_um;
        us += p->move[m].end_us - p->move[m].start_us -
              kr_move_time_us(llabs((long long)p->move[m].from_um - from), q->geometry.rail[0].empty);
    }
    return (double)us / 1e6;
}

static double least_ms(const struct kr_plan_request *q, void *workspace, struct kr_result *result, struct kr_plan *plan)
{
    double least = 0;
    for (int run = 0; run < RUNS; run++) {
        double start = now_ms();
        *result = kr_plan_make(q, workspace, plan);
        double ms = now_ms() - start;
        least = run == 0 || ms < least ? ms : least;
    }
    return least;
}

static void one(struct kr_plan_request *q, void *workspace, const char *name, uint64_t seed, struct figures *f)
{
    static struct kr_plan plan, best;
    struct kr_result r = {.code = KR_OK};
    double ms = least_ms(q, workspace, &r, &plan);
    const char *bad = r.code == KR_OK ? plan_checker(q, &plan) : "refused";
    if (bad != NULL) {
        printf("INVALID %s seed %llu: %s\n", name, (unsigned long long)seed, bad);
        exit(1);
    }
    q->budget_steps = LONG_RUNS * (plan.steps > 100000 ? plan.steps : 100000);
    kr_plan_make(q, workspace, &best);
    q->budget_steps = 0;
    const struct kr_plan_rail *p = &plan.rail[0];
    int64_t known = best.time_us < plan.time_us ? best.time_us : plan.time_us;
    if (known == 0)
        known = 1;
    f->ratio[f->n] = p->time_us > 0 ? (double)p->time_us / (double)known : 1;
    f->bound[f->n] = p->time_us > 0 ? (double)p->time_us / (double)(p->bound_us > 0 ? p->bound_us : 1) : 1;
    f->sequence_bound[f->n] =
        p->time_us > 0 ? (double)p->time_us / (double)(p->sequence_bound_us > 0 ? p->sequence_bound_us : 1) : 1;
    f->plain_s += plain_s(q, p) - (double)p->time_us / 1e6;
    f->ms_sum += ms;
    f->ms_worst = ms > f->ms_worst ? ms : f->ms_worst;
    f->steps += plan.steps;
    f->n++;
}

static void print(const char *name, struct figures *f)
{
    if (f->n == 0)
        return;
    printf("  %-12s %4d  best known: mean %.5f p99 %.5f worst %.5f  bound: mean %.4f worst %.4f  "
           "sequence bound: %.4f %.4f"
           "  %7.2f ms (worst %.2f) %9.0f steps  plain +%.1f s\n",
           name, f->n, mean(f->ratio, f->n), quantile(f->ratio, f->n, 0.99), quantile(f->ratio, f->n, 1),
           mean(f->bound, f->n), quantile(f->bound, f->n, 1), mean(f->sequence_bound, f->n),
           quantile(f->sequence_bound, f->n, 1), f->ms_sum / f->n, f->ms_worst, f->steps / f->n, f->plain_s / f->n);
}

static void bench(int holders, int instances, uint64_t seed, void *workspace)
{
    static struct kr_plan_request q;
    static struct figures all;
    static struct figures f;
    memset(&all, 0, sizeof all);
    printf("%d holders\n", holders);
    for (int family = 0; family < RAILS_FAMILIES; family++) {
        memset(&f, 0, sizeof f);
        for (int i = 0; i < instances * 4; i++) {
            if (rails_make(family, holders, i % 4, seed + (uint64_t)(i / 4), &q))
                one(&q, workspace, rails_name[family], seed + (uint64_t)(i / 4), &f);
        }
        for (int i = 0; i < f.n && all.n < 4000; i++) {
            all.ratio[all.n] = f.ratio[i];
            all.bound[all.n] = f.bound[i];
            all.sequence_bound[all.n++] = f.sequence_bound[i];
        }
        all.ms_sum += f.ms_sum;
        all.steps += f.steps;
        all.plain_s += f.plain_s;
        all.ms_worst = f.ms_worst > all.ms_worst ? f.ms_worst : all.ms_worst;
        print(rails_name[family], &f);
    }
    print("ALL", &all);
}

/* ---- what it is worth to know the next order ------------------------------------------------------------------- */

/* Two rails that stand differently, and an order that follows. False if it can't be done. */
static bool make_pair(int family, int holders, uint64_t seed, struct kr_plan_request *q)
{
    static struct kr_plan_request other;
    int profile = (int)(seed % 4);
    if (!rails_make(family, holders, profile, seed, q) || !rails_make(family, holders, profile, seed + 5000, &other))
        return false;
    int64_t here = q->geometry.rail[0].max_um, there = other.geometry.rail[0].max_um, sum = 0;
    q->geometry.n_rails = 2;
    q->geometry.rails_together = true;
    q->geometry.rail[1] = q->geometry.rail[0];
    q->geometry.rail[1].role = KR_LOWER;
    q->rail[1] = q->rail[0];
    for (int i = 0; i < holders; i++)
        q->rail[1].holder[i].position_um = (int32_t)(other.rail[0].holder[i].position_um * here / there);
    q->next = other.order;
    q->next.shift_nm = 0;
    for (int i = 0; i < q->next.n_slits; i++)
        sum += q->next.width_nm[i];
    q->next.web_width_nm = sum + 2000000;
    return true;
}

static int64_t next_us(const struct kr_plan_request *q, const struct kr_plan *plan, void *workspace)
{
    static struct kr_plan_request after;
    static struct kr_plan next;
    after = *q;
    after.order = q->next;
    after.next_known = false;
    for (int r = 0; r < 2; r++) {
        const struct kr_plan_rail *p = &plan->rail[r];
        for (int i = 0; i < q->geometry.rail[r].n_holders; i++) {
            if (p->holder[i].moved)
                after.rail[r].holder[i].position_um = p->holder[i].target_um;
        }
        if (p->n_moves > 0)
            after.rail[r].carriage_um = p->move[p->n_moves - 1].to_um;
    }
    return kr_plan_make(&after, workspace, &next).code == KR_OK ? next.time_us : -1;
}

static void bench_ahead(int holders, int instances, uint64_t seed, void *workspace)
{
    static struct kr_plan_request q;
    static struct kr_plan plain, ahead;
    int pairs = 0, shorter = 0, longer = 0;
    double plain_sum = 0, gain = 0;
    for (int family = 0; family < RAILS_NOTHING; family++) {
        for (int i = 0; i < 4 * instances; i++) {
            if (!make_pair(family, holders, seed + (uint64_t)i, &q) ||
                kr_plan_make(&q, workspace, &plain).code != KR_OK)
                continue;
            int64_t before_us = next_us(&q, &plain, workspace);
            q.next_known = true;
            if (before_us < 0 || kr_plan_make(&q, workspace, &ahead).code != KR_OK)
                continue;
            int64_t after_us = next_us(&q, &ahead, workspace);
            const char *bad =
                ahead.time_us > plain.time_us ? "the first changeover is longer" : plan_checker(&q, &ahead);
            if (bad != NULL) {
                printf("INVALID %s seed %d: %s\n", rails_name[family], i, bad);
                exit(1);
            }
            pairs++;
            shorter += after_us < before_us;
            longer += after_us > before_us;
            plain_sum += (double)before_us / 1e6;
            gain += (double)(before_us - after_us) / 1e6;
        }
    }
    printf("  next order known: %d pairs of orders; the second changeover is shorter in %d, longer in %d, by "
           "%.2f %% in all\n",
           pairs, shorter, longer, pairs > 0 ? 100 * gain / plain_sum : 0);
}

/* ---- what can't be done ---------------------------------------------------------------------------------------- */

enum { SPOIL_SEIZED, SPOIL_OUT, SPOIL_SHORT, SPOIL_OUTSIDE, SPOILS };

static void spoil(struct kr_plan_request *q, int how)
{
    struct kr_rail_geometry *rail = &q->geometry.rail[0];
    for (int i = 0; i < rail->n_holders; i++) {
        if (how == SPOIL_SEIZED && i % 13 == 6)
            q->rail[0].holder[i].state = KR_HOLDER_FIXED;
        if (how == SPOIL_OUT && i % 7 == 3)
            q->rail[0].holder[i].state = KR_HOLDER_OUT;
    }
    if (how == SPOIL_SHORT)
        rail->max_um -= 100000;
    if (how == SPOIL_OUTSIDE)
        q->geometry.idle_policy = KR_IDLE_OUTSIDE_WEB;
}

/* To find what is at fault may not take longer than a plan does. */
static void bench_refusals(int holders, int instances, uint64_t seed, void *workspace)
{
    static struct kr_plan_request q;
    static struct kr_plan plan;
    int refused = 0;
    double sum_ms = 0, worst_ms = 0;
    for (int family = 0; family < RAILS_FAMILIES; family++) {
        for (int i = 0; i < instances * 4 * SPOILS; i++) {
            struct kr_result r;
            if (!rails_make(family, holders, i % 4, seed + (uint64_t)(i / 4 / SPOILS), &q))
                continue;
            spoil(&q, i / 4 % SPOILS);
            q.budget_steps = 1; /* those that can be done after all needn't be done well */
            double ms = least_ms(&q, workspace, &r, &plan);
            if (r.code == KR_OK)
                continue;
            refused++;
            sum_ms += ms;
            worst_ms = ms > worst_ms ? ms : worst_ms;
        }
    }
    printf("  can't be done: %d refused in %.3f ms (worst %.3f)\n", refused, refused > 0 ? sum_ms / refused : 0,
           worst_ms);
}

int main(int argc, char **argv)
{
    static const int sizes[] = {12, 40, 64, 100, 128};
    int instances = argc > 1 ? atoi(argv[1]) : 3;
    uint64_t seed = argc > 2 ? strtoull(argv[2], NULL, 10) : 1;
    void *workspace = malloc(kr_plan_workspace_size());
    if (workspace == NULL)
        return 2;
    for (size_t s = 0; s < sizeof sizes / sizeof *sizes; s++) {
        if (argc <= 3 || atoi(argv[3]) == sizes[s]) {
            bench(sizes[s], instances, seed, workspace);
            bench_refusals(sizes[s], instances, seed, workspace);
            if (sizes[s] <= 40)
                bench_ahead(sizes[s], instances, seed, workspace);
        }
    }
    free(workspace);
    return 0;
}
