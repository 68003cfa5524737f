#include "path.h"

#include "crowd.h"
#include "integers.h"

/* Far above the time of any plan, and a hundred of them can be added. */
#define IMPOSSIBLE (INT64_C(1) << 50)

#define WORK_OF_ONE 8 /* a holder that is pushed aside takes as much work as this number of cells */

/* ---- holders that are pushed aside ----------------------------------------------------------------------------- */

/* way_us is below 0 for a way to the left. */
static int64_t lean_us(const struct path *path, int64_t way_us)
{
    return way_us * (way_us < 0 ? -path->lean.left_permille : path->lean.right_permille) / 1000;
}

/* Returns the additional cost of holder k, compared with its cost at rest, if it has to go to x or further. */
static int64_t pushed_us(const struct path *path, const struct rail *r, int k, int j, int64_t x)
{
    const struct cost *c = path->cost;
    if (!r->at[k].may_move)
        return IMPOSSIBLE;
    int64_t us = r->handling_us + rail_drag_us(r, k, x) + c->approach_us[k];
    us += lean_us(path, (x - r->at[k].p) * 1000000 / r->empty.v_um_per_s);
    return max_i64(0, us - c->rest_us[k][j]);
}

/* Returns the cost of the holders that holder i, at x, pushes to the right, up to the first one that has room. j cuts
 * lie to their left. */
static int64_t push_right(struct path *path, const struct rail *r, int i, int64_t x, int next, int j)
{
    int64_t us = 0;
    for (int k = i + 1; k < next; k++) {
        x += r->at[k - 1].gap;
        if (r->outside && j == r->n_cuts && x > r->web_left)
            x = max_i64(x, r->web_right);
        if (r->at[k].p + r->deadband >= x)
            break;
        us += pushed_us(path, r, k, j, x);
        path->work += WORK_OF_ONE;
    }
    return us;
}

static int64_t push_left(struct path *path, const struct rail *r, int i, int64_t x, int before, int j)
{
    int64_t us = 0;
    for (int k = i - 1; k > before; k--) {
        x -= r->at[k].gap;
        if (r->outside && j == 0 && x < r->web_right)
            x = min_i64(x, r->web_left);
        if (r->at[k].p - r->deadband <= x)
            break;
        us += pushed_us(path, r, k, j, x);
        path->work += WORK_OF_ONE;
    }
    return us;
}

/* Returns the cost of a run of idle holders. If the run is crowded, some holder in it has to move, wherever its
 * neighbours cut. */
static int64_t crowd_us(struct path *path, const struct rail *r, int i, int j, int next, int64_t pushed_us)
{
    int64_t low = NO_LIMIT, high = NOWHERE, more_us[KR_HOLDERS_MAX];
    if (i != NOBODY)
        low = rail_target(r, i, j) - path->reach[i];
    if (next < r->n)
        high = rail_target(r, next, j + 1) - path->reach[next];
    if (!crowd_is_pushed(r->crowd, r, i + 1, next - 1))
        return pushed_us;
    for (int k = i + 1; k < next; k++)
        more_us[k] = path->cost->approach_us[k] - r->crowd->approach_us[k] - path->cost->rest_us[k][j + 1];
    return max_i64(pushed_us, crowd_least_us(r->crowd, r, i + 1, next - 1, low, high, more_us, &path->work));
}

static int64_t rests_us(const struct path *path, int i, int j, int next)
{
    return path->rest_us[j + 1][next] - path->rest_us[j + 1][i + 1];
}

/* Returns the cost of the holders that the neighbours which cut push aside. */
static int64_t pushes_us(struct path *path, const struct rail *r, int i, int j, int next)
{
    int left = j + 1;
    int64_t us = 0;
    if (i != NOBODY && next < r->n &&
        rail_target(r, next, left) - rail_target(r, i, j) < path->reach[next] - path->reach[i])
        return NEVER;
    if (i != NOBODY)
        us += push_right(path, r, i, rail_target(r, i, j), next, left);
    if (next < r->n)
        us += push_left(path, r, next, rail_target(r, next, left), i, left);
    return us;
}

/* Returns the part of the cost that does not depend on whether the run is crowded. */
static int64_t apart_us(struct path *path, const struct rail *r, int i, int j, int next)
{
    int64_t us = rests_us(path, i, j, next);
    if (us < IMPOSSIBLE / 2)
        us += pushes_us(path, r, i, j, next);
    return us >= IMPOSSIBLE / 2 ? NEVER : us;
}

/* Returns the whole cost, with the cost of a crowd. The crowd is left out if the rest already reaches limit_us. */
static int64_t between_us(struct path *path, const struct rail *r, int i, int j, int next, int64_t limit_us)
{
    int64_t us = apart_us(path, r, i, j, next);
    if (us >= limit_us || us >= NEVER || r->crowd == NULL || next <= i + 2)
        return us;
    int64_t rests = rests_us(path, i, j, next);
    us = rests + crowd_us(path, r, i, j, next, us - rests);
    return us >= IMPOSSIBLE / 2 ? NEVER : us;
}

int64_t path_between_us(struct path *path, const struct rail *r, int i, int j, int next)
{
    return between_us(path, r, i, j, next, NEVER);
}

/* ---- the shortest path ----------------------------------------------------------------------------------------- */

static void add_up(struct path *path, const struct rail *r)
{
    path->reach[0] = 0;
    for (int i = 0; i < r->n; i++)
        path->reach[i + 1] = path->reach[i] + r->at[i].gap;
    for (int j = 0; j <= r->n_cuts; j++) {
        path->rest_us[j][0] = path->least_rest_us[j] = 0;
        for (int i = 0; i < r->n; i++) {
            int64_t us = path->cost->rest_us[i][j];
            path->rest_us[j][i + 1] = path->rest_us[j][i] + (us >= NEVER ? IMPOSSIBLE : us);
            path->least_rest_us[j] += min_i64(us, 0);
        }
    }
}

/* Returns the least cost over the holders that may make the next cut. *best is one of these holders, which is tried
 * first, and is then set to the best one. The best successor of one holder is often the best successor of its
 * neighbour, too, and then most others are soon ruled out. */
static int64_t least_after(struct path *path, const struct rail *r, int i, int j, int *best)
{
    if (j + 1 == r->n_cuts)
        return path_between_us(path, r, i, j, r->n);
    const int64_t *from_us = path->from_us[j + 1];
    int last = r->n - (r->n_cuts - j - 1), next = *best > i && *best <= last ? *best : i + 1;
    int64_t least = NEVER;
    *best = r->n;
    for (bool first = true; next <= last; next = first ? i + 1 : next + 1, first = false) {
        if (from_us[next] + path->least_rest_us[j + 1] >= least)
            continue;
        int64_t between = between_us(path, r, i, j, next, least - from_us[next]);
        if (between < NEVER && from_us[next] + between < least) {
            least = from_us[next] + between;
            *best = next;
        }
    }
    return least;
}

static void make_node(struct path *path, const struct rail *r, int i, int j, int *next)
{
    const struct cost *c = path->cost;
    int64_t after = c->cut_us[i][j] < NEVER ? least_after(path, r, i, j, next) : NEVER;
    path->after_us[i][j] = after;
    path->from_us[j][i] = after < NEVER ? after + c->cut_us[i][j] + lean_us(path, c->way_us[i][j]) : NEVER;
}

void path_sums(struct path *path, const struct rail *r, const struct cost *cost)
{
    path->cost = cost;
    path->lean = (struct lean){0, 0};
    add_up(path, r);
}

void path_make(struct path *path, const struct rail *r, const struct cost *cost, struct lean lean, int64_t *steps)
{
    int next, idle = r->n - r->n_cuts;
    path->cost = cost;
    path->lean = lean;
    path->work = 0;
    add_up(path, r);
    path->least_us = NEVER;
    if (idle < 0)
        return;
    *steps -= (int64_t)r->n * r->n_cuts / 2 + (int64_t)r->n_cuts * idle * idle * 3 / 4;
    for (int j = r->n_cuts - 1; j >= 0; j--) {
        next = j;
        for (int i = j; i <= j + idle; i++)
            make_node(path, r, i, j, &next);
    }
    next = 0;
    path->least_us = least_after(path, r, NOBODY, -1, &next);
    if (r->crowd != NULL) /* on other rails few holders are pushed */
        *steps -= path->work / CELLS_A_STEP;
}

bool path_best(struct path *path, const struct rail *r, struct choice *c)
{
    if (path->least_us >= NEVER)
        return false;
    for (int i = 0; i < r->n; i++)
        c->cut[i] = IDLE;
    for (int i = NOBODY, j = -1; j + 1 < r->n_cuts;) {
        int next = i + 1;
        least_after(path, r, i, j, &next);
        c->cut[next] = (int16_t)++j;
        i = next;
    }
    return true;
}
