#include "order.h"

#include "whole.h"

static int32_t empty_us(const struct rail *r, int64_t from, int64_t to)
{
    return clamp_i32(kr_move_time_us(abs_i64(to - from), r->empty));
}

void ways_reset(struct ways *w, const struct rail *r)
{
    for (int i = 0; i < r->n; i++) {
        w->x[i] = NOWHERE;
        w->start_us[i] = empty_us(r, r->carriage, r->at[i].p);
    }
}

static const int32_t *row_to(struct ways *w, const struct rail *r, int i, int64_t x)
{
    if (w->x[i] != x) {
        w->x[i] = x;
        for (int k = 0; k < r->n; k++)
            w->us[i][k] = empty_us(r, x, r->at[k].p);
    }
    return w->us[i];
}

static int who_first(const struct rail *r, int i, int64_t left_x, int64_t x)
{
    bool left = rail_left_first(r, i, left_x, x), right = rail_right_first(r, i, left_x, x);
    if (left && right)
        return 0;
    return left ? -1 : 1;
}

int64_t moves_fixed_us(const struct rail *r, const struct choice *c)
{
    int64_t us = 0;
    for (int i = 0; i < r->n; i++)
        us += c->end[i].moved ? r->handling_us + rail_drag_us(r, i, c->end[i].x) : 0;
    return us;
}

void moves_make(struct moves *m, const struct rail *r, const struct choice *c, struct ways *w)
{
    m->n = 0;
    m->fixed_us = moves_fixed_us(r, c);
    for (int i = 0; i < r->n; i++) {
        if (!c->end[i].moved)
            continue;
        int k = m->n++;
        m->site[k] = (int16_t)i;
        m->x[k] = c->end[i].x;
        bool beside = k > 0 && m->site[k - 1] == i - 1;
        m->link[k] = (int16_t)(beside ? who_first(r, i, m->x[k - 1], m->x[k]) : 0);
        m->start_us[k] = w->start_us[i];
    }
    for (int a = 0; a < m->n; a++) {
        const int32_t *row = row_to(w, r, m->site[a], m->x[a]);
        for (int b = 0; b < m->n; b++)
            m->way_us[a][b] = row[m->site[b]];
    }
}

bool moves_precede(const struct moves *m, int a, int b)
{
    int low = a < b ? a : b, high = a < b ? b : a;
    int8_t all = a < b ? -1 : 1;
    for (int k = low + 1; k <= high; k++) {
        if (m->link[k] != all)
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

int64_t moves_time_us(const struct moves *m, const int16_t order[])
{
    int64_t t = m->fixed_us;
    for (int s = 0; s < m->n; s++)
        t += s == 0 ? m->start_us[order[0]] : m->way_us[order[s - 1]][order[s]];
    return t;
}
