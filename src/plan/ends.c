#include "ends.h"

#include "integers.h"
#include "sequence.h"
#include "try.h"

bool ends_optional(const struct rail *r, const struct choice *c, int i)
{
    if (!r->at[i].may_move)
        return false;
    return c->cut[i] == IDLE || abs_i64(rail_target(r, i, c->cut[i]) - r->at[i].p) <= r->deadband;
}

#define AROUND 6

/* Tries that holder i stays and holder j moves instead, unless they are the same. */
static bool try_instead(struct search_room *w, const struct rail *r, int i, int j)
{
    struct choice c;
    choice_copy(r, &c, &w->best.choice);
    c.want[j] = 1;
    c.want[i] = -1;
    return try_near(w, r, &c, i < j ? i : j, max_int(i, j));
}

static bool improve_movers(struct search_room *w, const struct rail *r)
{
    for (int i = 0; i < r->n && w->steps > 0; i++) {
        if (!w->best.choice.end[i].moved || !ends_optional(r, &w->best.choice, i))
            continue;
        for (int j = max_int(0, i - AROUND); j <= i + AROUND && j < r->n; j++) {
            bool free = ends_optional(r, &w->best.choice, j) && (j == i || !w->best.choice.end[j].moved);
            if (free && try_instead(w, r, i, j))
                return true;
        }
    }
    return false;
}

/* Tries another end: an idle holder that has to move may be better off further away, nearer to the next move. */
static bool try_end(struct search_room *w, const struct rail *r, int i, int64_t x)
{
    if (x <= NO_LIMIT || x >= NOWHERE)
        return false;
    struct choice c;
    choice_copy(r, &c, &w->best.choice);
    c.goal[i] = x;
    return try_near(w, r, &c, i, i);
}

/* Tries the limits of the allowed places: beside the end of a neighbour, or beside its start, so that this holder may
 * go first. */
static bool try_places(struct search_room *w, const struct rail *r, int i)
{
    const struct end *end = w->best.choice.end;
    int64_t low[2] = {r->min, r->min}, high[2] = {r->max, r->max};
    if (i > 0) {
        low[0] = end[i - 1].x + r->at[i - 1].gap;
        low[1] = r->at[i - 1].p + r->at[i - 1].gap;
    }
    if (i + 1 < r->n) {
        high[0] = end[i + 1].x - r->at[i].gap;
        high[1] = r->at[i + 1].p - r->at[i].gap;
    }
    for (int k = 0; k < 2; k++) {
        if (try_end(w, r, i, rail_rest_right(r, i, low[k])) || try_end(w, r, i, rail_rest_left(r, i, high[k])))
            return true;
    }
    return false;
}

static bool improve_places(struct search_room *w, const struct rail *r)
{
    for (int i = 0; i < r->n && w->steps > 0; i++) {
        const struct choice *c = &w->best.choice;
        if (!c->end[i].moved || c->cut[i] != IDLE)
            continue;
        if (try_places(w, r, i))
            return true;
    }
    return false;
}

void ends_improve(struct search_room *w, const struct rail *r)
{
    while (w->steps > 0 && (improve_movers(w, r) || improve_places(w, r)))
        continue;
}

bool ends_are_needed(const struct rail *r, const struct choice *ends)
{
    struct choice c;
    choice_copy(r, &c, ends);
    for (int i = 0; i < r->n; i++) {
        if (!ends->end[i].moved || !ends_optional(r, ends, i))
            continue;
        c.end[i] = (struct end){.x = r->at[i].p, .moved = false};
        if (choice_is_legal(r, &c))
            return false;
        c.end[i] = ends->end[i];
    }
    return true;
}

static void drop(struct search_room *w, const struct rail *r, int i)
{
    struct choice c;
    int16_t sequence[MOVES_MAX];
    const struct solution *best = &w->best;
    choice_copy(r, &c, &best->choice);
    c.end[i] = (struct end){.x = r->at[i].p, .moved = false};
    if (!choice_is_legal(r, &c))
        return;
    moves_make(&w->moves, r, &c, &w->ways);
    int64_t us = sequence_adapt(&w->moves, best->choice.end, best->site, best->n_moves, sequence, &w->steps);
    if (try_beats(us, w->moves.n, best))
        try_keep(r, &w->best, &w->moves, &c, sequence, us);
}

void ends_drop_needless(struct search_room *w, const struct rail *r)
{
    for (int i = 0; i < r->n; i++) {
        if (w->best.choice.end[i].moved && ends_optional(r, &w->best.choice, i))
            drop(w, r, i);
    }
}
