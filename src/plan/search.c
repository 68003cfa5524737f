#include "search.h"

#include <string.h>

#include "ends.h"
#include "few.h"
#include "integers.h"
#include "kick.h"
#include "sequence.h"
#include "shift.h"
#include "start.h"
#include "try.h"

/* On a rail with at most this many holders, all choices that could be better are tried. */
#define SMALL_RAIL 16

/* ---- all assignments that can still be better ------------------------------------------------------------------ */

/* Tries the best choice with other cuts, and without wants where the cuts differ. Then tries these cuts alone, from
 * scratch. */
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
    if (last < 0)
        return;
    try_near(w, r, &c, first, last);
    c = w->partial;
    try_fresh(w, r, &c);
}

/* Enumerates all assignments whose least possible time is below limit_us. leaf is called with each of them and with its
 * least time, and may lower the limit. */
struct walk {
    int64_t limit_us, once_us;
    void (*leaf)(struct search_room *w, const struct rail *r, struct walk *walk, int64_t us);
};

/* Branch and bound, depth first over the holders that cut. The room's path has the lower bounds. us is the cost of all
 * holders up to i, which makes cut j. False: the steps ran out. */
static bool walk_on(struct search_room *w, const struct rail *r, struct walk *walk, int i, int j, int64_t us)
{
    if (j + 1 == r->n_cuts) {
        us += path_between_us(&w->path, r, i, j, r->n);
        if (us < walk->limit_us)
            walk->leaf(w, r, walk, us);
        return w->steps > 0;
    }
    int last = r->n - (r->n_cuts - j - 1);
    for (int next = i + 1; next <= last; next++) {
        int64_t cut = w->path.cost->cut_us[next][j + 1], after = w->path.after_us[next][j + 1];
        if (cut >= NEVER || after >= NEVER || us + cut + after + w->path.least_rest_us[j + 1] >= walk->limit_us)
            continue;
        if ((w->steps -= 4) <= 0)
            return false;
        int64_t between = path_between_us(&w->path, r, i, j, next);
        if (between >= NEVER || us + between + cut + after >= walk->limit_us)
            continue;
        w->partial.cut[next] = (int16_t)(j + 1);
        bool all = walk_on(w, r, walk, next, j + 1, us + between + cut);
        w->partial.cut[next] = IDLE;
        if (!all)
            return false;
    }
    return true;
}

static bool walk_all(struct search_room *w, const struct rail *r, struct walk *walk, int64_t once_us)
{
    choice_clear(&w->partial);
    return walk_on(w, r, walk, NOBODY, -1, once_us);
}

/* Puts prices on the room's path. Returns the amount to be added once. */
static int64_t price_path(struct search_room *w, const struct rail *r)
{
    moves_make(&w->moves, r, &w->best.choice, &w->ways);
    int64_t once_us = price_make(&w->price, &w->match, &w->moves, &w->cost, r, &w->steps);
    path_make(&w->path, r, &w->price.cost, (struct lean){0, 0}, &w->steps);
    return once_us;
}

static void leaf_try(struct search_room *w, const struct rail *r, struct walk *walk, int64_t us)
{
    (void)us;
    try_partial(w, r);
    walk->limit_us = min_i64(walk->limit_us, try_worth_us(w));
}

/* Tries all assignments that can be better, the likely ones first. */
static bool try_all(struct search_room *w, const struct rail *r, int64_t until_steps)
{
    int64_t kept = until_steps > 0 ? until_steps : 0, once_us = price_path(w, r);
    int64_t least = once_us + w->path.least_us, span = try_worth_us(w) - least;
    struct walk walk = {.leaf = leaf_try};
    bool all = true;
    w->steps -= kept;
    for (int share = 8; share >= 1 && all; share /= 2) {
        walk.limit_us = min_i64(least + span / share + 1, try_worth_us(w));
        all = walk_all(w, r, &walk, once_us);
    }
    w->steps = max_i64(w->steps, 0) + kept;
    path_make(&w->path, r, &w->cost, (struct lean){0, 0}, &w->steps);
    return all;
}

static void leaf_few(struct search_room *w, const struct rail *r, struct walk *walk, int64_t us)
{
    (void)us;
    few_try(w, r, walk->once_us);
    walk->limit_us = min_i64(walk->limit_us, try_worth_us(w));
}

/* Does the same with all combinations of ends. True: all that could be better were tried. */
static bool try_few(struct search_room *w, const struct rail *r)
{
    struct walk walk = {.leaf = leaf_few};
    walk.once_us = price_path(w, r);
    walk.limit_us = try_worth_us(w);
    bool all = walk_all(w, r, &walk, walk.once_us) && w->steps > 0;
    path_make(&w->path, r, &w->cost, (struct lean){0, 0}, &w->steps);
    return all;
}

/* ---- finishing ------------------------------------------------------------------------------------------------- */

/* The width of the beam, which is complete if there are few moves. With more moves, kicks lead further than a wide
 * beam. */
static int width_for(int n)
{
    return n <= SMALL_RAIL ? 512 : 8;
}

/* Searches the best choice's sequence from scratch. The present sequence came from sequences of other choices, so that
 * a new search may lead further. */
static void begin_again(struct search_room *w, const struct rail *r)
{
    int16_t sequence[MOVES_MAX];
    moves_make(&w->moves, r, &w->best.choice, &w->ways);
    int64_t time_us = sequence_find(&w->moves, sequence, &w->steps);
    if (time_us < w->best.time_us)
        try_keep(r, &w->best, &w->moves, &w->best.choice, sequence, time_us);
}

static void improve_sequence(struct search_room *w, const struct rail *r)
{
    int16_t sequence[MOVES_MAX];
    struct moves *m = &w->moves;
    moves_make(m, r, &w->best.choice, &w->ways);
    memcpy(sequence, w->best.site, sizeof sequence);
    sequence_improve(m, sequence, &w->steps);
    int64_t time_us = moves_time_us(m, sequence);
    int64_t match_us = bound_match(&w->match, m, &w->steps);
    if (m->n > 1 && beam_search(&w->beam, m, &w->match, match_us, width_for(m->n), sequence, &time_us, &w->best.proven,
                                &w->steps)) {
        sequence_improve(m, sequence, &w->steps);
        time_us = moves_time_us(m, sequence);
    }
    bool proven = m->n <= 1 || w->best.proven;
    try_keep(r, &w->best, m, &w->best.choice, sequence, time_us);
    w->best.proven = proven;
}

static void bound_best(struct search_room *w, const struct rail *r)
{
    moves_make(&w->moves, r, &w->best.choice, &w->ways);
    if (w->best.proven)
        w->best.bound_us = w->best.time_us;
    else
        w->best.bound_us = min_i64(w->best.time_us, bound_sequences(&w->match, &w->moves, r, &w->steps));
}

/* ---- a bound over all choices ---------------------------------------------------------------------------------- */

/* Returns the bound of one assignment: the cost that adds up and, if no holder's end is open, also the best matching of
 * its moves. */
static int64_t bound_partial(struct search_room *w, const struct rail *r, int64_t us)
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

static void leaf_bound(struct search_room *w, const struct rail *r, struct walk *walk, int64_t us)
{
    walk->limit_us = min_i64(walk->limit_us, bound_partial(w, r, us));
}

/* Returns the bound over all choices: the least cost that adds up or, if all assignments can be tried, the least of
 * their own bounds. */
static int64_t bound_choice(struct search_room *w, const struct rail *r)
{
    struct walk walk = {.limit_us = w->best.time_us, .leaf = leaf_bound};
    int64_t once_us = w->cost.first_us, plain = 0;
    bool parks = r->n_cuts == 0 && r->outside;         /* then all ends are open */
    if (w->path.least_us > 0 && w->best.n_moves > 0) { /* otherwise all holders might stay where they are */
        plain = max_i64(0, w->path.least_us + w->cost.first_us);
        once_us = price_path(w, r);
        plain = max_i64(plain, once_us + w->path.least_us);
    }
    w->steps = max_i64(w->steps, INT64_C(100) * r->n); /* enough if few choices are left */
    if (plain < walk.limit_us && !parks && walk_all(w, r, &walk, once_us))
        plain = max_i64(plain, walk.limit_us);
    return min_i64(plain, w->best.time_us);
}

/* ---- one rail -------------------------------------------------------------------------------------------------- */

static void begin(struct search_room *w, const struct rail *rail, int64_t steps)
{
    struct rail *r = &w->here;
    *r = *rail;
    cost_make(&w->cost, r);
    r->crowd = r->n > SMALL_RAIL && crowd_is_there(r) ? &w->crowd : NULL;
    if (r->crowd != NULL)
        crowd_make(&w->crowd, r, &w->cost);
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
    w->ranking = (struct ranking){.cost = &w->cost, .once_us = w->cost.first_us};
}

static void improve(struct search_room *w, const struct rail *r)
{
    bool all = r->n <= SMALL_RAIL && try_all(w, r, w->steps / 3);
    ends_improve(w, r);
    begin_again(w, r);
    improve_sequence(w, r);
    if (few_is_there(r)) {
        all = try_few(w, r);
        improve_sequence(w, r);
    }
    if (all && w->best.proven)
        return;
    kick_choice(w, r, w->steps / 2);
    ends_improve(w, r);
    begin_again(w, r);
    kick_sequence(w, r, 0);
}

void search_bound(struct search_room *w, const struct rail *r, struct solution *s)
{
    w->best = *s;
    bound_best(w, r);
    s->bound_us = w->best.bound_us;
}

bool search_rail(struct search_room *w, const struct rail *rail, struct solution *best, int64_t *bound_us,
                 int64_t *steps)
{
    int64_t for_bound = *steps / 6;
    const struct rail *r = &w->here;
    begin(w, rail, *steps - for_bound);
    start_all(w, r, *steps / 2);
    if (w->best.time_us == INT64_MAX)
        return false;
    if (w->best.time_us > 0)
        improve(w, r);
    if (crowd_is_there(r))
        ends_drop_needless(w, r);
    int64_t left = w->steps;
    w->steps = for_bound;
    bound_best(w, r);
    *bound_us = bound_choice(w, r);
    *best = w->best;
    *steps = left + w->steps;
    return true;
}
