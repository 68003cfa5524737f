#include "price.h"

#include "integers.h"

/* Every drop (and the carriage's start) is followed by a pick or by the end. Give every pick k a price, and every drop
 * at x the greatest price with price(x) + price(k) <= way(x, k) for every k. Then all empty ways of any plan together
 * take at least the sum of its prices, and prices add up from holder to holder, as handling and drags do. Any prices of
 * the picks give a bound; the prices that solve the assignment of the best plan give a good one. */

static int64_t way_us(const struct rail *r, int64_t from, int64_t to)
{
    return kr_move_time_us(abs_i64(to - from), r->empty);
}

/* Returns the price of a holder that does not move in the best plan: the greatest one that fits the drops there. */
static int64_t price_unused(const struct match *a, const struct moves *m, const struct rail *r, int i)
{
    int64_t least = way_us(r, r->carriage, r->at[i].p) - a->row[m->n];
    for (int k = 0; k < m->n; k++)
        least = min_i64(least, way_us(r, m->x[m->site[k]], r->at[i].p) - a->row[k]);
    return least;
}

static void price_picks(struct price *p, const struct match *a, const struct moves *m, const struct rail *r)
{
    for (int i = 0, k = 0; i < r->n; i++) {
        bool used = k < m->n && m->site[k] == i;
        p->pick_us[i] = used ? a->column[k++] : price_unused(a, m, r, i);
    }
    p->end_us = a->column[m->n];
    for (int i = 0; i < r->n; i++)
        p->most_left_us[i] = max_i64(p->pick_us[i], i > 0 ? p->most_left_us[i - 1] : -NEVER);
    for (int i = r->n - 1; i >= 0; i--)
        p->most_right_us[i] = max_i64(p->pick_us[i], i + 1 < r->n ? p->most_right_us[i + 1] : -NEVER);
}

/* Searches one side of x. Further away, the way alone costs more than any price gives back. */
static int64_t scan(const struct price *p, const struct rail *r, int64_t x, int from, int step, int but, int64_t least)
{
    for (int k = from; k >= 0 && k < r->n; k += step) {
        int64_t way = way_us(r, x, r->at[k].p);
        if (way - (step < 0 ? p->most_left_us : p->most_right_us)[k] >= least)
            break;
        if (k != but && r->at[k].may_move)
            least = min_i64(least, way - p->pick_us[k]);
    }
    return least;
}

/* Returns the price of a drop of holder i at x, or of the start if i is -1. */
static int64_t price_drop(const struct price *p, const struct rail *r, int i, int64_t x)
{
    int right = 0, high = r->n;
    while (right < high) {
        int middle = (right + high) / 2;
        if (r->at[middle].p < x)
            right = middle + 1;
        else
            high = middle;
    }
    int64_t least = i < 0 ? NEVER : -p->end_us;
    least = scan(p, r, x, right, 1, i, least);
    return scan(p, r, x, right - 1, -1, i, least);
}

int64_t price_move_us(const struct price *p, const struct rail *r, int i, int64_t x)
{
    return p->pick_us[i] + price_drop(p, r, i, x);
}

/* Returns the price of a drop at any place: no way to a pick is shorter than its approach. */
static int64_t price_drop_anywhere(const struct price *p, const struct cost *c, const struct rail *r, int i)
{
    int64_t least = -p->end_us;
    for (int k = 0; k < r->n; k++) {
        if (k != i && r->at[k].may_move)
            least = min_i64(least, c->approach_us[k] - p->pick_us[k]);
    }
    return least;
}

static int64_t price_cut(const struct price *p, const struct cost *c, const struct rail *r, int i, int j)
{
    int64_t x = rail_target(r, i, j);
    bool near = abs_i64(x - r->at[i].p) <= r->deadband;
    if (c->cut_us[i][j] >= NEVER)
        return NEVER;
    int64_t own = near ? r->handling_us : c->cut_us[i][j] - c->approach_us[i];
    int64_t us = own + p->pick_us[i] + price_drop(p, r, i, x);
    return near ? min_i64(us, 0) : us;
}

static int64_t price_rest(const struct price *p, const struct cost *c, const struct rail *r, int i, int j,
                          int64_t anywhere)
{
    int64_t us = c->rest_us[i][j];
    if (us >= NEVER || !r->at[i].may_move)
        return us;
    if (us == 0)
        return min_i64(0, r->handling_us + p->pick_us[i] + anywhere);
    return us - c->approach_us[i] + p->pick_us[i] + anywhere;
}

static int idle_of(const struct rail *r)
{
    return r->n - r->n_cuts;
}

static void put_in_costs(struct price *p, const struct cost *c, const struct rail *r)
{
    int idle = idle_of(r); /* no holder makes a cut with more idle holders than this to its left */
    for (int i = 0; i < r->n; i++) {
        int64_t anywhere = price_drop_anywhere(p, c, r, i);
        p->cost.approach_us[i] = p->pick_us[i] + anywhere;
        for (int j = 0; j <= r->n_cuts; j++)
            p->cost.rest_us[i][j] = price_rest(p, c, r, i, j, anywhere);
        for (int j = 0; j < r->n_cuts; j++)
            p->cost.cut_us[i][j] = NEVER;
        for (int j = max_int(0, i - idle); j <= i && j < r->n_cuts; j++) {
            p->cost.cut_us[i][j] = price_cut(p, c, r, i, j);
            p->cost.way_us[i][j] = 0;
        }
    }
}

int64_t price_make(struct price *p, struct match *a, const struct moves *m, const struct cost *c, const struct rail *r,
                   int64_t *steps)
{
    bound_match_free(a, m, steps);
    price_picks(p, a, m, r);
    put_in_costs(p, c, r);
    *steps -= INT64_C(16) * r->n * (idle_of(r) + 1);
    return price_drop(p, r, -1, r->carriage) + p->end_us;
}
