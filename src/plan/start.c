#include "start.h"

#include "shift.h"
#include "try.h"
#include "whole.h"

/* Nothing to cut and everything to clear away: only where left and right part is left to choose. */
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

/* Idle holders outside the web: then those that cut are neighbours in service, and only how many idle ones are left of
 * them is left to choose. One more or less changes all moves, so each is looked at by itself. */
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

/* Which way the carriage sweeps decides which holders should make the cuts, and exchanges one by one don't lead from one way
 * to the other: so each is a beginning. */
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
    static const struct lean leans[] = {{1000, 1000}, {-1000, 1000}, {1000, -1000},
                                        {500, 500},   {2000, 2000},  {0, 0}};
    w->champion.time_us = INT64_MAX;
    for (size_t k = 0; k < sizeof leans / sizeof *leans && (k == 0 || w->steps > until_steps); k++) {
        if (!start_leaning(w, r, leans[k]) || w->best.time_us - w->best.time_us / 16 >= w->champion.time_us)
            continue;
        shift_descend(w, r);
        if (w->best.time_us < w->champion.time_us)
            w->champion = w->best;
    }
    w->best.time_us = w->champion.time_us;
    if (w->best.time_us < INT64_MAX)
        w->best = w->champion;
}

/* The cheapest by costs that add up may leave no room on the way to it: then the cheapest for which there is room. */
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
}
