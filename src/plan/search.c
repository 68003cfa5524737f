#include "search.h"

#include <string.h>

#include "whole.h"

#define LONGEST 12 /* moves in one block, while many choices are tried */

/* ---- one choice ------------------------------------------------------------------------------------------------------ */

static void keep(struct solution *s, const struct moves *m, const struct choice *c, const int16_t order[],
                 int64_t time_us)
{
    s->choice = *c;
    s->time_us = time_us;
    s->n_moves = m->n;
    s->proven = false;
    for (int k = 0; k < m->n; k++)
        s->site[k] = m->site[order[k]];
}

static bool is_better(const struct moves *m, int64_t time_us, const struct solution *than)
{
    return time_us < than->time_us || (time_us == than->time_us && m->n < than->n_moves);
}

/* Has this assignment come up before? Remembers it, as long as there is room. */
static bool is_known(struct search_room *w, const struct rail *r, const struct choice *c)
{
    uint64_t h = (uint64_t)w->rail.split + 2;
    for (int i = 0; i < r->n; i++)
        h = (h ^ ((uint64_t)c->cut[i] + 2)) * UINT64_C(0x100000001b3) + (h >> 31);
    h |= 1;
    for (uint32_t at = (uint32_t)(h >> 20) % TRIED_MAX, n = 0; n < 32; n++, at = (at + 1) % TRIED_MAX) {
        if (w->tried[at] == h)
            return true;
        if (w->tried[at] == 0) {
            w->tried[at] = h;
            return false;
        }
    }
    return false;
}

/* What takes longer is of no use. */
static int64_t worth_us(const struct search_room *w)
{
    return max_i64(w->best.time_us, w->limit_us);
}

/* How far the holders in service end from where an order that follows wants them: what the pool is kept by. */
static int64_t ahead_um(const struct search_room *w, const struct rail *r, const struct choice *c)
{
    int64_t sum = 0;
    for (int j = 0; j < w->n_ahead; j++) {
        int64_t nearest = NOWHERE;
        for (int i = 0; i < r->n; i++) {
            if (r->at[i].may_cut)
                nearest = min_i64(nearest, abs_i64(w->ahead[j] - r->at[i].edge - c->end[i].x));
        }
        sum += nearest;
    }
    return sum;
}

/* Keeps what takes no longer than limit_us, those that end nearest to what follows. */
static void pool(struct search_room *w, const struct rail *r, const struct choice *c, const int16_t order[],
                 int64_t time_us)
{
    int at = w->n_pool;
    int64_t um = ahead_um(w, r, c);
    if (w->n_pool == POOL_MAX) {
        at = 0;
        for (int k = 1; k < POOL_MAX; k++)
            at = w->pool_um[k] > w->pool_um[at] ? k : at;
        if (um >= w->pool_um[at])
            return;
    } else {
        w->n_pool++;
    }
    keep(&w->pool[at], &w->moves, c, order, time_us);
    w->pool[at].bound_us = 0;
    w->pool_um[at] = um;
}

/* Judges a settled choice, from scratch or beginning with the best one's order. */
static bool try_settled(struct search_room *w, const struct rail *r, const struct choice *c, bool near)
{
    int16_t order[MOVES_MAX];
    int64_t time_us;
    w->steps -= (int64_t)r->n * (r->n / 8 + 1);
    if (moves_fixed_us(r, c) >= worth_us(w))
        return false;
    moves_make(&w->moves, r, c, &w->ways);
    if (near)
        time_us = order_adapt(&w->moves, w->best.site, w->best.n_moves, order, LONGEST, &w->steps);
    else
        time_us = order_find(&w->moves, order, LONGEST, &w->steps);
    if (time_us <= w->limit_us)
        pool(w, r, c, order, time_us);
    if (!is_better(&w->moves, time_us, &w->best))
        return false;
    keep(&w->best, &w->moves, c, order, time_us);
    return true;
}

/* Judges a choice whose cuts are set. */
static bool try_cuts(struct search_room *w, const struct rail *r, struct choice *c, bool near)
{
    w->steps -= r->n;
    if (is_known(w, r, c))
        return false;
    w->steps -= INT64_C(8) * r->n;
    if (!choice_settle(r, c))
        return false;
    return try_settled(w, r, c, near);
}

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

/* ---- neighbouring assignments ------------------------------------------------------------------------------------------- */

/* Holder b cuts instead of a: everybody between them takes the neighbouring cut. */
static void shift_run(const struct choice *from, int a, int b, struct choice *to)
{
    int cut = from->cut[a], step = a < b ? 1 : -1;
    choice_clear(to);
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

static int64_t added_up(const struct cost *c, const struct rail *r, const struct choice *choice)
{
    int64_t us = 0;
    for (int i = 0, j = 0; i < r->n && us < NEVER; i++)
        us += choice->cut[i] == IDLE ? c->rest_us[i][j] : c->cut_us[i][j++];
    return us;
}

/* Tries b instead of a, unless what adds up grows by more than slack_us: the empty ways won't make up for that. */
static bool try_shift(struct search_room *w, const struct rail *r, int a, int b, int64_t slack_us)
{
    struct choice c;
    if (w->best.choice.cut[b] != IDLE || !r->at[b].may_cut)
        return false;
    shift_run(&w->best.choice, a, b, &c);
    w->steps -= r->n / 4;
    int64_t us = added_up(&w->cost, r, &c);
    if (us + w->cost.first_us >= worth_us(w) || us > added_up(&w->cost, r, &w->best.choice) + slack_us)
        return false;
    return try_cuts(w, r, &c, true);
}

/* Nearest replacements first. */
static bool improve_by_shift(struct search_room *w, const struct rail *r, int a, int64_t slack_us)
{
    for (int away = 1; away < r->n && w->steps > 0; away++) {
        if ((a - away >= 0 && try_shift(w, r, a, a - away, slack_us)) ||
            (a + away < r->n && try_shift(w, r, a, a + away, slack_us)))
            return true;
    }
    return false;
}

static void improve_choice(struct search_room *w, const struct rail *r, int64_t slack_us)
{
    for (int a = 0, idle = 0; idle < r->n && w->steps > 0; a = (a + 1) % r->n) {
        bool better = w->best.choice.cut[a] != IDLE && improve_by_shift(w, r, a, slack_us);
        idle = better ? 0 : idle + 1;
    }
}

/* ---- kicks: worsen the best a little at random, improve that, keep it if it comes out better --------------------------- */

static uint32_t random_below(struct search_room *w, uint32_t n)
{
    w->random = w->random * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (uint32_t)((w->random >> 33) % n);
}

/* Exchanges some blocks somewhere in one stretch of the order, as far as that is allowed. */
static void shake(struct search_room *w, int16_t order[])
{
    const struct moves *m = &w->moves;
    int at = (int)random_below(w, (uint32_t)m->n);
    for (int times = 0; times < 3; times++) {
        int i = at + (int)random_below(w, 12), j = i + 1 + (int)random_below(w, 6),
            k = j + 1 + (int)random_below(w, 6);
        if (k <= m->n)
            order_exchange(m, order, i, j, k);
    }
}

static void kick_order(struct search_room *w, const struct rail *r, int64_t until_steps)
{
    int16_t best[MOVES_MAX], order[MOVES_MAX];
    struct moves *m = &w->moves;
    moves_make(m, r, &w->best.choice, &w->ways);
    int64_t best_us = order_adapt(m, w->best.site, w->best.n_moves, best, MOVES_MAX, &w->steps);
    while (m->n > 3 && w->steps > until_steps) {
        w->steps -= INT64_C(2) * m->n; /* even if nothing can be exchanged */
        memcpy(order, best, sizeof order);
        shake(w, order);
        order_improve(m, order, LONGEST, &w->steps);
        int64_t us = moves_time_us(m, order);
        if (us <= best_us) {
            best_us = us;
            memcpy(best, order, sizeof best);
        }
    }
    keep(&w->best, m, &w->best.choice, best, best_us);
}

/* Some other assignment nearby: two shifts in one neighbourhood. */
static bool kick_cuts(struct search_room *w, const struct rail *r, struct choice *c)
{
    int at = (int)random_below(w, r->n), done = 0;
    *c = w->best.choice;
    for (int tries = 0; tries < 20 && done < 2; tries++) {
        int a = at + (int)random_below(w, 10) - 5, b = at + (int)random_below(w, 10) - 5;
        if (a < 0 || b < 0 || a >= r->n || b >= r->n || c->cut[a] == IDLE || c->cut[b] != IDLE ||
            !r->at[b].may_cut)
            continue;
        struct choice from = *c;
        shift_run(&from, a, b, c);
        done++;
    }
    return done > 0 && choice_settle(r, c);
}

static void kick_choice(struct search_room *w, const struct rail *r, int64_t until_steps)
{
    int16_t order[MOVES_MAX];
    for (int tries = 0; tries < 100000 && w->steps > until_steps; tries++) {
        w->steps -= INT64_C(10) * r->n;
        w->before = w->best;
        if (!kick_cuts(w, r, &w->best.choice)) {
            w->best = w->before;
            continue;
        }
        moves_make(&w->moves, r, &w->best.choice, &w->ways);
        int64_t us = order_adapt(&w->moves, w->before.site, w->before.n_moves, order, LONGEST, &w->steps);
        keep(&w->best, &w->moves, &w->best.choice, order, us);
        improve_choice(w, r, 0);
        if (w->best.time_us > w->before.time_us)
            w->best = w->before;
    }
}

/* ---- all assignments that can still be better ------------------------------------------------------------------------------ */

/* Depth first, cheaper branch first, cut off where the least possible cost reaches limit_us. False if the steps ran
 * out. */
static bool enumerate(struct search_room *w, const struct rail *r, int i, int j, int64_t us, int64_t limit_us)
{
    if (us + w->cost.ahead_us[i][j] >= min_i64(limit_us, worth_us(w) - w->cost.first_us))
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
    int64_t least = w->cost.ahead_us[0][0], span = worth_us(w) - w->cost.first_us - least;
    bool all = true;
    for (int share = 8; share >= 1 && all; share /= 2)
        all = enumerate(w, r, 0, 0, 0, least + span / share + 1);
    w->steps = max_i64(w->steps, 0) + kept;
    return all;
}

/* ---- the same cuts, other ends ------------------------------------------------------------------------------------------ */

static bool is_optional(const struct rail *r, const struct choice *c, int i)
{
    if (!r->at[i].may_move)
        return false;
    return c->cut[i] == IDLE || abs_i64(rail_target(r, i, c->cut[i]) - r->at[i].p) <= r->deadband;
}

#define AROUND 6

/* Everybody stays or moves as they do now, but i, or j instead of i; or j instead of all around i. */
static bool try_instead(struct search_room *w, const struct rail *r, int i, int j, bool all)
{
    struct choice c = w->best.choice;
    for (int k = 0; k < r->n; k++) {
        bool stays = !c.end[k].moved || (all && k >= i - AROUND && k <= i + AROUND);
        c.want[k] = (int16_t)(!is_optional(r, &c, k) ? 0 : stays ? -1 : 1);
    }
    c.want[i] = -1;
    c.want[j] = (int16_t)(i == j ? -1 : 1);
    w->steps -= INT64_C(8) * r->n;
    return choice_settle(r, &c) && try_settled(w, r, &c, true);
}

static bool improve_movers(struct search_room *w, const struct rail *r)
{
    for (int i = 0; i < r->n && w->steps > 0; i++) {
        if (!w->best.choice.end[i].moved || !is_optional(r, &w->best.choice, i))
            continue;
        for (int j = max_int(0, i - AROUND); j <= i + AROUND && j < r->n; j++) {
            bool free = is_optional(r, &w->best.choice, j) && (j == i || !w->best.choice.end[j].moved);
            if (free && (try_instead(w, r, i, j, false) || try_instead(w, r, i, j, true)))
                return true;
        }
    }
    return false;
}

/* An idle holder that has to move may be better off further away, nearer to the next move. */
static bool try_end(struct search_room *w, const struct rail *r, int i, int64_t x)
{
    struct choice c = w->best.choice;
    c.end[i].x = x;
    w->steps -= INT64_C(8) * r->n;
    return choice_is_legal(r, &c) && try_settled(w, r, &c, true);
}

/* The ends of what is allowed: beside where a neighbour ends, or beside where it starts, so as to be free to go first. */
static bool try_places(struct search_room *w, const struct rail *r, int i)
{
    const struct end *end = w->best.choice.end;
    int64_t low[2] = {r->min, r->min}, high[2] = {r->max, r->max};
    if (i > 0) {
        low[0] = end[i - 1].x + r->at[i - 1].gap;
        low[1] = r->at[i - 1].p + r->at[i - 1].gap;
    }
    if (i + 1 < r->n) {
        high[0] = end[i + 1].x - r->at[i].gap;
        high[1] = r->at[i + 1].p - r->at[i].gap;
    }
    for (int k = 0; k < 2; k++) {
        if (try_end(w, r, i, rail_rest_right(r, i, low[k])) ||
            try_end(w, r, i, rail_rest_left(r, i, high[k])))
            return true;
    }
    return false;
}

static bool improve_places(struct search_room *w, const struct rail *r)
{
    for (int i = 0; i < r->n && w->steps > 0; i++) {
        const struct choice *c = &w->best.choice;
        if (!c->end[i].moved || c->cut[i] != IDLE)
            continue;
        if (try_places(w, r, i))
            return true;
    }
    return false;
}

static void improve_ends(struct search_room *w, const struct rail *r)
{
    while (w->steps > 0 && (improve_movers(w, r) || improve_places(w, r)))
        continue;
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
    keep(&w->best, m, &w->best.choice, order, time_us);
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
        if (c.end[i].moved && is_optional(r, &c, i))
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
    bool parks = r->n_cuts == 0 && r->outside; /* there the ends are all open */
    w->steps = INT64_C(200) * r->n;
    if (plain >= us || parks || r->n > 24 || !bound_all(w, r, 0, 0, 0, &us))
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
    improve_choice(w, r, 100000);
    improve_choice(w, r, 1000000);
    bool all = enumerate_all(w, r, w->steps * 2 / 3);
    improve_ends(w, r);
    improve_order(w, r);
    if (all && w->best.proven)
        return;
    kick_choice(w, r, w->steps / 2);
    improve_ends(w, r);
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
