#include "kick.h"

#include <string.h>

#include "integers.h"
#include "sequence.h"
#include "shift.h"
#include "try.h"

static uint32_t random_below(struct search_room *w, uint32_t n)
{
    w->random = w->random * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (uint32_t)((w->random >> 33) % n);
}

/* Reverses a stretch of the sequence, or exchanges some random blocks, as far as the constraints allow it. Returns by
 * how much the time grows. */
static int64_t shake(struct search_room *w, struct hunt *h)
{
    int n = h->m->n, at = (int)random_below(w, (uint32_t)n);
    int64_t us = 0;
    if (random_below(w, 3) == 0) {
        int end = at + 2 + (int)random_below(w, (uint32_t)n / 2);
        return hunt_turn(h, at, end < n ? end : n);
    }
    for (int times = 0; times < 3; times++) {
        int i = at + (int)random_below(w, 12), j = i + 1 + (int)random_below(w, 6), k = j + 1 + (int)random_below(w, 6);
        if (k <= n)
            us += hunt_exchange(h, i, j, k);
    }
    return us;
}

void kick_sequence(struct search_room *w, const struct rail *r, int64_t until_steps)
{
    struct moves *m = &w->moves;
    struct hunt h;
    moves_make(m, r, &w->best.choice, &w->ways);
    int64_t best_us = w->best.time_us;
    while (m->n > 3 && w->steps > until_steps) {
        w->steps -= m->n; /* also if nothing can be exchanged */
        hunt_begin(&h, m, w->best.site, &w->steps);
        int64_t more_us = shake(w, &h);
        more_us -= hunt_improve(&h);
        if (more_us > 0)
            continue;
        best_us += more_us;
        memcpy(w->best.site, h.sequence, sizeof h.sequence);
    }
    w->best.time_us = best_us;
}

/* Makes a random neighbouring assignment: two shifts in one neighbourhood. */
static bool kick_cuts(struct search_room *w, const struct rail *r, struct choice *c)
{
    int at = (int)random_below(w, r->n), done = 0, first = r->n - 1, last = 0;
    int64_t work = 0;
    for (int tries = 0; tries < 20 && done < 2; tries++) {
        int a = at + (int)random_below(w, 10) - 5, b = at + (int)random_below(w, 10) - 5;
        if (a < 0 || b < 0 || a >= r->n || b >= r->n || c->cut[a] == IDLE || c->cut[b] != IDLE || !r->at[b].may_cut)
            continue;
        shift_run(c, a, b);
        first = (int)min_i64(first, min_i64(a, b));
        last = max_int(last, max_int(a, b));
        done++;
    }
    bool can = done > 0 && choice_resettle(r, &w->mirrored, c, first, last, &work);
    w->steps -= 24 * work;
    return can;
}

void kick_choice(struct search_room *w, const struct rail *r, int64_t until_steps)
{
    int16_t sequence[MOVES_MAX];
    for (int tries = 0; tries < 100000 && w->steps > until_steps; tries++) {
        w->steps -= INT64_C(4) * r->n;
        try_copy(r, &w->before, &w->best);
        if (!kick_cuts(w, r, &w->best.choice)) {
            try_copy(r, &w->best, &w->before);
            continue;
        }
        moves_make(&w->moves, r, &w->best.choice, &w->ways);
        int64_t us =
            sequence_adapt(&w->moves, w->before.choice.end, w->before.site, w->before.n_moves, sequence, &w->steps);
        try_keep(r, &w->best, &w->moves, &w->best.choice, sequence, us);
        shift_improve(w, r, 0);
        if (w->best.time_us > w->before.time_us)
            try_copy(r, &w->best, &w->before);
    }
}
