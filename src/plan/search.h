/* Finds the best choice and sequence for one rail within a bounded number of steps: local search from several first
 * choices (start.h, shift.h, ends.h), iterated local search (kick.h), branch and bound on small rails, and beam search
 * for the sequence (beam.h). README.md beside this file has the sources. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_SEARCH_H
#define KNIFERAIL_PLAN_SEARCH_H

#include "assign.h"
#include "beam.h"
#include "crowd.h"
#include "price.h"

/* A complete plan of one rail. */
struct solution {
    struct choice choice;
    int16_t site[MOVES_MAX]; /* sites in the sequence of the moves */
    int n_moves;
    int64_t time_us, bound_us; /* bound_us: a lower bound of this choice, over all sequences */
    bool proven;               /* no sequence of these moves is faster */
};

/* Holder b cuts instead of holder a. us is the increase of the costs that add up. */
struct shift {
    int64_t us;
    int16_t a, b;
};

struct shift_sums {
    int64_t now_us, fewer_us[KR_HOLDERS_MAX + 1], more_us[KR_HOLDERS_MAX + 1];
    int16_t never_fewer[KR_HOLDERS_MAX + 1], never_more[KR_HOLDERS_MAX + 1];
    int16_t left[KR_HOLDERS_MAX]; /* number of cuts to the left of each holder */
};

struct shift_list {
    struct shift_sums sums;
    int n;
    struct shift heap[KR_HOLDERS_MAX * KR_HOLDERS_MAX / 4];
};

/* The costs by which choices are ranked before they are tried. Added up, and with once_us on top, they are a lower
 * bound. */
struct ranking {
    const struct cost *cost;
    int64_t once_us;
};

#define TRIED_MAX 8192
#define POOL_MAX  12

struct search_room {
    struct rail here;           /* the rail as it is */
    struct rail rail, mirrored; /* a copy to vary, and its mirror image */
    struct crowd crowd;
    struct cost cost;
    struct assign assign;
    struct path path;
    struct ways ways;
    struct moves moves;
    struct match match;
    struct beam beam;
    struct price price;
    struct shift_list shifts;
    struct ranking ranking;
    struct solution best, before, champion; /* champion: the best one of all first choices so far */
    struct choice partial;
    uint64_t tried[TRIED_MAX]; /* assignments, hashed */
    int64_t steps;             /* steps that are left */
    uint64_t random;           /* state of the random numbers; it starts equal in every call */
    /* For the next order: solutions that take no longer than limit_us (0: none are kept). The caller sets limit_us and
     * the cut lines of that order on this rail. */
    int64_t limit_us;
    int n_ahead;
    int64_t ahead[KR_CUTS_MAX];
    int n_pool;
    int64_t pool_um[POOL_MAX];
    struct solution pool[POOL_MAX];
};

/* Searches a rail. False: nothing is possible. *steps counts down. *bound_us is a lower bound of all choices and
 * sequences. */
bool search_rail(struct search_room *w, const struct rail *rail, struct solution *best, int64_t *bound_us,
                 int64_t *steps);

/* Sets bound_us of a solution that search_rail() did not return as its best. */
void search_bound(struct search_room *w, const struct rail *rail, struct solution *solution);

#endif
