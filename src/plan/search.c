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
    for (w->rail.split = 0; w->rail.split <= r->n; w->rail.split++)
        try_cuts(w, &w->rail, &c, false);
    w->rail.split = ANY_SPLIT;
}

static void try_assignments(struct search_room *w, const struct rail *r)
{
    static const int32_t permille[] = {1000, 0, 500, 1500, 250, 2500};
    struct choice c;
    choice_clear(&c);
    for (size_t k = 0; k < sizeof permille / sizeof *permille; k++) {
        cost_look_ahead(&w->cost, r, permille[k]);
        w->steps -= (int64_t)r->n * (r->n_cuts + 1) / 8;
        if (cost_best(&w->cost, r, &c))
            try_cuts(w, r, &c, false);
    }
    if (w->best.time_us < INT64_MAX)
        return;
    if (assign_best(&w->assign, r, &w->cost, &c))
        try_cuts(w, r, &c, false);
}

/* ---- all assignments that can still be better ------------------------------------------------------------------------------ */

/* Depth first, cheaper branch first, cut off where the least possible cost reaches limit_us. False if the steps ran
 * out. */
static bool enumerate(struct search_room *w, const struct rail *r, int i, int j, int64_t us, int64_t limit_us)
{
    if (us + w->cost.ahead_us[i][j] >= min_i64(limit_us, try_worth_us(w) - w->cost.first_us))
        return true;
    if (--w->steps <= 0)
        return false;
    if (i == r->n) {
        struct choice c = w->partial;
        try_cuts(w, r, &c, true);
        return true;
    }
    int64_t rest = w->cost.rest_us[i][j] + w->cost.ahead_us[i + 1][j], cut = NEVER;
    if (j < r->n_cuts)
        cut = w->cost.cut_us[i][j] + w->cost.ahead_us[i + 1][j + 1];
    for (int turn = 0; turn < 2; turn++) {
        bool cuts = (cut < rest) == (turn == 0);
        w->partial.cut[i] = (int16_t)(cuts ? j : IDLE);
        if (cuts && cut < NEVER && !enumerate(w, r, i + 1, j + 1, us + w->cost.cut_us[i][j], limit_us))
            return false;
        if (!cuts && rest < NEVER && !enumerate(w, r, i + 1, j, us + w->cost.rest_us[i][j], limit_us))
            return false;
    }
    return true;
}

static bool enumerate_all(struct search_room *w, const struct rail *r, int64_t until_steps)
{
    int64_t kept = until_steps > 0 ? until_steps : 0;
    w->steps -= kept;
    cost_look_ahead(&w->cost, r, 0);
    int64_t least = w->cost.ahead_us[0][0], span = try_worth_us(w) - w->cost.first_us - least;
    bool all = true;
    for (int share = 8; share >= 1 && all; share /= 2)
        all = enumerate(w, r, 0, 0, 0, least + span / share + 1);
    w->steps = max_i64(w->steps, 0) + kept;
    return all;
}

/* ---- finishing ---------------------------------------------------------------------------------------------------------------- */

/* A beam wide enough to be complete where moves are few. */
static int width_for(int n)
{
    return n <= 16 ? 512 : n <= 48 ? 64 : 16;
}

static void improve_order(struct search_room *w, const struct rail *r)
{
    int16_t order[MOVES_MAX];
    struct moves *m = &w->moves;
    moves_make(m, r, &w->best.choice, &w->ways);
    int64_t time_us = order_adapt(m, w->best.site, w->best.n_moves, order, MOVES_MAX, &w->steps);
    int64_t match_us = bound_match(&w->match, m, &w->steps);
    if (m->n > 1 && beam_search(&w->beam, m, &w->match, match_us, width_for(m->n), order, &time_us,
                                &w->best.proven, &w->steps)) {
        order_improve(m, order, MOVES_MAX, &w->steps);
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
    if (!choice_settle(r, &c))
        return NEVER;
    for (int i = 0; i < r->n; i++) {
        if (c.end[i].moved && ends_optional(r, &c, i))
            return us + w->cost.first_us;
    }
    if (memcmp(c.cut, w->best.choice.cut, (size_t)r->n * sizeof *c.cut) == 0)
        return w->best.bound_us;
    moves_make(&w->moves, r, &c, &w->ways);
    return max_i64(us + w->cost.first_us, bound_match(&w->match, &w->moves, &w->steps));
}

/* The least bound of all assignments that could be better than the best. False if the steps ran out. */
static bool bound_all(struct search_room *w, const struct rail *r, int i, int j, int64_t us,
                      int64_t *least_us)
{
    if (us + w->cost.ahead_us[i][j] + w->cost.first_us >= *least_us)
        return true;
    if (--w->steps <= 0)
        return false;
    if (i == r->n) {
        *least_us = min_i64(*least_us, bound_leaf(w, r, us));
        return true;
    }
    w->partial.cut[i] = (int16_t)j;
    if (j < r->n_cuts && w->cost.cut_us[i][j] < NEVER &&
        !bound_all(w, r, i + 1, j + 1, us + w->cost.cut_us[i][j], least_us))
        return false;
    w->partial.cut[i] = IDLE;
    return w->cost.rest_us[i][j] >= NEVER || bound_all(w, r, i + 1, j, us + w->cost.rest_us[i][j], least_us);
}

/* What adds up at least; where all assignments can be looked at, the least of their own bounds. */
static int64_t bound_choice(struct search_room *w, const struct rail *r)
{
    cost_look_ahead(&w->cost, r, 0);
    int64_t least = w->cost.ahead_us[0][0], us = w->best.time_us;
    int64_t plain = least == 0 ? 0 : max_i64(0, least + w->cost.first_us);
    if (least > 0 && w->best.n_moves > 0) {
        moves_make(&w->moves, r, &w->best.choice, &w->ways);
        plain = max_i64(plain, price_bound(&w->price, &w->match, &w->moves, &w->cost, r, &w->steps));
    }
    bool parks = r->n_cuts == 0 && r->outside; /* there the ends are all open */
    w->steps = INT64_C(200) * r->n;
    if (plain >= us || parks || !bound_all(w, r, 0, 0, 0, &us))
        return min_i64(plain, w->best.time_us);
    return max_i64(us, plain);
}

/* ---- one rail ---------------------------------------------------------------------------------------------------------------- */

static void begin(struct search_room *w, const struct rail *r, int64_t steps)
{
    ways_reset(&w->ways, r);
    memset(w->tried, 0, sizeof w->tried);
    choice_clear(&w->partial);
    w->rail = *r;
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
    bool all = enumerate_all(w, r, w->steps * 2 / 3);
    ends_improve(w, r);
    improve_order(w, r);
    if (all && w->best.proven)
        return;
    kick_choice(w, r, w->steps / 2);
    ends_improve(w, r);
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
    begin(w, r, *steps);
    if (r->n_cuts == 0 && r->outside)
        try_splits(w, r);
    else
        try_assignments(w, r);
    if (w->best.time_us == INT64_MAX)
        return false;
    if (w->best.time_us > 0)
        improve(w, r);
    *steps = w->steps;
    bound_best(w, r);
    *bound_us = bound_choice(w, r);
    *best = w->best;
    return true;
}
