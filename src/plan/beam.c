#include "beam.h"

#include <string.h>

#include "integers.h"

struct search {
    struct beam *b;
    const struct moves *m;
    const struct match *match;
    int width, n_next;
    uint32_t slots;   /* number of slots in use, a power of two */
    int64_t limit_us; /* a partial sequence that cannot end below this time is dropped */
    bool complete;    /* no partial sequence was dropped, except because of its bound */
    int64_t *steps;
};

static bool has(const uint64_t set[2], int k)
{
    return (set[k / 64] >> (k % 64)) & 1;
}

static void put(uint64_t set[2], int k)
{
    set[k / 64] |= UINT64_C(1) << (k % 64);
}

static void take(uint64_t set[2], int k)
{
    set[k / 64] &= ~(UINT64_C(1) << (k % 64));
}

static bool is_ready(const struct moves *m, const uint64_t done[2], int k)
{
    if (has(done, k) || (k > 0 && moves_link(m, k) < 0 && !has(done, k - 1)))
        return false;
    return k + 1 >= m->n || moves_link(m, k + 1) <= 0 || has(done, k + 1);
}

static uint32_t hash_of(const struct beam_state *s)
{
    uint64_t h = s->done[0] * UINT64_C(0x9e3779b97f4a7c15) ^ s->done[1] * UINT64_C(0xc2b2ae3d27d4eb4f);
    h ^= (uint64_t)s->last * UINT64_C(0x165667b19e3779f9);
    h ^= h >> 29;
    h *= UINT64_C(0xbf58476d1ce4e5b9);
    return (uint32_t)(h >> 40);
}

static bool is_same(const struct beam_state *a, const struct beam_state *b)
{
    return a->done[0] == b->done[0] && a->done[1] == b->done[1] && a->last == b->last;
}

/* ---- the best of a level --------------------------------------------------------------------------------------- */

/* The cheaper one comes first. The sequence of equal ones is fixed, so that the plan is the same on every computer. */
static bool before(const struct beam_state *a, const struct beam_state *b)
{
    if (a->least_us != b->least_us)
        return a->least_us < b->least_us;
    if (a->last != b->last)
        return a->last < b->last;
    if (a->done[0] != b->done[0])
        return a->done[0] < b->done[0];
    return a->done[1] < b->done[1];
}

static void swap(struct beam_state *a, struct beam_state *b)
{
    struct beam_state t = *a;
    *a = *b;
    *b = t;
}

/* Brings the best `keep' of n to the front (quickselect; C. A. R. Hoare 1961; from memory). */
static void select_best(struct beam_state s[], int n, int keep)
{
    int low = 0, high = n - 1;
    while (low < high) {
        struct beam_state pivot = s[(low + high) / 2];
        int i = low, j = high;
        while (i <= j) {
            while (before(&s[i], &pivot))
                i++;
            while (before(&pivot, &s[j]))
                j--;
            if (i <= j)
                swap(&s[i++], &s[j--]);
        }
        if (keep - 1 <= j)
            high = j;
        else if (keep - 1 >= i)
            low = i;
        else
            break;
    }
}

static void index_level(struct search *s)
{
    memset(s->b->slot, -1, s->slots * sizeof *s->b->slot);
    for (int i = 0; i < s->n_next; i++) {
        uint32_t at = hash_of(&s->b->next[i]) & (s->slots - 1);
        while (s->b->slot[at] >= 0)
            at = (at + 1) & (s->slots - 1);
        s->b->slot[at] = (int16_t)i;
    }
}

static void cut_level(struct search *s)
{
    if (s->n_next <= s->width)
        return;
    select_best(s->b->next, s->n_next, s->width);
    s->n_next = s->width;
    s->complete = false;
}

static void add(struct search *s, const struct beam_state *state)
{
    uint32_t at = hash_of(state) & (s->slots - 1);
    while (s->b->slot[at] >= 0) {
        struct beam_state *same = &s->b->next[s->b->slot[at]];
        if (is_same(same, state)) {
            if (state->least_us < same->least_us)
                *same = *state;
            return;
        }
        at = (at + 1) & (s->slots - 1);
    }
    s->b->slot[at] = (int16_t)s->n_next;
    s->b->next[s->n_next++] = *state;
    if (s->n_next == 4 * s->width) {
        cut_level(s);
        index_level(s);
    }
}

/* ---- levels ---------------------------------------------------------------------------------------------------- */

static int64_t reduced(const struct match *a, int row, int column)
{
    return a->cost[row][column] - a->row[row] - a->column[column];
}

static void make_move(struct search *s, const struct beam_state *from, int parent, int k)
{
    const struct moves *m = s->m;
    struct beam_state to = *from;
    int row = from->last < 0 ? m->n : from->last;
    *s->steps -= 8;
    /* costs of successions that were forbidden in the match cannot occur here */
    to.least_us += reduced(s->match, row, k);
    if (to.least_us >= s->limit_us)
        return;
    put(to.done, k);
    take(to.ready, k);
    if (k > 0 && is_ready(m, to.done, k - 1))
        put(to.ready, k - 1);
    if (k + 1 < m->n && is_ready(m, to.done, k + 1))
        put(to.ready, k + 1);
    to.last = (int16_t)k;
    to.parent = (int16_t)parent;
    add(s, &to);
}

static void expand(struct search *s, const struct beam_state *from, int parent)
{
    for (int half = 0; half < 2; half++) {
        for (uint64_t bits = from->ready[half]; bits != 0; bits &= bits - 1) {
            make_move(s, from, parent, half * 64 + __builtin_ctzll(bits));
        }
    }
}

static void write_sequence(const struct search *s, int best, int16_t sequence[])
{
    for (int level = s->m->n - 1; level >= 0; level--) {
        sequence[level] = s->m->site[s->b->made[level][best]];
        best = s->b->parent[level][best];
    }
}

static bool finish(struct search *s, int n_now, int16_t sequence[], int64_t *best_us)
{
    int best = -1;
    for (int i = 0; i < n_now; i++) {
        int64_t us = s->b->now[i].least_us + reduced(s->match, s->b->now[i].last, s->m->n);
        if (us < *best_us) {
            *best_us = us;
            best = i;
        }
    }
    if (best >= 0)
        write_sequence(s, best, sequence);
    return best >= 0;
}

bool beam_search(struct beam *b, const struct moves *m, const struct match *match, int64_t least_us, int width,
                 int16_t sequence[], int64_t *best_us, bool *proven, int64_t *steps)
{
    struct search s = {.b = b,
                       .m = m,
                       .match = match,
                       .width = width,
                       .limit_us = *best_us,
                       .complete = true,
                       .steps = steps,
                       .slots = 8};
    struct beam_state root = {.least_us = least_us, .last = -1};
    int n_now = 1;
    while (s.slots < 8 * (uint32_t)width)
        s.slots *= 2;
    for (int k = 0; k < m->n; k++) {
        if (is_ready(m, root.done, k))
            put(root.ready, k);
    }
    b->now[0] = root;
    for (int level = 0; level < m->n && n_now > 0 && *steps > 0; level++) {
        s.n_next = 0;
        index_level(&s);
        for (int i = 0; i < n_now; i++)
            expand(&s, &b->now[i], i);
        cut_level(&s);
        n_now = s.n_next;
        for (int i = 0; i < n_now; i++) {
            b->parent[level][i] = b->next[i].parent;
            b->made[level][i] = b->next[i].last;
        }
        memcpy(b->now, b->next, (size_t)n_now * sizeof *b->now);
    }
    bool found = n_now > 0 && m->n > 0 && *steps > 0 && finish(&s, n_now, sequence, best_us);
    *proven = s.complete && (*steps > 0 || n_now == 0);
    return found;
}
