#include "bound.h"

#include "connect.h"
#include "integers.h"

#define FAR INT64_MAX

/* ---- least-cost assignment ---------------------------------------------------------------------------------------
 * The Hungarian method (H. W. Kuhn 1955; J. Munkres 1957) with shortest augmenting paths (D. F. Crouse 2016 has a
 * survey), O(n^3). Column n stands for `not matched yet'. */

struct tree {
    int64_t least[NODES_MAX]; /* reduced cost of the best way to each column so far */
    int16_t before[NODES_MAX + 1];
    bool used[NODES_MAX + 1];
};

/* Adds one more row: grows a tree of tight pairs until the tree reaches a free column. */
static int grow(struct match *a, int16_t row_of[], int row, struct tree *t, int64_t *steps)
{
    int column = a->n;
    row_of[column] = (int16_t)row;
    for (int c = 0; c < a->n; c++) {
        t->least[c] = FAR;
        t->used[c] = false;
    }
    t->used[a->n] = false;
    do {
        int r = row_of[column], next = -1;
        int64_t delta = FAR;
        t->used[column] = true;
        *steps -= a->n * 3 / 4 + 1;
        for (int c = 0; c < a->n; c++) {
            if (t->used[c])
                continue;
            int64_t reduced = a->cost[r][c] - a->row[r] - a->column[c];
            if (reduced < t->least[c]) {
                t->least[c] = reduced;
                t->before[c] = (int16_t)column;
            }
            if (t->least[c] < delta) {
                delta = t->least[c];
                next = c;
            }
        }
        for (int c = 0; c < a->n; c++) {
            if (t->used[c]) {
                a->row[row_of[c]] += delta;
                a->column[c] -= delta;
            } else {
                t->least[c] -= delta;
            }
        }
        a->row[row] += delta;
        column = next;
    } while (row_of[column] >= 0);
    return column;
}

static int64_t solve(struct match *a, int64_t *steps)
{
    int16_t row_of[NODES_MAX + 1];
    struct tree tree;
    int64_t sum = 0;
    for (int c = 0; c <= a->n; c++)
        row_of[c] = -1;
    for (int c = 0; c < a->n; c++)
        a->row[c] = a->column[c] = 0;
    for (int row = 0; row < a->n; row++) {
        int column = grow(a, row_of, row, &tree, steps);
        while (column != a->n) {
            row_of[column] = row_of[tree.before[column]];
            column = tree.before[column];
        }
    }
    for (int c = 0; c < a->n; c++) {
        a->row_of[c] = row_of[c];
        sum += a->row[c] + a->column[c];
    }
    return sum;
}

/* ---- costs ----------------------------------------------------------------------------------------------------- */

static bool waits(const struct moves *m, int k)
{
    return moves_link(m, k) < 0 || (k + 1 < m->n && moves_link(m, k + 1) > 0);
}

static bool is_waited_for(const struct moves *m, int k)
{
    return moves_link(m, k) > 0 || (k + 1 < m->n && moves_link(m, k + 1) < 0);
}

static void fill_costs(struct match *a, const struct moves *m)
{
    int n = m->n;
    a->n = n + 1;
    for (int k = 0; k < n; k++) {
        for (int b = 0; b < n; b++)
            a->cost[k][b] = m->way_us[m->site[k]][m->site[b]];
        a->cost[k][k] = FORBIDDEN_US;
        a->cost[k][n] = is_waited_for(m, k) ? FORBIDDEN_US : 0;
        a->cost[n][k] = waits(m, k) ? FORBIDDEN_US : m->start_us[m->site[k]];
    }
    a->cost[n][n] = n > 0 ? FORBIDDEN_US : 0;
}

/* In a run of moves with a forced sequence, only the very next move may follow, and no move may follow backwards. */
static void forbid_run(struct match *a, const struct moves *m, int low, int high)
{
    for (int x = low; x <= high; x++) {
        for (int y = low; y <= high; y++) {
            if (!moves_may_follow(m, x, y))
                a->cost[x][y] = FORBIDDEN_US;
        }
    }
}

static void forbid(struct match *a, const struct moves *m)
{
    for (int low = 0, k = 1; k <= m->n; k++) {
        if (k < m->n && moves_link(m, k) != 0)
            continue;
        forbid_run(a, m, low, k - 1);
        low = k;
    }
}

int64_t bound_match(struct match *match, const struct moves *moves, int64_t *steps)
{
    fill_costs(match, moves);
    forbid(match, moves);
    return moves->fixed_us + solve(match, steps);
}

int64_t bound_match_free(struct match *match, const struct moves *moves, int64_t *steps)
{
    fill_costs(match, moves);
    for (int k = 0; k < moves->n; k++) {
        match->cost[k][moves->n] = 0;
        match->cost[moves->n][k] = moves->start_us[moves->site[k]];
    }
    return moves->fixed_us + solve(match, steps);
}

/* ---- the crossings of each stretch ------------------------------------------------------------------------------- */

#define POINTS_MAX (2 * MOVES_MAX + 1)

/* The rail, divided into stretches at every start and end of a move and at the carriage. */
struct stretches {
    int n;
    int64_t point[POINTS_MAX];
    /* For the stretch to the right of a point: crossings with a holder to the right minus those to the left. */
    int net[POINTS_MAX];
    int crossed[POINTS_MAX]; /* number of all crossings with a holder */
};

static void sort(int64_t v[], int n)
{
    for (int i = 1; i < n; i++) {
        int64_t x = v[i];
        int k = i;
        for (; k > 0 && v[k - 1] > x; k--)
            v[k] = v[k - 1];
        v[k] = x;
    }
}

static void count_crossings(struct stretches *s, const struct moves *m, const struct rail *r)
{
    s->n = 0;
    s->point[s->n++] = r->carriage;
    for (int k = 0; k < m->n; k++) {
        s->point[s->n++] = r->at[m->site[k]].p;
        s->point[s->n++] = m->x[m->site[k]];
    }
    sort(s->point, s->n);
    for (int i = 0; i < s->n; i++) {
        s->net[i] = s->crossed[i] = 0;
        for (int k = 0; k < m->n; k++) {
            int64_t from = r->at[m->site[k]].p, to = m->x[m->site[k]];
            bool right = from <= s->point[i] && to > s->point[i], left = to <= s->point[i] && from > s->point[i];
            s->net[i] += right - left;
            s->crossed[i] += right || left;
        }
    }
}

/* Returns the least number of empty crossings of a stretch. The way from start to end crosses it in total once more to
 * the right (1), once more to the left (-1), or equally often in both directions (0). A stretch that no move crosses,
 * but both of whose sides must be reached, takes two crossings. */
static int empty_crossings(const struct stretches *s, int i, int whole)
{
    int net = whole - s->net[i];
    if (net == 0 && s->crossed[i] == 0)
        return 2;
    return net < 0 ? -net : net;
}

/* Returns the least empty way in micrometres, over all possible last moves. */
static int64_t least_way(const struct stretches *s, const struct moves *m, const struct rail *r)
{
    int64_t best = INT64_MAX;
    for (int k = 0; k < m->n; k++) {
        if (is_waited_for(m, k))
            continue;
        int64_t way = 0;
        for (int i = 0; i + 1 < s->n; i++) {
            int whole = (r->carriage <= s->point[i] && m->x[m->site[k]] > s->point[i]) -
                        (m->x[m->site[k]] <= s->point[i] && r->carriage > s->point[i]);
            way += (s->point[i + 1] - s->point[i]) * empty_crossings(s, i, whole);
        }
        best = min_i64(best, way);
    }
    return best;
}

/* Subtracts from every way the cost of its length, at so many permille of the time at full speed, and finds the least
 * sum of the rest. The subtracted amount is rounded up for each way, and the amount that is added again is rounded down
 * once. */
static int64_t split_bound(struct match *a, const struct moves *m, const struct rail *r, int64_t least_um,
                           int32_t permille, int64_t *steps)
{
    int64_t v = r->empty.v_um_per_s;
    fill_costs(a, m);
    for (int k = 0; k < m->n; k++) {
        int64_t p = r->at[m->site[k]].p;
        for (int b = 0; b < m->n; b++)
            a->cost[b][k] -= clamp_i32(abs_i64(m->x[m->site[b]] - p) * 1000 * permille / v + 1);
        a->cost[m->n][k] -= clamp_i32(abs_i64(r->carriage - p) * 1000 * permille / v + 1);
    }
    forbid(a, m);
    return m->fixed_us + solve(a, steps) + least_um * 1000 * permille / v;
}

/* On short ways the carriage never reaches full speed, and a stretch costs more. So several rates are tried, up to the
 * rate at which the bound falls again: the bound is a concave function of the rate, as of any multiplier. */
int64_t bound_sequences(struct match *match, const struct moves *moves, const struct rail *rail, int64_t *steps)
{
    struct stretches s;
    if (moves->n == 0)
        return 0;
    count_crossings(&s, moves, rail);
    int64_t least_um = least_way(&s, moves, rail), best = 0;
    int32_t best_rate = 0;
    for (int32_t permille = 0; permille <= 4000; permille += 1000) {
        int64_t us = split_bound(match, moves, rail, least_um, permille, steps);
        if (us < best)
            break;
        best = us;
        best_rate = permille;
    }
    for (int32_t permille = 0; permille <= best_rate; permille += best_rate > 0 ? best_rate : 1) {
        int64_t us = split_bound(match, moves, rail, least_um, permille, steps);
        best = max_i64(best, us + connect_bound(match, steps));
    }
    return best;
}
