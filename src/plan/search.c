#include "search.h"

#include <string.h>

#include "whole.h"

#define LONGEST 12 /* moves in one block, while many choices are tried */

static void keep(struct search_room *w, const struct choice *c, const int16_t order[], int64_t time_us,
                 struct solution *s)
{
    s->choice = *c;
    s->time_us = time_us;
    s->n_moves = w->moves.n;
    for (int k = 0; k < w->moves.n; k++)
        s->site[k] = w->moves.site[order[k]];
}

static bool is_better(const struct moves *m, int64_t time_us, const struct solution *than)
{
    return time_us < than->time_us || (time_us == than->time_us && m->n < than->n_moves);
}

/* Judges a choice whose cuts are set, from scratch or near the best one's order. */
static bool try_choice(struct search_room *w, const struct rail *r, struct choice *c, bool near, int64_t *steps)
{
    int16_t order[MOVES_MAX];
    int64_t time_us;
    if (!choice_settle(r, c))
        return false;
    if (w->best.time_us < INT64_MAX && moves_fixed_us(r, c) > w->best.time_us)
        return false;
    moves_make(&w->moves, r, c, &w->ways);
    if (near)
        time_us = order_adapt(&w->moves, w->best.site, w->best.n_moves, order, LONGEST, steps);
    else
        time_us = order_find(&w->moves, order, LONGEST, steps);
    if (!is_better(&w->moves, time_us, &w->best))
        return false;
    keep(w, c, order, time_us, &w->best);
    return true;
}

/* Holder b cuts instead of a: everybody between them takes the neighbouring cut. */
static void shift_run(const struct choice *from, int a, int b, struct choice *to)
{
    int cut = from->cut[a], step = a < b ? 1 : -1;
    memcpy(to->cut, from->cut, sizeof to->cut);
    to->cut[a] = IDLE;
    for (int i = a + step; i != b + step; i += step) {
        if (to->cut[i] == IDLE && i != b)
            continue;
        int next = to->cut[i];
        to->cut[i] = (int16_t)cut;
        cut = next;
    }
}

static bool improve_by_shift(struct search_room *w, const struct rail *r, int a, int64_t *steps)
{
    struct choice c;
    for (int step = -1; step <= 1; step += 2) {
        for (int b = a + step; b >= 0 && b < r->n && *steps > 0; b += step) {
            if (w->best.choice.cut[a] == IDLE)
                return false;
            if (w->best.choice.cut[b] != IDLE || !r->at[b].may_cut)
                continue;
            shift_run(&w->best.choice, a, b, &c);
            *steps -= r->n;
            if (try_choice(w, r, &c, true, steps))
                return true;
        }
    }
    return false;
}

static void improve_choice(struct search_room *w, const struct rail *r, int64_t *steps)
{
    for (int a = 0, idle = 0; idle < r->n && *steps > 0; a = (a + 1) % r->n) {
        bool better = w->best.choice.cut[a] != IDLE && improve_by_shift(w, r, a, steps);
        idle = better ? 0 : idle + 1;
    }
}

static void improve_order(struct search_room *w, const struct rail *r, int width, int64_t *steps)
{
    int16_t order[MOVES_MAX];
    bool proven;
    moves_make(&w->moves, r, &w->best.choice, &w->ways);
    int64_t time_us = order_adapt(&w->moves, w->best.site, w->best.n_moves, order, MOVES_MAX, steps);
    int64_t match_us = bound_match(&w->match, &w->moves, steps);
    if (w->moves.n > 1 && beam_search(&w->beam, &w->moves, &w->match, match_us, width, order, &time_us, &proven, steps)) {
        order_improve(&w->moves, order, MOVES_MAX, steps);
        time_us = moves_time_us(&w->moves, order);
    }
    keep(w, &w->best.choice, order, time_us, &w->best);
    w->best.bound_us = bound_order(&w->match, &w->moves, r, steps);
}

/* Nothing to cut and everything to clear away: only where left and right part is left to choose. */
static bool try_splits(struct search_room *w, const struct rail *r, int64_t *steps)
{
    struct rail part = *r;
    struct choice c;
    for (int i = 0; i < r->n; i++)
        c.cut[i] = IDLE;
    for (part.split = 0; part.split <= r->n; part.split++)
        try_choice(w, &part, &c, false, steps);
    return w->best.time_us < INT64_MAX;
}

static bool try_assignments(struct search_room *w, const struct rail *r, int64_t *steps)
{
    static const int32_t permille[] = { 1000, 0, 500, 1500 };
    struct choice c;
    for (size_t k = 0; k < sizeof permille / sizeof *permille; k++) {
        assign_costs(&w->assign, r, permille[k]);
        if (!assign_best(&w->assign, r, &c))
            return false;
        try_choice(w, r, &c, false, steps);
    }
    return true;
}

bool search_rail(struct search_room *w, const struct rail *r, struct solution *best, int64_t *bound_us,
                 int64_t *steps)
{
    ways_reset(&w->ways, r);
    w->best.time_us = INT64_MAX;
    if (r->n_cuts == 0 && r->outside ? !try_splits(w, r, steps) : !try_assignments(w, r, steps))
        return false;
    improve_choice(w, r, steps);
    improve_order(w, r, 128, steps);
    *best = w->best;
    *bound_us = 0;
    return true;
}
