#include "start.h"

#include <string.h>

#include "integers.h"
#include "sequence.h"
#include "shift.h"
#include "sweep.h"
#include "try.h"

/* For a park in which every holder has to leave the web: tries every split between the holders that go to the left part
 * and those that go to the right part. */
static void try_splits(struct search_room *w, const struct rail *r)
{
    struct choice c;
    choice_clear(&c);
    for (w->rail.split = 0; w->rail.split <= r->n; w->rail.split++) {
        rail_mirror(&w->mirrored, &w->rail);
        try_cuts(w, &w->rail, &c);
    }
    w->rail.split = ANY_SPLIT;
    rail_mirror(&w->mirrored, &w->rail);
}

/* For idle holders that rest outside the web: the holders that cut are neighbours in service, and only the number of
 * idle holders to their left is open. One more or one fewer changes all moves, so that each such window is tried by
 * itself. */
static void try_windows(struct search_room *w, const struct rail *r)
{
    struct choice c;
    int in_service = 0;
    for (int i = 0; i < r->n; i++)
        in_service += r->at[i].may_cut;
    for (int idle = 0; idle <= in_service - r->n_cuts && w->steps > 0; idle++) {
        choice_clear(&c);
        for (int i = 0, seen = 0; i < r->n; i++) {
            if (r->at[i].may_cut && seen++ >= idle && seen <= idle + r->n_cuts)
                c.cut[i] = (int16_t)(seen - 1 - idle);
        }
        try_cuts(w, r, &c);
    }
}

/* Makes a first choice for one sweep of the carriage. The direction of the sweep decides which holders should make the
 * cuts, and exchanges of single holders do not lead from one direction to another one. So each direction has its own
 * first choice. */
static bool start_leaning(struct search_room *w, const struct rail *r, struct lean lean)
{
    struct choice c;
    choice_clear(&c);
    path_make(&w->path, r, &w->cost, lean, &w->steps);
    w->best.time_us = INT64_MAX;
    return path_best(&w->path, r, &c) && try_cuts(w, r, &c);
}

static void try_leanings(struct search_room *w, const struct rail *r, int64_t until_steps)
{
    static const struct lean leans[] = {{1000, 1000}, {-1000, 1000}, {1000, -1000}, {500, 500}, {2000, 2000}, {0, 0}};
    w->champion.time_us = INT64_MAX;
    for (size_t k = 0; k < sizeof leans / sizeof *leans && (k == 0 || w->steps > until_steps); k++) {
        if (!start_leaning(w, r, leans[k]) || w->best.time_us - w->best.time_us / 16 >= w->champion.time_us)
            continue;
        shift_descend(w, r);
        if (try_beats(w->best.time_us, w->best.n_moves, &w->champion))
            w->champion = w->best;
    }
    w->best.time_us = w->champion.time_us;
    if (w->best.time_us < INT64_MAX)
        w->best = w->champion;
}

/* Starts from the best choice with another sequence, even if that takes longer, and improves it. */
static void descend_from(struct search_room *w, const struct rail *r, int16_t sequence[])
{
    moves_make(&w->moves, r, &w->champion.choice, &w->ways);
    sequence_improve(&w->moves, sequence, &w->steps);
    int64_t us = moves_time_us(&w->moves, sequence);
    if (us == w->champion.time_us)
        return;
    try_keep(r, &w->best, &w->moves, &w->champion.choice, sequence, us);
    memset(w->tried, 0, sizeof w->tried); /* a choice may be better with another sequence */
    shift_descend(w, r);
}

/* Tries other sweeps, which may suit other holders. True: one of them led to a better choice. */
static bool try_sweeps(struct search_room *w, const struct rail *r, int64_t until_steps)
{
    struct sweeps sweeps;
    w->champion = w->best;
    moves_make(&w->moves, r, &w->champion.choice, &w->ways);
    sweeps_make(&w->moves, &sweeps, &w->steps);
    for (int k = 0; k < sweeps.n && w->steps > until_steps; k++) {
        descend_from(w, r, sweeps.sequence[k]);
        if (try_beats(w->best.time_us, w->best.n_moves, &w->champion))
            return true;
        w->best = w->champion;
    }
    return false;
}

/* Tries the cheapest choice for which there is room. The cheapest choice by costs that add up may leave a holder no
 * room on its way. */
static void try_possible(struct search_room *w, const struct rail *r)
{
    struct choice c;
    choice_clear(&c);
    w->steps -= INT64_C(8) * r->n_cuts * (r->n - r->n_cuts + 1) * (r->n - r->n_cuts + 1);
    if (assign_best(&w->assign, r, &w->cost, &c))
        try_cuts(w, r, &c);
}

void start_all(struct search_room *w, const struct rail *r, int64_t until_steps)
{
    try_leanings(w, r, until_steps);
    path_make(&w->path, r, &w->cost, (struct lean){0, 0}, &w->steps);
    if (w->best.time_us == INT64_MAX)
        try_possible(w, r);
    if (r->outside && r->n_cuts > 0)
        try_windows(w, r);
    if (r->outside && r->n_cuts == 0)
        try_splits(w, r);
    while (w->best.time_us < INT64_MAX && w->best.n_moves > 2 && try_sweeps(w, r, until_steps / 2))
        continue;
    if (r->crowd != NULL)
        path_sums(&w->path, r, &w->cost); /* the other fields of the path are still the plain ones */
}
