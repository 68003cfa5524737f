#include "order.h"

#include <string.h>

#include "whole.h"

/* ---- beginnings ----------------------------------------------------------------------------------------------- */

static bool is_ready(const struct moves *m, int k, const bool done[])
{
    if (m->link[k] < 0 && !done[k - 1])
        return false;
    return k + 1 >= m->n || m->link[k + 1] <= 0 || done[k + 1];
}

/* Always the nearest move that may come next, with a bias: each move's start counts as so much dearer a step further
 * to the right (bias > 0: the left ones first) or to the left (bias < 0). */
static void nearest_next(const struct moves *m, int16_t order[], int32_t bias_us)
{
    bool done[MOVES_MAX] = {false};
    for (int s = 0; s < m->n; s++) {
        int best = -1;
        int64_t least = INT64_MAX;
        for (int k = 0; k < m->n; k++) {
            if (done[k] || !is_ready(m, k, done))
                continue;
            int64_t way = s == 0 ? m->start_us[k] : m->way_us[order[s - 1]][k];
            way += (int64_t)bias_us * k;
            if (way < least) {
                least = way;
                best = k;
            }
        }
        order[s] = (int16_t)best;
        done[best] = true;
    }
}

/* ---- exchange of neighbouring blocks ---------------------------------------------------------------------------
 * ... a [i..j-1] [j..k-1] b ... becomes ... a [j..k-1] [i..j-1] b ...: three empty ways change, no drag turns round.
 * Allowed while nobody in the second block waits for somebody in the first. */

struct hunt {
    const struct moves *m;
    int16_t *order;
    int16_t at[MOVES_MAX]; /* place of each move in the order */
    int longest;
    int64_t *steps;
};

static bool waits_for(const struct hunt *h, int k, int low, int high)
{
    const struct moves *m = h->m;
    if (m->link[k] < 0 && h->at[k - 1] >= low && h->at[k - 1] < high)
        return true;
    return k + 1 < m->n && m->link[k + 1] > 0 && h->at[k + 1] >= low && h->at[k + 1] < high;
}

static void exchange(struct hunt *h, int i, int j, int k)
{
    int16_t block[MOVES_MAX];
    size_t n = (size_t)(j - i);
    memcpy(block, h->order + i, n * sizeof *block);
    memmove(h->order + i, h->order + j, (size_t)(k - j) * sizeof *block);
    memcpy(h->order + i + (k - j), block, n * sizeof *block);
    for (int s = i; s < k; s++)
        h->at[h->order[s]] = (int16_t)s;
}

/* The best second block [j..k-1] behind [i..j-1]; returns k, or 0 if none gains more than *gain. */
static int best_second(const struct hunt *h, const int32_t *into, int i, int j, int32_t *gain)
{
    const struct moves *m = h->m;
    const int16_t *o = h->order;
    const int32_t *last = m->way_us[o[j - 1]];
    int32_t old = into[o[i]] + last[o[j]], moved = into[o[j]];
    int end = m->n - j > h->longest ? j + h->longest : m->n, best = 0;
    for (int k = j + 1; k <= end && !waits_for(h, o[k - 1], i, j); k++) {
        const int32_t *tail = m->way_us[o[k - 1]];
        int32_t more = moved + tail[o[i]] - old;
        if (k < m->n)
            more += last[o[k]] - tail[o[k]];
        --*h->steps;
        if (-more > *gain) {
            *gain = -more;
            best = k;
        }
    }
    return best;
}

static bool improve_from(struct hunt *h, int i)
{
    const struct moves *m = h->m;
    const int32_t *into = i == 0 ? m->start_us : m->way_us[h->order[i - 1]];
    int end = m->n - i > h->longest + 1 ? i + h->longest + 1 : m->n, best_j = 0, best_k = 0;
    int32_t gain = 0;
    for (int j = i + 1; j < end; j++) {
        int k = best_second(h, into, i, j, &gain);
        if (k > 0) {
            best_j = j;
            best_k = k;
        }
    }
    if (gain > 0)
        exchange(h, i, best_j, best_k);
    return gain > 0;
}

bool order_exchange(const struct moves *m, int16_t order[], int i, int j, int k)
{
    struct hunt h = {.m = m, .order = order};
    for (int s = 0; s < m->n; s++)
        h.at[order[s]] = (int16_t)s;
    for (int s = j; s < k; s++) {
        if (waits_for(&h, order[s], i, j))
            return false;
    }
    exchange(&h, i, j, k);
    return true;
}

void order_improve(const struct moves *m, int16_t order[], int longest, int64_t *steps)
{
    struct hunt h = {.m = m, .order = order, .longest = longest, .steps = steps};
    for (int s = 0; s < m->n; s++)
        h.at[order[s]] = (int16_t)s;
    /* Round and round until a whole round gained nothing. */
    for (int i = 0, idle = 0; idle<m->n && * steps> 0; i = (i + 1) % m->n)
        idle = improve_from(&h, i) ? 0 : idle + 1;
}

/* ---- whole searches ---------------------------------------------------------------------------------------------- */

int64_t order_find(const struct moves *m, int16_t order[], int longest, int64_t *steps)
{
    static const int32_t bias_us[] = {0, 1000000000, -1000000000, 100000, -100000, 20000, -20000};
    int16_t trial[MOVES_MAX];
    int64_t best = INT64_MAX;
    for (size_t b = 0; b < sizeof bias_us / sizeof *bias_us; b++) {
        nearest_next(m, trial, bias_us[b]);
        order_improve(m, trial, longest, steps);
        int64_t time = moves_time_us(m, trial);
        if (time < best) {
            best = time;
            memcpy(order, trial, sizeof trial);
        }
    }
    return best;
}

/* Where a new move costs least, of the places that what must be first allows. */
static void insert_best(const struct moves *m, int16_t order[], int n, int k)
{
    int low = 0, high = n, best = -1;
    int64_t least = INT64_MAX;
    for (int s = 0; s < n; s++) {
        if (moves_precede(m, order[s], k))
            low = s + 1;
        if (high == n && moves_precede(m, k, order[s]))
            high = s;
    }
    for (int s = low; s <= high || best < 0; s++) {
        const int32_t *into = s == 0 ? m->start_us : m->way_us[order[s - 1]];
        int64_t more = into[k] + (s < n ? m->way_us[k][order[s]] - into[order[s]] : 0);
        if (more < least) {
            least = more;
            best = s;
        }
    }
    memmove(order + best + 1, order + best, (size_t)(n - best) * sizeof *order);
    order[best] = (int16_t)k;
}

/* Puts everybody behind those that must be first, otherwise in the order they are in. */
static void straighten(const struct moves *m, int16_t order[], int n)
{
    bool done[MOVES_MAX] = {false}, here[MOVES_MAX] = {false};
    int16_t out[MOVES_MAX];
    int placed = 0;
    for (int s = 0; s < n; s++)
        here[order[s]] = true;
    for (int k = 0; k < m->n; k++)
        done[k] = !here[k];
    while (placed < n) {
        int s = 0;
        while (done[order[s]] || !is_ready(m, order[s], done))
            s++;
        /* its turn; then look again from the beginning, where it may have set somebody free */
        out[placed++] = order[s];
        done[order[s]] = true;
    }
    memcpy(order, out, (size_t)n * sizeof *order);
}

int64_t order_adapt(const struct moves *m, const int16_t old_sites[], int n_old, int16_t order[], int longest,
                    int64_t *steps)
{
    int16_t move_of[KR_HOLDERS_MAX];
    bool here[MOVES_MAX] = {false};
    int n = 0;
    memset(move_of, -1, sizeof move_of);
    for (int k = 0; k < m->n; k++)
        move_of[m->site[k]] = (int16_t)k;
    for (int s = 0; s < n_old; s++) {
        if (move_of[old_sites[s]] >= 0) {
            order[n++] = move_of[old_sites[s]];
            here[order[n - 1]] = true;
        }
    }
    straighten(m, order, n);
    for (int k = 0; k < m->n; k++) {
        if (!here[k])
            insert_best(m, order, n++, k);
    }
    straighten(m, order, m->n);
    order_improve(m, order, longest, steps);
    return moves_time_us(m, order);
}
