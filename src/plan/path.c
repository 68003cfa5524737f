#include "path.h"

#include "whole.h"

#define IMPOSSIBLE (INT64_C(1) << 50) /* far above any plan's time, and a hundred of them can be added */

/* ---- pushed aside -------------------------------------------------------------------------------------------------- */

/* What holder k costs more than at rest if it has to go to x, or further. */
static int64_t pushed_us(const struct path *path, const struct rail *r, int k, int j, int64_t x)
{
    const struct cost *c = path->cost;
    if (!r->at[k].may_move)
        return IMPOSSIBLE;
    int64_t us = r->handling_us + rail_drag_us(r, k, x) + c->approach_us[k];
    us += abs_i64(x - r->at[k].p) * 1000 / r->empty.v_um_per_s * path->permille;
    return max_i64(0, us - c->rest_us[k][j]);
}

/* To the right by holder i at x, up to the first that has room; j cuts lie to the left. */
static int64_t push_right(const struct path *path, const struct rail *r, int i, int64_t x, int next, int j)
{
    int64_t us = 0;
    for (int k = i + 1; k < next; k++) {
        x += r->at[k - 1].gap;
        if (r->outside && j == r->n_cuts && x > r->web_left)
            x = max_i64(x, r->web_right);
        if (r->at[k].p + r->deadband >= x)
            break;
        us += pushed_us(path, r, k, j, x);
    }
    return us;
}

static int64_t push_left(const struct path *path, const struct rail *r, int i, int64_t x, int before, int j)
{
    int64_t us = 0;
    for (int k = i - 1; k > before; k--) {
        x -= r->at[k].gap;
        if (r->outside && j == 0 && x < r->web_right)
            x = min_i64(x, r->web_left);
        if (r->at[k].p - r->deadband <= x)
            break;
        us += pushed_us(path, r, k, j, x);
    }
    return us;
}

int64_t path_between_us(const struct path *path, const struct rail *r, int i, int j, int next)
{
    int left = j + 1;
    int64_t us = path->rest_us[left][next] - path->rest_us[left][i + 1];
    if (i != NOBODY && next < r->n &&
        rail_target(r, next, left) - rail_target(r, i, j) < path->reach[next] - path->reach[i])
        return NEVER;
    if (us >= IMPOSSIBLE / 2)
        return NEVER;
    if (i != NOBODY)
        us += push_right(path, r, i, rail_target(r, i, j), next, left);
    if (next < r->n)
        us += push_left(path, r, next, rail_target(r, next, left), i, left);
    return us >= IMPOSSIBLE / 2 ? NEVER : us;
}

/* ---- the shortest path ---------------------------------------------------------------------------------------------- */

int64_t path_cut_us(const struct path *path, int i, int j)
{
    const struct cost *c = path->cost;
    return c->cut_us[i][j] + (int64_t)c->way_us[i][j] * path->permille / 1000;
}

static void add_up(struct path *path, const struct rail *r)
{
    path->reach[0] = 0;
    for (int i = 0; i < r->n; i++)
        path->reach[i + 1] = path->reach[i] + r->at[i].gap;
    for (int j = 0; j <= r->n_cuts; j++) {
        path->rest_us[j][0] = 0;
        for (int i = 0; i < r->n; i++) {
            int64_t us = path->cost->rest_us[i][j];
            path->rest_us[j][i + 1] = path->rest_us[j][i] + (us >= NEVER ? IMPOSSIBLE : us);
        }
    }
}

/* The least over the holders that may make the next cut; *best is one of them. */
static int64_t least_after(const struct path *path, const struct rail *r, int i, int j, int *best)
{
    int64_t least = NEVER;
    *best = r->n;
    if (j + 1 == r->n_cuts)
        return path_between_us(path, r, i, j, r->n);
    int last = r->n - (r->n_cuts - j - 1);
    for (int next = i + 1; next <= last; next++) {
        int64_t us = path->cost->cut_us[next][j + 1];
        if (us >= NEVER)
            continue;
        us = path_cut_us(path, next, j + 1) + path->after_us[next][j + 1];
        if (us >= least)
            continue;
        int64_t between = path_between_us(path, r, i, j, next);
        if (between < NEVER && us + between < least) {
            least = us + between;
            *best = next;
        }
    }
    return least;
}

void path_make(struct path *path, const struct rail *r, const struct cost *cost, int32_t permille,
               int64_t *steps)
{
    int next, idle = r->n - r->n_cuts;
    path->cost = cost;
    path->permille = permille;
    add_up(path, r);
    path->least_us = NEVER;
    if (idle < 0)
        return;
    *steps -= (int64_t)r->n * r->n_cuts / 2 + (int64_t)r->n_cuts * idle * idle * 3 / 2;
    for (int j = r->n_cuts - 1; j >= 0; j--) {
        for (int i = j; i <= j + idle; i++)
            path->after_us[i][j] = cost->cut_us[i][j] < NEVER ? least_after(path, r, i, j, &next) : NEVER;
    }
    path->least_us = least_after(path, r, NOBODY, -1, &next);
}

bool path_best(const struct path *path, const struct rail *r, struct choice *c)
{
    if (path->least_us >= NEVER)
        return false;
    for (int i = 0; i < r->n; i++)
        c->cut[i] = IDLE;
    for (int i = NOBODY, j = -1; j + 1 < r->n_cuts;) {
        least_after(path, r, i, j, &i);
        c->cut[i] = (int16_t)++j;
    }
    return true;
}
