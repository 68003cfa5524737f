#include "connect.h"

#include <string.h>

#include "whole.h"

/* What an assignment leaves of the costs is nowhere below 0, and an order costs at least as much on top as it takes of
 * these remainders. Every move must be reached from the start, and from every move the end must be reached. So take a
 * set of moves that nothing enters for free: some way into it has to be made, and the cheapest can be added to the
 * bound and taken off all ways into the set. Likewise out of a set. (Additive bounds: M. Fischetti and P. Toth, An
 * additive bounding procedure for the asymmetric travelling salesman problem, Math. Programming 53, 1992; from memory.) */

struct web {
    struct match *a;
    int moves; /* row and column of this number are the start and the end */
    bool in[NODES_MAX];
    int16_t queue[NODES_MAX];
};

static void leave_remainders(struct match *a)
{
    for (int r = 0; r < a->n; r++) {
        for (int c = 0; c < a->n; c++)
            a->cost[r][c] = clamp_i32(a->cost[r][c] - a->row[r] - a->column[c]);
    }
}

/* All moves from which move v is reached for free, v among them. */
static void all_into(struct web *w, int v)
{
    int n = 1;
    memset(w->in, 0, sizeof w->in);
    w->in[v] = true;
    w->queue[0] = (int16_t)v;
    for (int k = 0; k < n; k++) {
        for (int r = 0; r < w->moves; r++) {
            if (w->in[r] || w->a->cost[r][w->queue[k]] > 0)
                continue;
            w->in[r] = true;
            w->queue[n++] = (int16_t)r;
        }
    }
}

/* All moves that are reached for free from move v. */
static void all_from(struct web *w, int v)
{
    int n = 1;
    memset(w->in, 0, sizeof w->in);
    w->in[v] = true;
    w->queue[0] = (int16_t)v;
    for (int k = 0; k < n; k++) {
        const int32_t *row = w->a->cost[w->queue[k]];
        for (int c = 0; c < w->moves; c++) {
            if (w->in[c] || row[c] > 0)
                continue;
            w->in[c] = true;
            w->queue[n++] = (int16_t)c;
        }
    }
}

/* The cheapest way into the set, taken off all ways into it. */
static int32_t charge_entering(struct web *w)
{
    int32_t least = INT32_MAX;
    for (int pass = 0; pass < 2; pass++) {
        for (int r = 0; r <= w->moves; r++) {
            if (r < w->moves && w->in[r])
                continue;
            for (int c = 0; c < w->moves; c++) {
                if (!w->in[c])
                    continue;
                if (pass == 1)
                    w->a->cost[r][c] -= least;
                else if (w->a->cost[r][c] < least)
                    least = w->a->cost[r][c];
            }
        }
    }
    return least;
}

static int32_t charge_leaving(struct web *w)
{
    int32_t least = INT32_MAX;
    for (int pass = 0; pass < 2; pass++) {
        for (int r = 0; r < w->moves; r++) {
            if (!w->in[r])
                continue;
            for (int c = 0; c <= w->moves; c++) {
                if (c < w->moves && w->in[c])
                    continue;
                if (pass == 1)
                    w->a->cost[r][c] -= least;
                else if (w->a->cost[r][c] < least)
                    least = w->a->cost[r][c];
            }
        }
    }
    return least;
}

int64_t connect_bound(struct match *a, int64_t *steps)
{
    struct web w = {.a = a, .moves = a->n - 1};
    int64_t more = 0;
    leave_remainders(a);
    for (int v = 0; v < w.moves; v++) {
        for (int32_t charged = 1; charged > 0;) {
            all_into(&w, v);
            charged = charge_entering(&w); /* 0: the start reaches v for free */
            more += charged;
            *steps -= a->n;
        }
    }
    for (int v = 0; v < w.moves; v++) {
        for (int32_t charged = 1; charged > 0;) {
            all_from(&w, v);
            charged = charge_leaving(&w);
            more += charged;
            *steps -= a->n;
        }
    }
    return more;
}
