#include "ahead.h"

#include <string.h>

#include "ends.h"
#include "integers.h"
#include "sequence.h"

/* Sets the rail to the state after this solution. */
static void leave(const struct rail *next, const struct solution *s, struct rail *after)
{
    *after = *next;
    for (int i = 0; i < next->n; i++) {
        if (s->choice.end[i].moved)
            after->at[i].p = s->choice.end[i].x;
    }
    if (s->n_moves > 0)
        after->carriage = s->choice.end[s->site[s->n_moves - 1]].x;
}

static int64_t next_us(struct ahead_room *a, struct search_room *w, const struct rail *next, const struct solution *s,
                       int64_t steps)
{
    int64_t bound_us;
    leave(next, s, &a->next);
    w->limit_us = 0;
    return search_rail(w, &a->next, &a->after, &bound_us, &steps) ? a->after.time_us : INT64_MAX;
}

/* Runs the search once more, and keeps solutions that take no longer than the limit. */
static void fill_pool(struct ahead_room *a, struct search_room *w, const struct rail *r, const struct rail *next,
                      int64_t limit_us, int64_t steps)
{
    int64_t bound_us;
    w->limit_us = limit_us;
    w->n_ahead = next->n_cuts;
    memcpy(w->ahead, next->cut, sizeof w->ahead);
    search_rail(w, r, &a->candidate, &bound_us, &steps);
    a->n_pool = w->n_pool;
    memcpy(a->pool, w->pool, sizeof a->pool);
}

/* Takes out moves that no holder needs. A solution that was kept may have such moves, unlike a best solution. */
static void tidy(struct ahead_room *a, struct search_room *w, const struct rail *r, struct solution *s)
{
    int16_t sequence[MOVES_MAX];
    int64_t steps = 50000;
    for (int i = 0; i < r->n; i++) {
        if (!s->choice.end[i].moved || s->choice.ahead[i] || !ends_optional(r, &s->choice, i))
            continue;
        a->candidate.choice = s->choice;
        a->candidate.choice.end[i] = (struct end){.x = r->at[i].p, .moved = false};
        if (choice_is_legal(r, &a->candidate.choice))
            s->choice = a->candidate.choice;
    }
    ways_reset(&w->ways, r);
    moves_make(&w->moves, r, &s->choice, &w->ways);
    s->time_us = sequence_adapt(&w->moves, s->choice.end, s->site, s->n_moves, sequence, &steps);
    s->n_moves = w->moves.n;
    s->proven = false;
    memcpy(s->site, sequence, (size_t)w->moves.n * sizeof *sequence);
}

/* Lets one more holder go to its place for the next order, if that is legal and there is time. */
static bool send(struct ahead_room *a, struct search_room *w, const struct rail *r, int i, int64_t x, int64_t limit_us,
                 struct solution *s)
{
    int16_t sequence[MOVES_MAX];
    int64_t steps = 50000;
    struct solution *c = &a->candidate;
    *c = *s;
    c->choice.end[i] = (struct end){.x = x, .moved = true};
    c->choice.ahead[i] = true;
    if (x == r->at[i].p || !choice_is_legal(r, &c->choice))
        return false;
    moves_make(&w->moves, r, &c->choice, &w->ways);
    c->time_us = sequence_adapt(&w->moves, s->choice.end, s->site, s->n_moves, sequence, &steps);
    if (c->time_us > limit_us)
        return false;
    c->n_moves = w->moves.n;
    c->proven = false;
    memcpy(c->site, sequence, (size_t)w->moves.n * sizeof *sequence);
    *s = *c;
    return true;
}

static void send_idle(struct ahead_room *a, struct search_room *w, const struct rail *r, const struct rail *next,
                      int64_t limit_us, int64_t steps, struct solution *s)
{
    struct solution before = *s;
    int64_t before_us = next_us(a, w, next, s, steps);
    a->best_after = a->after;
    ways_reset(&w->ways, r);
    for (int i = 0; i < r->n; i++) {
        const struct end *to = &a->best_after.choice.end[i];
        bool idle = s->choice.cut[i] == IDLE && !s->choice.end[i].moved;
        if (idle && to->moved && r->at[i].may_move)
            send(a, w, r, i, to->x, limit_us, s);
    }
    bool sent = s->n_moves > before.n_moves;
    if (sent)
        tidy(a, w, r, s); /* a holder that had to make room may no longer have to */
    if (sent && next_us(a, w, next, s, steps) >= before_us)
        *s = before;
}

void ahead_settle(struct ahead_room *a, struct search_room *w, const struct rail *r, const struct rail *next,
                  int64_t limit_us, int64_t steps, struct solution *s)
{
    int64_t least_us = next_us(a, w, next, s, steps / 4);
    fill_pool(a, w, r, next, limit_us, steps);
    for (int k = 0; k < a->n_pool; k++) {
        tidy(a, w, r, &a->pool[k]);
        int64_t us = next_us(a, w, next, &a->pool[k], steps / 4);
        if (us < least_us) {
            least_us = us;
            *s = a->pool[k];
        }
    }
    if (least_us < INT64_MAX)
        send_idle(a, w, r, next, limit_us, steps / 4, s);
    ways_reset(&w->ways, r);
    search_bound(w, r, s);
}
