#include "search.h"

#include <string.h>

#include "ends.h"
#include "kick.h"
#include "shift.h"
#include "try.h"
#include "whole.h"

/* ---- beginnings -------------------------------------------------------------------------------------------------------- */

/* Nothing to cut and everything to clear away: only where left and right part is left to choose. */
static void try_splits(struct search_room *w, const struct rail *r)
{
    struct choice c;
    choice_clear(&c);
    for (w->rail.split = 0; w->rail.split <= r->n; w->rail.split++) {
        rail_mirror(&w->mirrored, &w->rail);
        try_cuts(w, &w->rail, &c);
    }
    w->rail.split = ANY_SPLIT;
    rail_mirror(&w->mirrored, &w->rail);
}

/* Idle holders outside the web: then those that cut are neighbours in service, and only how many idle ones are left of
 * them is left to choose. One more or less changes all moves, so each is looked at by itself. */
static void try_windows(struct search_room *w, const struct rail *r)
{
    struct choice c;
    int in_service = 0;
    for (int i = 0; i < r->n; i++)
        in_service += r->at[i].may_cut;
    for (int idle = 0; idle <= in_service - r->n_cuts && w->steps > 0; idle++) {
        choice_clear(&c);
        for (int i = 0, seen = 0; i < r->n; i++) {
            if (r->at[i].may_cut && seen++ >= idle && seen <= idle + r->n_cuts)
                c.cut[i] = (int16_t)(seen - 1 - idle);
        }
        try_cuts(w, r, &c);
    }
}

static void try_assignments(struct search_room *w, const struct rail *r)
{
    static const int32_t permille[] = {1000, 500, 2000, 0};
    struct choice c;
    choice_clear(&c);
    /* the last one without any: its path serves for bounds */
    for (size_t k = 0; k < sizeof permille / sizeof *permille; k++) {
        path_make(&w->path, r, &w->cost, permille[k], &w->steps);
        if (path_best(&w->path, r, &c))
            try_cuts(w, r, &c);
    }
    if (w->best.time_us == INT64_MAX) {
        w->steps -= INT64_C(8) * r->n_cuts * (r->n - r->n_cuts + 1) * (r->n - r->n_cuts + 1);
        if (assign_best(&w->assign, r, &w->cost, &c))
            try_cuts(w, r, &c);
    }
    if (r->outside && r->n_cuts > 0)
        try_windows(w, r);
}

/* ---- all assignments that can still be better ------------------------------------------------------------------------------ */

/* The best choice with other cuts; without wants where they differ. */
static void try_partial(struct search_room *w, const struct rail *r)
{
    struct choice c = w->best.choice;
    int first = r->n, last = -1;
    for (int i = 0; i < r->n; i++) {
        if (c.cut[i] == w->partial.cut[i])
            continue;
        c.cut[i] = w->partial.cut[i];
        first = last < 0 ? i : first;
        last = i;
    }
    for (int i = first; i <= last; i++) {
        c.want[i] = 0;
        c.goal[i] = NOWHERE;
    }
    if (last >= 0)
        try_near(w, r, &c, first, last);
}

/* Depth first over the holders that cut, cut off where the least possible cost reaches limit_us. us: of all up to holder
 * i, which makes cut j. False if the steps ran out. */
static bool enumerate(struct search_room *w, const struct rail *r, int i, int j, int64_t us, int64_t limit_us)
{
    if (j + 1 == r->n_cuts) {
        try_partial(w, r);
        return w->steps > 0;
    }
    int last = r->n - (r->n_cuts - j - 1);
    for (int next = i + 1; next <= last; next++) {
        int64_t limit = min_i64(limit_us, try_worth_us(w) - w->cost.first_us);
        int64_t cut = w->cost.cut_us[next][j + 1], after = w->path.after_us[next][j + 1];
        if (cut >= NEVER || after >= NEVER || us + cut + after >= limit)
            continue;
        if ((w->steps -= 4) <= 0)
            return false;
        int64_t between = path_between_us(&w->path, r, i, j, next);
        if (between >= NEVER || us + between + cut + after >= limit)
            continue;
        w->partial.cut[next] = (int16_t)(j + 1);
        bool all = enumerate(w, r, next, j + 1, us + between + cut, limit_us);
        w->partial.cut[next] = IDLE;
        if (!all)
            return false;
    }
    return true;
}

static bool enumerate_all(struct search_room *w, const struct rail *r, int64_t until_steps)
{
    int64_t kept = until_steps > 0 ? until_steps : 0;
    w->steps -= kept;
    choice_clear(&w->partial);
    int64_t least = w->path.least_us, span = try_worth_us(w) - w->cost.first_us - least;
    bool all = true;
    for (int share = 8; share >= 1 && all; share /= 2)
        all = enumerate(w, r, NOBODY, -1, 0, least + span / share + 1);
    w->steps = max_i64(w->steps, 0) + kept;
    return all;
}

/* ---- finishing ---------------------------------------------------------------------------------------------------------------- */

/* A beam wide enough to be complete where moves are few. */
static int width_for(int n)
{
    return n <= 16 ? 512 : n <= 48 ? 64 : 16;
}

/* The best choice's order comes from other choices' orders: perhaps a fresh beginning leads further by now. */
static void begin_again(struct search_room *w, const struct rail *r)
{
    int16_t order[MOVES_MAX];
    moves_make(&w->moves, r, &w->best.choice, &w->ways);
    int64_t time_us = order_find(&w->moves, order, &w->steps);
    if (time_us < w->best.time_us)
        try_keep(&w->best, &w->moves, &w->best.choice, order, time_us);
}

static void improve_order(struct search_room *w, const struct rail *r)
{
    int16_t order[MOVES_MAX];
    struct moves *m = &w->moves;
    moves_make(m, r, &w->best.choice, &w->ways);
    memcpy(order, w->best.site, sizeof order);
    order_improve(m, order, &w->steps);
    int64_t time_us = moves_time_us(m, order);
    int64_t match_us = bound_match(&w->match, m, &w->steps);
    if (m->n > 1 && beam_search(&w->beam, m, &w->match, match_us, width_for(m->n), order, &time_us,
                                &w->best.proven, &w->steps)) {
        order_improve(m, order, &w->steps);
        time_us = moves_time_us(m, order);
    }
    bool proven = m->n <= 1 || w->best.proven;
    try_keep(&w->best, m, &w->best.choice, order, time_us);
    w->best.proven = proven;
}

static void bound_best(struct search_room *w, const struct rail *r)
{
    moves_make(&w->moves, r, &w->best.choice, &w->ways);
    if (w->best.proven)
        w->best.bound_us = w->best.time_us;
    else
        w->best.bound_us = min_i64(w->best.time_us, bound_order(&w->match, &w->moves, r, &w->steps));
}

/* ---- a bound over all choices --------------------------------------------------------------------------------------------- */

/* Of one assignment: what adds up; and where nobody's end is open, also the best matching of its moves. */
static int64_t bound_leaf(struct search_room *w, const struct rail *r, int64_t us)
{
    struct choice c = w->partial;
    w->steps -= INT64_C(32) * r->n;
    if (!choice_settle(r, &w->mirrored, &c))
        return NEVER;
    for (int i = 0; i < r->n; i++) {
        if (c.end[i].moved && ends_optional(r, &c, i))
            return us;
    }
    if (memcmp(c.cut, w->best.choice.cut, (size_t)r->n * sizeof *c.cut) == 0)
        return w->best.bound_us;
    moves_make(&w->moves, r, &c, &w->ways);
    return max_i64(us, bound_match(&w->match, &w->moves, &w->steps));
}

/* The least bound of all assignments that could be better than the best, by the costs of the path and what is to be added
 * once. False if the steps ran out. */
static bool bound_all(struct search_room *w, const struct rail *r, int i, int j, int64_t us,
                      int64_t *least_us)
{
    if (j + 1 == r->n_cuts) {
        us += path_between_us(&w->path, r, i, j, r->n);
        if (us < *least_us)
            *least_us = min_i64(*least_us, bound_leaf(w, r, us));
        return w->steps > 0;
    }
    int last = r->n - (r->n_cuts - j - 1);
    for (int next = i + 1; next <= last; next++) {
        int64_t cut = w->path.cost->cut_us[next][j + 1], after = w->path.after_us[next][j + 1];
        if (cut >= NEVER || after >= NEVER || us + cut + after >= *least_us)
            continue;
        if ((w->steps -= 4) <= 0)
            return false;
        int64_t between = path_between_us(&w->path, r, i, j, next);
        if (between >= NEVER || us + between + cut + after >= *least_us)
            continue;
        w->partial.cut[next] = (int16_t)(j + 1);
        bool all = bound_all(w, r, next, j + 1, us + between + cut, least_us);
        w->partial.cut[next] = IDLE;
        if (!all)
            return false;
    }
    return true;
}

/* What adds up at least; where all assignments can be looked at, the least of their own bounds. */
static int64_t bound_choice(struct search_room *w, const struct rail *r)
{
    int64_t us = w->best.time_us, once_us = w->cost.first_us, plain = 0;
    bool parks = r->n_cuts == 0 && r->outside;         /* there the ends are all open */
    if (w->path.least_us > 0 && w->best.n_moves > 0) { /* else all might stay where they are */
        plain = max_i64(0, w->path.least_us + w->cost.first_us);
        moves_make(&w->moves, r, &w->best.choice, &w->ways);
        int64_t priced = price_bound(&w->price, &w->match, &w->path, &w->moves, &w->cost, r, &w->steps);
        once_us = priced - w->path.least_us;
        plain = max_i64(plain, priced);
    }
    w->steps = max_i64(w->steps, INT64_C(100) * r->n); /* enough where little is left to choose */
    choice_clear(&w->partial);
    if (plain < us && !parks && bound_all(w, r, NOBODY, -1, once_us, &us))
        plain = max_i64(plain, us);
    return min_i64(plain, w->best.time_us);
}

/* ---- one rail ---------------------------------------------------------------------------------------------------------------- */

static void begin(struct search_room *w, const struct rail *r, int64_t steps)
{
    ways_reset(&w->ways, r);
    memset(w->tried, 0, sizeof w->tried);
    choice_clear(&w->partial);
    w->rail = *r;
    rail_mirror(&w->mirrored, r);
    w->steps = steps;
    w->random = 1;
    w->best.time_us = INT64_MAX;
    w->best.n_moves = 0;
    w->best.bound_us = 0;
    w->best.proven = false;
    w->n_pool = 0;
    cost_make(&w->cost, r);
}

static void improve(struct search_room *w, const struct rail *r)
{
    shift_improve(w, r, 100000);
    shift_improve(w, r, 1000000);
    for (int times = 0; times < 8 && shift_improve_twice(w, r, 5000000, 200); times++)
        shift_improve(w, r, 1000000);
    bool all = enumerate_all(w, r, w->steps * 2 / 3);
    ends_improve(w, r);
    begin_again(w, r);
    improve_order(w, r);
    if (all && w->best.proven)
        return;
    kick_choice(w, r, w->steps / 2);
    ends_improve(w, r);
    begin_again(w, r);
    kick_order(w, r, 0);
}

void search_bound(struct search_room *w, const struct rail *r, struct solution *s)
{
    w->best = *s;
    bound_best(w, r);
    s->bound_us = w->best.bound_us;
}

bool search_rail(struct search_room *w, const struct rail *r, struct solution *best, int64_t *bound_us,
                 int64_t *steps)
{
    int64_t for_bound = *steps / 6;
    begin(w, r, *steps - for_bound);
    try_assignments(w, r);
    if (r->n_cuts == 0 && r->outside)
        try_splits(w, r);
    if (w->best.time_us == INT64_MAX)
        return false;
    if (w->best.time_us > 0)
        improve(w, r);
    int64_t left = w->steps;
    w->steps = for_bound;
    bound_best(w, r);
    *bound_us = bound_choice(w, r);
    *best = w->best;
    *steps = left + w->steps;
    return true;
}
