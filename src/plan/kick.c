#include "kick.h"

#include <string.h>

#include "shift.h"
#include "try.h"
#include "whole.h"

#define LONGEST 12 /* moves in one block */

static uint32_t random_below(struct search_room *w, uint32_t n)
{
    w->random = w->random * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (uint32_t)((w->random >> 33) % n);
}

/* Exchanges some blocks somewhere in one stretch of the order, as far as that is allowed. */
static void shake(struct search_room *w, int16_t order[])
{
    const struct moves *m = &w->moves;
    int at = (int)random_below(w, (uint32_t)m->n);
    for (int times = 0; times < 3; times++) {
        int i = at + (int)random_below(w, 12), j = i + 1 + (int)random_below(w, 6),
            k = j + 1 + (int)random_below(w, 6);
        if (k <= m->n)
            order_exchange(m, order, i, j, k);
    }
}

void kick_order(struct search_room *w, const struct rail *r, int64_t until_steps)
{
    int16_t best[MOVES_MAX], order[MOVES_MAX];
    struct moves *m = &w->moves;
    moves_make(m, r, &w->best.choice, &w->ways);
    int64_t best_us = order_adapt(m, w->best.site, w->best.n_moves, best, MOVES_MAX, &w->steps);
    while (m->n > 3 && w->steps > until_steps) {
        w->steps -= INT64_C(2) * m->n; /* even if nothing can be exchanged */
        memcpy(order, best, sizeof order);
        shake(w, order);
        order_improve(m, order, LONGEST, &w->steps);
        int64_t us = moves_time_us(m, order);
        if (us <= best_us) {
            best_us = us;
            memcpy(best, order, sizeof best);
        }
    }
    try_keep(&w->best, m, &w->best.choice, best, best_us);
}

/* Some other assignment nearby: two shifts in one neighbourhood. */
static bool kick_cuts(struct search_room *w, const struct rail *r, struct choice *c)
{
    int at = (int)random_below(w, r->n), done = 0;
    *c = w->best.choice;
    for (int tries = 0; tries < 20 && done < 2; tries++) {
        int a = at + (int)random_below(w, 10) - 5, b = at + (int)random_below(w, 10) - 5;
        if (a < 0 || b < 0 || a >= r->n || b >= r->n || c->cut[a] == IDLE || c->cut[b] != IDLE ||
            !r->at[b].may_cut)
            continue;
        struct choice from = *c;
        shift_run(&from, a, b, c);
        done++;
    }
    return done > 0 && choice_settle(r, c);
}

void kick_choice(struct search_room *w, const struct rail *r, int64_t until_steps)
{
    int16_t order[MOVES_MAX];
    for (int tries = 0; tries < 100000 && w->steps > until_steps; tries++) {
        w->steps -= INT64_C(10) * r->n;
        w->before = w->best;
        if (!kick_cuts(w, r, &w->best.choice)) {
            w->best = w->before;
            continue;
        }
        moves_make(&w->moves, r, &w->best.choice, &w->ways);
        int64_t us = order_adapt(&w->moves, w->before.site, w->before.n_moves, order, LONGEST, &w->steps);
        try_keep(&w->best, &w->moves, &w->best.choice, order, us);
        shift_improve(w, r, 0);
        if (w->best.time_us > w->before.time_us)
            w->best = w->before;
    }
}
