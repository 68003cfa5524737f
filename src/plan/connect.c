#include "connect.h"

#include <string.h>

#include "integers.h"

/* An additive bound (M. Fischetti and P. Toth 1992, who add bounds from spanning arborescences to the assignment;
 * README.md beside this file has the source).
 *
 * The reduced costs of an assignment are nowhere below 0. A sequence costs at least the assignment plus the sum of its
 * reduced costs. Every move must be reached from the start, and the end must be reached from every move. So take a set
 * of moves into which no way of reduced cost 0 leads. Some way into the set must be used, so that the cheapest one can
 * be added to the bound and subtracted from all ways into the set. The same holds for ways out of a set. */

struct web {
    struct match *a;
    int moves; /* number of moves; the row and the column of this number are the start and the end */
    bool in[NODES_MAX];
    int16_t queue[NODES_MAX];
    int looked_at; /* number of elements of the queue that were looked at */
};

static void leave_remainders(struct match *a)
{
    for (int r = 0; r < a->n; r++) {
        for (int c = 0; c < a->n; c++)
            a->cost[r][c] = clamp_i32(a->cost[r][c] - a->row[r] - a->column[c]);
    }
}

/* Adds to the set all moves from which a way of reduced cost 0 leads to the n moves of the queue (or to which such a
 * way leads from them), and then repeats that for the added ones. Returns the number of moves in the set. */
static int spread(struct web *w, int n, bool into, int64_t *steps)
{
    for (; w->looked_at < n; w->looked_at++) {
        int at = w->queue[w->looked_at];
        for (int k = 0; k < w->moves; k++) {
            if (w->in[k] || (into ? w->a->cost[k][at] : w->a->cost[at][k]) > 0)
                continue;
            w->in[k] = true;
            w->queue[n++] = (int16_t)k;
        }
        *steps -= w->moves / 3 + 1;
    }
    return n;
}

/* Finds the cheapest way into the set of n moves (or out of it), and subtracts it from all such ways. */
static int32_t charge(struct web *w, int n, bool into, int64_t *steps)
{
    int32_t least = INT32_MAX;
    for (int pass = 0; pass < 2; pass++) {
        for (int k = 0; k <= w->moves; k++) {
            if (k < w->moves && w->in[k])
                continue;
            for (int q = 0; q < n; q++) {
                int32_t *cost = into ? &w->a->cost[k][w->queue[q]] : &w->a->cost[w->queue[q]][k];
                if (pass == 1)
                    *cost -= least;
                else if (*cost < least)
                    least = *cost;
            }
        }
        *steps -= (int64_t)(w->moves - n + 1) * n / 2 + 1;
        if (least == 0) /* a way of reduced cost 0 already reaches the start (or the end) */
            break;
    }
    return least;
}

/* Each step makes the reduced cost of some way 0, so that the set grows until it has all moves. */
static int64_t charge_from(struct web *w, int v, bool into, int64_t *steps)
{
    int64_t more = 0;
    int n = 1;
    memset(w->in, 0, sizeof w->in);
    w->in[v] = true;
    w->queue[0] = (int16_t)v;
    w->looked_at = 0;
    for (int32_t charged = 1; charged > 0;) {
        n = spread(w, n, into, steps);
        charged = charge(w, n, into, steps);
        more += charged;
        w->looked_at = 0; /* the reduced cost of a way may be 0 now */
    }
    return more;
}

int64_t connect_bound(struct match *a, int64_t *steps)
{
    struct web w = {.a = a, .moves = a->n - 1};
    int64_t more = 0;
    leave_remainders(a);
    for (int v = 0; v < w.moves; v++)
        more += charge_from(&w, v, true, steps);
    for (int v = 0; v < w.moves; v++)
        more += charge_from(&w, v, false, steps);
    return more;
}
