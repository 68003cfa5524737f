#include "order.h"

#include <string.h>

#include "whole.h"

static int32_t empty_us(const struct rail *r, int64_t from, int64_t to)
{
    return clamp_i32(kr_move_time_us(abs_i64(to - from), r->empty));
}

static int8_t who_first(const struct rail *r, int i, int64_t left_x, int64_t x)
{
    bool left = rail_left_first(r, i, left_x, x), right = rail_right_first(r, i, left_x, x);
    if (left && right)
        return 0;
    return left ? -1 : 1;
}

void moves_make(struct moves *m, const struct rail *r, const struct choice *c)
{
    m->n = 0;
    m->fixed_us = 0;
    for (int i = 0; i < r->n; i++) {
        if (!c->end[i].moved)
            continue;
        int k = m->n++;
        m->site[k] = (int16_t)i;
        m->x[k] = c->end[i].x;
        m->first[k] = k > 0 && m->site[k - 1] == i - 1 ? who_first(r, i, m->x[k - 1], m->x[k]) : 0;
        m->fixed_us += r->handling_us + rail_drag_us(r, i, m->x[k]);
        m->start_us[k] = empty_us(r, r->carriage, r->at[i].p);
    }
    for (int a = 0; a < m->n; a++) {
        for (int b = 0; b < m->n; b++)
            m->way_us[a][b] = empty_us(r, m->x[a], r->at[m->site[b]].p);
    }
}

int64_t moves_time_us(const struct moves *m, const int16_t order[])
{
    int64_t t = m->fixed_us;
    for (int s = 0; s < m->n; s++)
        t += s == 0 ? m->start_us[order[0]] : m->way_us[order[s - 1]][order[s]];
    return t;
}

/* ---- the nearest next move ---------------------------------------------------------------------------------- */

static bool is_ready(const struct moves *m, int k, const bool done[])
{
    if (m->first[k] < 0 && !done[k - 1])
        return false;
    return k + 1 >= m->n || m->first[k + 1] <= 0 || done[k + 1];
}

static void nearest_next(const struct moves *m, int16_t order[])
{
    bool done[KR_HOLDERS_MAX] = {false};
    for (int s = 0; s < m->n; s++) {
        int best = -1;
        int64_t least = INT64_MAX;
        for (int k = 0; k < m->n; k++) {
            int64_t way = s == 0 ? m->start_us[k] : m->way_us[order[s - 1]][k];
            if (!done[k] && is_ready(m, k, done) && way < least) {
                least = way;
                best = k;
            }
        }
        order[s] = (int16_t)best;
        done[best] = true;
    }
}

/* ---- exchange of neighbouring blocks -------------------------------------------------------------------------
 * ... a [i..j-1] [j..k-1] b ... becomes ... a [j..k-1] [i..j-1] b ...: three empty ways change, no drag turns round.
 * Allowed while nobody in the second block waits for somebody in the first. */

static int64_t way(const struct moves *m, const int16_t order[], int from, int to)
{
    if (to >= m->n)
        return 0;
    return from < 0 ? m->start_us[order[to]] : m->way_us[order[from]][order[to]];
}

static bool waits_for(const struct moves *m, const int16_t at[], int k, int low, int high)
{
    if (m->first[k] < 0 && at[k - 1] >= low && at[k - 1] < high)
        return true;
    return k + 1 < m->n && m->first[k + 1] > 0 && at[k + 1] >= low && at[k + 1] < high;
}

static void exchange(const struct moves *m, int16_t order[], int16_t at[], int i, int j, int k)
{
    int16_t block[KR_HOLDERS_MAX];
    size_t n = (size_t)(j - i);
    memcpy(block, order + i, n * sizeof *block);
    memmove(order + i, order + j, (size_t)(k - j) * sizeof *order);
    memcpy(order + i + (k - j), block, n * sizeof *block);
    for (int s = 0; s < m->n; s++)
        at[order[s]] = (int16_t)s;
}

/* Makes the best exchange that starts at i, if any gains. */
static bool improve_from(const struct moves *m, int16_t order[], int16_t at[], int i, uint32_t *steps)
{
    int64_t gain = 0;
    int best_j = 0, best_k = 0;
    for (int j = i + 1; j < m->n; j++) {
        int64_t old = way(m, order, i - 1, i) + way(m, order, j - 1, j);
        for (int k = j + 1; k <= m->n && !waits_for(m, at, order[k - 1], i, j); k++) {
            int64_t after =
                k < m->n ? m->way_us[order[j - 1]][order[k]] - m->way_us[order[k - 1]][order[k]] : 0;
            int64_t more = way(m, order, i - 1, j) + m->way_us[order[k - 1]][order[i]] + after - old;
            if (-more > gain) {
                gain = -more;
                best_j = j;
                best_k = k;
            }
            ++*steps;
        }
    }
    if (gain > 0)
        exchange(m, order, at, i, best_j, best_k);
    return gain > 0;
}

int64_t order_find(const struct moves *m, int16_t order[], uint32_t *steps)
{
    int16_t at[KR_HOLDERS_MAX];
    bool better = m->n > 1;
    nearest_next(m, order);
    for (int s = 0; s < m->n; s++)
        at[order[s]] = (int16_t)s;
    while (better) {
        better = false;
        for (int i = 0; i < m->n; i++)
            better = improve_from(m, order, at, i, steps) || better;
    }
    return moves_time_us(m, order);
}
