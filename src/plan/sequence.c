#include "sequence.h"

#include <assert.h>
#include <string.h>

#include "integers.h"
#include "sweep.h"

/* ---- exchange of neighbouring blocks ------------------------------------------------------------------------------
 * This is the 3-opt move of the asymmetric travelling salesman problem that reverses nothing, also called or-3opt or
 * segment exchange; L. M. Gambardella and M. Dorigo (2000) use it with constraints of precedence. README.md beside this
 * file has the sources.
 *
 * ... a [i..j-1] [j..k-1] b ... becomes ... a [j..k-1] [i..j-1] b ...: three ways change, and no drag turns round. The
 * exchange is allowed if no move of the second block waits for a move of the first one.
 *
 * An exchange that gains makes at least one of its three ways shorter. So for each way it is enough to look at the few
 * sites that are nearer than the site to which the way leads (a search within a fixed radius), and to let the third
 * place vary. A way is looked at again only after something beside it has changed: dirty[] holds don't-look bits,
 * inverted, and queue[] the ways whose bit is set. (J. L. Bentley 1992, both; from memory.) */

#define REACH 30 /* range of the search for the third place */

/* row_at() returns the ways from the end of the move before place p; way() returns the one to the move at place q (0
 * for the end). */
static const int32_t *row_at(const struct hunt *h, int p)
{
    return p == 0 ? h->m->start_us : h->m->way_us[h->sequence[p - 1]];
}

static int64_t way(const struct hunt *h, int p, int q)
{
    return q == h->m->n ? 0 : row_at(h, p)[h->sequence[q]];
}

/* Returns the time of the three present ways minus that of the new ones. */
static int64_t gain_of(const struct hunt *h, int i, int j, int k)
{
    return (int64_t)h->way_us[i] + h->way_us[j] + h->way_us[k] - way(h, i, j) - way(h, j, k) - way(h, k, i);
}

static bool is_between(const struct hunt *h, int site, int low, int high)
{
    return h->at[site] >= low && h->at[site] < high;
}

/* Tells whether the move at this place waits for one at low to high - 1. */
static bool waits_for(const struct hunt *h, int place, int low, int high)
{
    int i = h->sequence[place];
    return (h->m->link[i] < 0 && is_between(h, i - 1, low, high)) ||
           (h->m->link[i + 1] > 0 && is_between(h, i + 1, low, high));
}

/* Returns the last place of low to high - 1 for whose move the move at this place waits; -1: there is none. */
static inline int last_waiting(const struct hunt *h, int place, int low, int high)
{
    int i = h->sequence[place], last = -1;
    if (h->m->link[i] <= 0 && h->m->link[i + 1] >= 0)
        return -1; /* there is nothing to wait for */
    if (h->m->link[i] > 0 && is_between(h, i - 1, low, high))
        last = h->at[i - 1];
    if (h->m->link[i + 1] < 0 && is_between(h, i + 1, low, high))
        last = max_int(last, h->at[i + 1]);
    return last;
}

struct found {
    int64_t gain;
    int i, j, k;
};

static inline void note(int64_t gain, int i, int j, int k, struct found *best)
{
    if (gain > best->gain)
        *best = (struct found){.gain = gain, .i = i, .j = j, .k = k};
}

static void vary_last(const struct hunt *h, int i, int j, struct found *best)
{
    const int32_t *before_j = row_at(h, j);
    int64_t both = (int64_t)h->way_us[i] + h->way_us[j] - way(h, i, j);
    int head = h->sequence[i], k = j + 1, end = h->m->n < j + REACH ? h->m->n : j + REACH;
    for (; k <= end && !waits_for(h, k - 1, i, j); k++) {
        int32_t to_k = k < h->m->n ? before_j[h->sequence[k]] : 0;
        note(both + h->way_us[k] - to_k - h->m->way_us[h->sequence[k - 1]][head], i, j, k, best);
    }
    *h->steps -= k - j;
}

static void vary_first(const struct hunt *h, int j, int k, struct found *best)
{
    const int32_t *before_k = row_at(h, k);
    int64_t both = (int64_t)h->way_us[j] + h->way_us[k] - way(h, j, k);
    int head = h->sequence[j], i = j - 1, end = max_int(0, j - REACH);
    for (; i >= end && last_waiting(h, i, j, k) < 0; i--)
        note(both + h->way_us[i] - row_at(h, i)[head] - before_k[h->sequence[i]], i, j, k, best);
    *h->steps -= j - i;
}

static void vary_middle(const struct hunt *h, int i, int k, struct found *best)
{
    const int32_t *before_i = row_at(h, i);
    int64_t both = (int64_t)h->way_us[i] + h->way_us[k] - way(h, k, i);
    int barred = -1, j = i + 1; /* a move up to place barred waits for a move before j */
    for (; j < k && barred < k; j++) {
        barred = max_int(barred, last_waiting(h, j - 1, i, k));
        if (barred < j)
            note(both + h->way_us[j] - before_i[h->sequence[j]] - way(h, j, k), i, j, k, best);
    }
    *h->steps -= j - i;
}

/* Finds the best exchange that shortens the way into this place. */
static struct found best_from(const struct hunt *h, int p)
{
    struct found best = {.gain = 0};
    const int32_t *row = row_at(h, p);
    int32_t now = row[h->sequence[p]];
    *h->steps -= h->m->n / 4 + 1;
    vary_first(h, p, h->m->n, &best); /* the end is nearer than every move */
    for (int s = 0; s < h->m->n; s++) {
        int site = h->m->site[s], q = h->at[site];
        if (row[site] >= now || q == p - 1)
            continue;
        if (q > p) {
            vary_last(h, p, q, &best);
            vary_first(h, p, q, &best);
        } else {
            vary_middle(h, q, p, &best);
        }
    }
    return best;
}

static void mark(struct hunt *h, int place)
{
    if (place < 0 || place >= h->m->n || h->dirty[h->sequence[place]])
        return;
    h->dirty[h->sequence[place]] = true;
    h->queue[(h->first + h->n_dirty++) % KR_HOLDERS_MAX] = h->sequence[place];
}

static void exchange(struct hunt *h, int i, int j, int k)
{
    int16_t block[MOVES_MAX];
    size_t n = (size_t)(j - i);
    memcpy(block, h->sequence + i, n * sizeof *block);
    memmove(h->sequence + i, h->sequence + j, (size_t)(k - j) * sizeof *block);
    memcpy(h->sequence + i + (k - j), block, n * sizeof *block);
    for (int s = i; s < k; s++)
        h->at[h->sequence[s]] = (int16_t)s;
    for (int s = i; s <= k; s++)
        h->way_us[s] = (int32_t)way(h, s, s);
    const int seams[] = {i, i + k - j, k};
    for (int s = 0; s < 3; s++) {
        mark(h, seams[s]);
        mark(h, seams[s] - 1);
        mark(h, seams[s] + 1);
    }
}

void hunt_begin(struct hunt *h, const struct moves *m, const int16_t sequence[], int64_t *steps)
{
    h->m = m;
    h->first = h->n_dirty = 0;
    h->steps = steps;
    memset(h->dirty, 0, sizeof h->dirty);
    memcpy(h->sequence, sequence, (size_t)m->n * sizeof *sequence);
    for (int s = 0; s < m->n; s++)
        h->at[sequence[s]] = (int16_t)s;
    for (int s = 0; s <= m->n; s++)
        h->way_us[s] = (int32_t)way(h, s, s);
}

void hunt_all_dirty(struct hunt *h)
{
    for (int s = 0; s < h->m->n; s++)
        mark(h, s);
}

int64_t hunt_exchange(struct hunt *h, int i, int j, int k)
{
    for (int s = j; s < k; s++) {
        if (waits_for(h, s, i, j))
            return 0;
    }
    int64_t gain = gain_of(h, i, j, k);
    exchange(h, i, j, k);
    return -gain;
}

/* Computes ways and places again after moves have changed places. Returns by how much the time grows. */
static int64_t renew(struct hunt *h, const int16_t old[])
{
    int n = h->m->n;
    int64_t us = 0;
    for (int s = 0; s < n; s++)
        h->at[h->sequence[s]] = (int16_t)s;
    for (int s = 0; s <= n; s++) {
        us -= h->way_us[s];
        h->way_us[s] = (int32_t)way(h, s, s);
        us += h->way_us[s];
    }
    for (int s = 0; s < n; s++) {
        if (old[s] != h->sequence[s] || (s > 0 && old[s - 1] != h->sequence[s - 1]))
            mark(h, s);
    }
    *h->steps -= n / 2;
    return us;
}

int64_t hunt_turn(struct hunt *h, int i, int k)
{
    int16_t old[MOVES_MAX];
    size_t n = (size_t)h->m->n;
    memcpy(old, h->sequence, n * sizeof *old);
    for (int s = i; s < k; s++)
        h->sequence[s] = old[i + k - 1 - s];
    moves_straighten(h->m, h->sequence, h->m->n);
    return renew(h, old);
}

int64_t hunt_improve(struct hunt *h)
{
    int64_t gained = 0;
    while (h->n_dirty > 0 && *h->steps > 0) {
        int site = h->queue[h->first];
        h->first = (h->first + 1) % KR_HOLDERS_MAX;
        h->n_dirty--;
        h->dirty[site] = false;
        struct found best = best_from(h, h->at[site]);
        if (best.gain > 0) {
            gained += best.gain;
            exchange(h, best.i, best.j, best.k);
        }
    }
    return gained;
}

void sequence_improve(const struct moves *m, int16_t sequence[], int64_t *steps)
{
    struct hunt h;
    hunt_begin(&h, m, sequence, steps);
    hunt_all_dirty(&h);
    hunt_improve(&h);
    memcpy(sequence, h.sequence, (size_t)m->n * sizeof *sequence);
}

/* ---- whole searches -------------------------------------------------------------------------------------------- */

/* The nearest neighbour heuristic, with a bias: the next move is always the nearest one that may come next, where the
 * start of each move counts as dearer by bias_us for each step to the right (bias_us > 0: the left moves come first) or
 * to the left (bias_us < 0). */
static void nearest_next(const struct moves *m, int16_t sequence[], int32_t bias_us)
{
    bool done[KR_HOLDERS_MAX + 1] = {false};
    for (int s = 0; s < m->n; s++) {
        const int32_t *row = s == 0 ? m->start_us : m->way_us[sequence[s - 1]];
        int64_t least = INT64_MAX;
        int nearest = -1;
        for (int k = 0; k < m->n; k++) {
            int i = m->site[k];
            int64_t us = row[i] + (int64_t)bias_us * k;
            if (!done[i] && us < least && moves_is_ready(m, i, done)) {
                least = us;
                nearest = i;
            }
        }
        assert(nearest >= 0); /* the constraints contain no cycle */
        sequence[s] = (int16_t)nearest;
        done[nearest] = true;
    }
}

static void improve_and_keep(const struct moves *m, int16_t trial[], int16_t sequence[], int64_t *best, int64_t *steps)
{
    sequence_improve(m, trial, steps);
    int64_t time = moves_time_us(m, trial);
    if (time >= *best)
        return;
    *best = time;
    memcpy(sequence, trial, (size_t)m->n * sizeof *sequence);
}

int64_t sequence_find(const struct moves *m, int16_t sequence[], int64_t *steps)
{
    static const int32_t bias_us[] = {0, 1000000000, -1000000000, 100000, -100000, 20000, -20000};
    int16_t trial[MOVES_MAX];
    struct sweeps sweeps;
    int64_t best = INT64_MAX;
    for (size_t b = 0; b < sizeof bias_us / sizeof *bias_us; b++) {
        *steps -= (int64_t)m->n * m->n / 2;
        nearest_next(m, trial, bias_us[b]);
        improve_and_keep(m, trial, sequence, &best, steps);
    }
    sweeps_make(m, &sweeps, steps);
    for (int k = 0; k < sweeps.n; k++)
        improve_and_keep(m, sweeps.sequence[k], sequence, &best, steps);
    return best;
}

int64_t sequence_sweep(const struct moves *m, int16_t sequence[], int64_t *steps)
{
    struct sweeps sweeps;
    int64_t best = INT64_MAX;
    sweeps_make(m, &sweeps, steps);
    improve_and_keep(m, sweeps.sequence[0], sequence, &best, steps);
    return best;
}

/* Cheapest insertion: puts one more move where it adds least, among the places that its neighbours allow. */
static void insert_best(struct hunt *h, int n, int i)
{
    const struct moves *m = h->m;
    int low = 0, high = n, best = -1;
    int64_t least = INT64_MAX;
    if (m->link[i] < 0 && h->at[i - 1] >= 0)
        low = h->at[i - 1] + 1;
    if (m->link[i + 1] > 0 && h->at[i + 1] >= 0)
        low = max_int(low, h->at[i + 1] + 1);
    if (m->link[i] > 0 && h->at[i - 1] >= low)
        high = h->at[i - 1];
    if (m->link[i + 1] < 0 && h->at[i + 1] >= low && h->at[i + 1] < high)
        high = h->at[i + 1];
    for (int s = low; s <= high; s++) {
        const int32_t *into = row_at(h, s);
        int64_t more = into[i] + (s < n ? (int64_t)m->way_us[i][h->sequence[s]] - into[h->sequence[s]] : 0);
        if (more < least) {
            least = more;
            best = s;
        }
    }
    memmove(h->sequence + best + 1, h->sequence + best, (size_t)(n - best) * sizeof *h->sequence);
    h->sequence[best] = (int16_t)i;
    for (int s = best; s <= n; s++)
        h->at[h->sequence[s]] = (int16_t)s;
}

/* Keeps the moves that are still made, in their sequence, and then adds the others one by one. */
static void adopt(struct hunt *h, const int16_t old_sequence[], int n_old)
{
    const struct moves *m = h->m;
    int n = 0;
    memset(h->at, -1, sizeof h->at);
    for (int s = 0; s < n_old; s++) {
        if (m->moves[old_sequence[s]]) {
            h->at[old_sequence[s]] = (int16_t)n;
            h->sequence[n++] = old_sequence[s];
        }
    }
    moves_straighten(m, h->sequence, n);
    for (int s = 0; s < n; s++)
        h->at[h->sequence[s]] = (int16_t)s;
    for (int k = 0; k < m->n && n < m->n; k++) {
        if (h->at[m->site[k]] < 0)
            insert_best(h, n++, m->site[k]);
    }
    moves_straighten(m, h->sequence, m->n);
}

/* Marks the ways to moves which this move may now reach better than the move before them does, because this one is new
 * or ends elsewhere. */
static void mark_from(struct hunt *h, int tail)
{
    const int32_t *row = h->m->way_us[tail];
    *h->steps -= h->m->n / 4 + 1;
    for (int s = 0; s < h->m->n; s++) {
        if (row[h->sequence[s]] < h->way_us[s])
            mark(h, s);
    }
}

/* Marks the ways that led to or came from another place before. */
static void mark_new(struct hunt *h, const struct end old_end[], const int16_t old_sequence[], int n_old)
{
    int16_t before[KR_HOLDERS_MAX];
    bool known[KR_HOLDERS_MAX] = {false};
    for (int s = 0; s < n_old; s++) {
        before[old_sequence[s]] = (int16_t)(s > 0 ? old_sequence[s - 1] : -1);
        known[old_sequence[s]] = old_end[old_sequence[s]].x == h->m->x[old_sequence[s]];
    }
    for (int s = 0, tail = -1; s < h->m->n; tail = h->sequence[s++]) {
        int site = h->sequence[s];
        bool same = known[site] && before[site] == tail && (tail < 0 || known[tail]);
        for (int near = -1; !same && near <= 1; near++)
            mark(h, s + near);
        if (!known[site])
            mark_from(h, site);
    }
}

int64_t sequence_adapt(const struct moves *m, const struct end old_end[], const int16_t old_sequence[], int n_old,
                       int16_t sequence[], int64_t *steps)
{
    struct hunt h = {.m = m};
    *steps -= INT64_C(3) * m->n;
    adopt(&h, old_sequence, n_old);
    memcpy(sequence, h.sequence, (size_t)m->n * sizeof *sequence);
    hunt_begin(&h, m, sequence, steps);
    mark_new(&h, old_end, old_sequence, n_old);
    hunt_improve(&h);
    memcpy(sequence, h.sequence, (size_t)m->n * sizeof *sequence);
    return moves_time_us(m, sequence);
}
