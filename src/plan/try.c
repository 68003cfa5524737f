#include "try.h"

#include <string.h>

#include "integers.h"
#include "sequence.h"

void try_keep(const struct rail *r, struct solution *s, const struct moves *m, const struct choice *c,
              const int16_t sequence[], int64_t time_us)
{
    if (c != &s->choice)
        choice_copy(r, &s->choice, c);
    s->time_us = time_us;
    s->n_moves = m->n;
    s->proven = false;
    memcpy(s->site, sequence, (size_t)m->n * sizeof *sequence);
}

void try_copy(const struct rail *r, struct solution *to, const struct solution *from)
{
    choice_copy(r, &to->choice, &from->choice);
    memcpy(to->site, from->site, (size_t)from->n_moves * sizeof *from->site);
    to->n_moves = from->n_moves;
    to->time_us = from->time_us;
    to->bound_us = from->bound_us;
    to->proven = from->proven;
}

bool try_beats(int64_t time_us, int n_moves, const struct solution *than)
{
    return time_us < than->time_us || (time_us == than->time_us && n_moves < than->n_moves);
}

/* Mixes v so that each of its bits changes half of the bits of the result. (G. L. Steele, D. Lea and C. H. Flood, Fast
 * splittable pseudorandom number generators, OOPSLA 2014, its mixing function; from memory.) */
static uint64_t mixed(uint64_t v)
{
    v = (v ^ (v >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    v = (v ^ (v >> 27)) * UINT64_C(0x94d049bb133111eb);
    return v ^ (v >> 31);
}

static uint64_t hash_of(const struct rail *r, const struct choice *c)
{
    uint64_t h = (uint64_t)r->split;
    for (int i = 0; i < r->n; i++)
        h += mixed((uint64_t)(c->cut[i] + 2) + ((uint64_t)(c->want[i] + 2) << 8) + ((uint64_t)i << 16) +
                   ((uint64_t)c->goal[i] << 24));
    return mixed(h) | 1;
}

/* Tells whether this choice was tried before, and remembers it as long as there is room. */
static bool is_known(struct search_room *w, const struct rail *r, const struct choice *c)
{
    uint64_t h = hash_of(r, c);
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

/* Returns a time: a plan that takes longer is of no use. */
int64_t try_worth_us(const struct search_room *w)
{
    return max_i64(w->best.time_us, w->limit_us);
}

/* Returns a sum over the next order's cuts: the distance of each cut from the nearest holder in service that could make
 * it. The pool is ranked by this sum. */
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

/* Keeps solutions that take no longer than limit_us, and among these the ones that end nearest to their places for the
 * next order. */
static void pool(struct search_room *w, const struct rail *r, const struct choice *c, const int16_t sequence[],
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
    try_keep(r, &w->pool[at], &w->moves, c, sequence, time_us);
    w->pool[at].bound_us = 0;
    w->pool_um[at] = um;
}

#define FAR 10 /* if this many moves end elsewhere, another whole sequence may be best */

static bool is_far(const struct search_room *w, const struct rail *r, const struct choice *c)
{
    int changed = 0;
    for (int i = 0; i < r->n; i++)
        changed += c->end[i].moved && c->end[i].x != w->best.choice.end[i].x;
    return changed > FAR;
}

/* Starts from the best choice's sequence. */
static int64_t sequence_near(struct search_room *w, const struct rail *r, const struct choice *c, int16_t sequence[])
{
    int16_t swept[MOVES_MAX];
    const struct solution *best = &w->best;
    int64_t us = sequence_adapt(&w->moves, best->choice.end, best->site, best->n_moves, sequence, &w->steps);
    if (us - us / 16 >= best->time_us || !is_far(w, r, c))
        return us;
    int64_t swept_us = sequence_sweep(&w->moves, swept, &w->steps);
    if (swept_us >= us)
        return us;
    memcpy(sequence, swept, (size_t)w->moves.n * sizeof *sequence);
    return swept_us;
}

/* Tries a settled choice, either from scratch or from the best choice's sequence. */
static bool try_settled(struct search_room *w, const struct rail *r, const struct choice *c, bool near)
{
    int16_t sequence[MOVES_MAX];
    w->steps -= INT64_C(2) * r->n;
    moves_make(&w->moves, r, c, &w->ways);
    if (w->moves.fixed_us >= try_worth_us(w))
        return false;
    int64_t time_us = near ? sequence_near(w, r, c, sequence) : sequence_find(&w->moves, sequence, &w->steps);
    if (w->limit_us > 0 && time_us <= w->limit_us)
        pool(w, r, c, sequence, time_us);
    if (!try_beats(time_us, w->moves.n, &w->best))
        return false;
    try_keep(r, &w->best, &w->moves, c, sequence, time_us);
    return true;
}

bool try_fresh(struct search_room *w, const struct rail *r, struct choice *c)
{
    w->steps -= INT64_C(40) * r->n;
    return choice_settle(r, &w->mirrored, c) && try_settled(w, r, c, false);
}

bool try_ends(struct search_room *w, const struct rail *r, const struct choice *ends)
{
    struct choice c;
    w->steps -= INT64_C(8) * r->n;
    moves_make(&w->moves, r, ends, &w->ways);
    if (bound_match(&w->match, &w->moves, &w->steps) >= try_worth_us(w))
        return false;
    c = *ends;
    for (int i = 0; i < r->n; i++) {
        c.want[i] = ends->end[i].moved ? 1 : -1;
        c.goal[i] = ends->end[i].moved && c.cut[i] < 0 ? ends->end[i].x : NOWHERE;
    }
    w->steps -= INT64_C(40) * r->n;
    if (!choice_settle(r, &w->mirrored, &c))
        return false;
    for (int i = 0; i < r->n; i++)
        c.end[i] = ends->end[i];
    return try_settled(w, r, &c, false);
}

bool try_cuts(struct search_room *w, const struct rail *r, struct choice *c)
{
    w->steps -= r->n;
    return !is_known(w, r, c) && try_fresh(w, r, c);
}

bool try_near(struct search_room *w, const struct rail *r, struct choice *c, int first, int last)
{
    int64_t work = 0;
    w->steps -= r->n;
    if (is_known(w, r, c))
        return false;
    bool can = choice_resettle(r, &w->mirrored, c, max_int(first, 0), last < r->n ? last : r->n - 1, &work);
    w->steps -= 24 * work;
    return can && try_settled(w, r, c, true);
}
