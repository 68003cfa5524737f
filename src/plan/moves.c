#include "moves.h"

#include <string.h>

#include "integers.h"

static int32_t empty_us(const struct rail *r, int64_t from, int64_t to)
{
    return clamp_i32(kr_move_time_us(abs_i64(to - from), r->empty));
}

void ways_reset(struct ways *w, const struct rail *r)
{
    for (int i = 0; i < r->n; i++) {
        w->x[i][0] = w->x[i][1] = NOWHERE;
        w->latest[i] = 0;
        w->start_us[i] = empty_us(r, r->carriage, r->at[i].p);
    }
}

static const int32_t *row_to(struct ways *w, const struct rail *r, int i, int64_t x)
{
    int row = w->latest[i];
    if (w->x[i][row] == x)
        return w->us[i][row];
    row = 1 - row;
    w->latest[i] = (uint8_t)row;
    if (w->x[i][row] != x) {
        w->x[i][row] = x;
        w->own_us[i][row] = r->handling_us + rail_drag_us(r, i, x);
        for (int k = 0; k < r->n; k++)
            w->us[i][row][k] = empty_us(r, x, r->at[k].p);
    }
    return w->us[i][row];
}

static int who_first(const struct rail *r, int i, int64_t left_x, int64_t x)
{
    bool left = rail_left_first(r, i, left_x, x), right = rail_right_first(r, i, left_x, x);
    if (left && right)
        return 0;
    return left ? -1 : 1;
}

void moves_make(struct moves *m, const struct rail *r, const struct choice *c, struct ways *w)
{
    m->n = 0;
    m->fixed_us = 0;
    m->carriage = r->carriage;
    m->start_us = w->start_us;
    memset(m->link, 0, sizeof m->link);
    for (int i = 0; i < r->n; i++) {
        m->moves[i] = c->end[i].moved;
        if (!m->moves[i])
            continue;
        m->site[m->n++] = (int16_t)i;
        m->p[i] = r->at[i].p;
        m->x[i] = c->end[i].x;
        m->way_us[i] = row_to(w, r, i, m->x[i]);
        m->fixed_us += w->own_us[i][w->latest[i]];
        if (i > 0 && m->moves[i - 1])
            m->link[i] = (int8_t)who_first(r, i, m->x[i - 1], m->x[i]);
    }
}

bool moves_precede(const struct moves *m, int a, int b)
{
    int low = a < b ? a : b, high = a < b ? b : a;
    int8_t all = a < b ? -1 : 1;
    for (int k = low + 1; k <= high; k++) {
        if (moves_link(m, k) != all)
            return false;
    }
    return a != b;
}

bool moves_may_follow(const struct moves *m, int a, int b)
{
    if (a == b || moves_precede(m, b, a))
        return false;
    return a - b == 1 || b - a == 1 || !moves_precede(m, a, b);
}

int64_t moves_time_us(const struct moves *m, const int16_t sequence[])
{
    int64_t t = m->fixed_us;
    for (int s = 0; s < m->n; s++)
        t += s == 0 ? m->start_us[sequence[0]] : m->way_us[sequence[s - 1]][sequence[s]];
    return t;
}

/* Adds site i to the sequence, and then the sites that were passed over before because they waited for it. */
static void put(const struct moves *m, int i, bool done[], const bool passed[], int16_t sequence[], int *n)
{
    int16_t turn[MOVES_MAX];
    int waiting = 0;
    turn[waiting++] = (int16_t)i;
    while (waiting > 0) {
        int now = turn[--waiting];
        sequence[(*n)++] = (int16_t)now;
        done[now] = true;
        for (int side = -1; side <= 1; side += 2) {
            int next = now + side;
            bool waits = side < 0 ? m->link[now] > 0 : m->link[now + 1] < 0;
            if (waits && passed[next] && !done[next] && moves_is_ready(m, next, done))
                turn[waiting++] = (int16_t)next;
        }
    }
}

void moves_straighten(const struct moves *m, int16_t sequence[], int n)
{
    bool done[KR_HOLDERS_MAX + 1], passed[KR_HOLDERS_MAX + 1] = {false};
    int16_t out[MOVES_MAX];
    int placed = 0;
    memset(done, true, sizeof done); /* no site has to wait for one that is not in the sequence */
    for (int s = 0; s < n; s++)
        done[sequence[s]] = false;
    for (int s = 0; s < n; s++) {
        if (moves_is_ready(m, sequence[s], done))
            put(m, sequence[s], done, passed, out, &placed);
        else
            passed[sequence[s]] = true;
    }
    memcpy(sequence, out, (size_t)placed * sizeof *sequence);
}
