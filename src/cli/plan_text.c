/* kniferail plan as text: before and after drawn to scale, then the moves in their sequence. */
#include <stdio.h>
#include <string.h>

#include "plan_cmd.h"

#define COLUMNS 100

static const char *length(int32_t um, enum kr_length_unit unit)
{
    static char text[4][32];
    static unsigned next;
    char *to = text[next++ % 4];
    kr_length_text(um, unit, to, sizeof text[0]);
    return to;
}

/* Ends a bracket. A bound of 0 is none, where anything moves. */
static void print_bound(int64_t time_us, int64_t bound_us)
{
    if (bound_us > 0 || time_us == 0)
        printf("no plan is under %.3f s)\n", (double)bound_us / 1e6);
    else
        printf("no bound of all plans is claimed)\n");
}

/* ---- drawings -------------------------------------------------------------------------------------------------- */

struct scale {
    int32_t low_um, high_um;
};

/* Wide enough for every rail and the web. */
static struct scale scale_of(const struct plan_job *job)
{
    const struct kr_cuts *c = &job->plan.cuts;
    struct scale s = {c->web_left_um, c->web_right_um};
    for (uint16_t i = 0; i < job->request.geometry.n_rails; i++) {
        const struct kr_rail_geometry *g = &job->request.geometry.rail[i];
        s.low_um = g->min_um < s.low_um ? g->min_um : s.low_um;
        s.high_um = g->max_um > s.high_um ? g->max_um : s.high_um;
    }
    return s;
}

static int column(const struct scale *s, int64_t um)
{
    int64_t span = (int64_t)s->high_um - s->low_um;
    int64_t at = span > 0 ? (um - s->low_um) * (COLUMNS - 1) / span : 0;
    return at < 0 ? 0 : at >= COLUMNS ? COLUMNS - 1 : (int)at;
}

static void mark(char row[], int at, char what)
{
    if (row[at] != '-')
        what = '*'; /* another one was here before */
    row[at] = what;
}

static void draw(const char *name, const char row[])
{
    printf("  %-13s %.*s\n", name, COLUMNS, row);
}

static void draw_web(const struct plan_job *job, const struct scale *s)
{
    char row[COLUMNS];
    const struct kr_cuts *c = &job->plan.cuts;
    memset(row, ' ', sizeof row);
    for (int i = column(s, c->web_left_um); i <= column(s, c->web_right_um); i++)
        row[i] = '=';
    for (uint16_t i = 0; i < c->n_cuts; i++)
        row[column(s, c->cut_um[i])] = '|';
    draw("web and cuts", row);
}

static const char letter_of[] = {
    [KR_HOLDER_IN] = 'o', [KR_HOLDER_OUT] = 'x', [KR_HOLDER_FIXED] = 'F', [KR_HOLDER_ABSENT] = ' '};

static void draw_rail(const struct plan_job *job, const struct scale *s, uint16_t rail, bool after)
{
    char row[COLUMNS], name[32];
    const struct kr_plan_rail *p = &job->plan.rail[rail];
    memset(row, '-', sizeof row);
    for (uint16_t i = 0; i < job->request.geometry.rail[rail].n_holders; i++) {
        const struct kr_holder *h = &job->request.rail[rail].holder[i];
        if (h->state == KR_HOLDER_ABSENT)
            continue;
        int32_t um = after && p->holder[i].moved ? p->holder[i].target_um : h->position_um;
        char what = letter_of[h->state];
        if (after && p->holder[i].cut > 0)
            what = 'V';
        mark(row, column(s, um), what);
    }
    snprintf(name, sizeof name, "%s %s", plan_rail_name(&job->request.geometry, rail),
             after ? "after" : "before");
    draw(name, row);
}

/* ---- lists ----------------------------------------------------------------------------------------------------- */

static void print_moves(const struct plan_job *job, uint16_t rail)
{
    const struct kr_plan_rail *p = &job->plan.rail[rail];
    char why[160];
    printf("\n%s rail: %u moves, %.3f s (no sequence of them is under %.3f s, ",
           plan_rail_name(&job->request.geometry, rail), p->n_moves, (double)p->time_us / 1e6,
           (double)p->sequence_bound_us / 1e6);
    print_bound(p->time_us, p->bound_us);
    for (uint16_t m = 0; m < p->n_moves; m++) {
        const struct kr_move *v = &p->move[m];
        kr_plan_why(&job->request, &job->plan, rail, v->holder, job->length_unit, why, sizeof why);
        printf("  %8.3f s  holder %3u  %14s -> %14s  %s\n", (double)v->start_us / 1e6, v->holder,
               length(v->from_um, job->length_unit), length(v->to_um, job->length_unit), why);
    }
    for (uint16_t i = 0; i < job->request.geometry.rail[rail].n_holders; i++) {
        if (p->holder[i].moved)
            continue;
        kr_plan_why(&job->request, &job->plan, rail, (uint16_t)(i + 1), job->length_unit, why, sizeof why);
        printf("     stays    holder %3u  %14s     %14s  %s\n", i + 1u,
               length(job->request.rail[rail].holder[i].position_um, job->length_unit), "", why);
    }
}

static void print_refusal(const struct plan_job *job)
{
    char text[200], advice[200];
    kr_result_text(&job->result, job->length_unit, text, sizeof text);
    kr_plan_advice(&job->request, &job->result, job->length_unit, advice, sizeof advice);
    printf("refused: %s\n", text);
    if (advice[0] != '\0')
        printf("what would help: %s\n", advice);
}

void plan_print_text(const struct plan_job *job)
{
    if (job->result.code != KR_OK) {
        print_refusal(job);
        return;
    }
    struct scale s = scale_of(job);
    printf("station %s: %u cuts, %.3f s (", job->station->station.name, job->plan.cuts.n_cuts,
           (double)job->plan.time_us / 1e6);
    print_bound(job->plan.time_us, job->plan.bound_us);
    printf("\n");
    draw_web(job, &s);
    for (uint16_t i = 0; i < job->request.geometry.n_rails; i++) {
        draw_rail(job, &s, i, false);
        draw_rail(job, &s, i, true);
    }
    printf("  %-13s %s\n", "",
           "o holder, V cuts, x out of service, F fixed, * several so near; operator side left");
    printf("\ncut lines:");
    for (uint16_t i = 0; i < job->plan.cuts.n_cuts; i++)
        printf("%s %s", i > 0 ? "," : "", length(job->plan.cuts.cut_um[i], job->length_unit));
    printf("\n");
    for (uint16_t i = 0; i < job->request.geometry.n_rails; i++)
        print_moves(job, i);
}
