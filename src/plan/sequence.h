/* In what sequence the carriage makes the moves of one choice. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_SEQUENCE_H
#define KNIFERAIL_PLAN_SEQUENCE_H

#include "moves.h"

/* A sequence that is being improved by exchanges of neighbouring blocks. A way is dirty until all exchanges that begin
 * with it have been tried. A way that is not dirty is not looked at. */
struct hunt {
    const struct moves *m;
    int16_t sequence[MOVES_MAX];
    int16_t at[KR_HOLDERS_MAX];    /* place of each site in the sequence */
    int32_t way_us[MOVES_MAX + 1]; /* into the move at each place; 0 to the end */
    bool dirty[KR_HOLDERS_MAX];    /* the way into this site */
    int16_t queue[KR_HOLDERS_MAX]; /* of the dirty ones: a ring */
    int first, n_dirty;
    int64_t *steps;
};

void hunt_begin(struct hunt *hunt, const struct moves *moves, const int16_t sequence[], int64_t *steps);
void hunt_all_dirty(struct hunt *hunt);

/* Exchanges blocks [i..j-1] and [j..k-1], if what must be first allows it; returns by how much the time grows. */
int64_t hunt_exchange(struct hunt *hunt, int i, int j, int k);

/* Turns the moves at [i..k-1] round, and puts those that must be first back before the others. Returns the same. */
int64_t hunt_turn(struct hunt *hunt, int i, int k);

/* Until nothing is dirty or the steps have run out. Returns what was gained. */
int64_t hunt_improve(struct hunt *hunt);

/* Makes the sequence better until nothing gains or *steps has come down to 0. */
void sequence_improve(const struct moves *moves, int16_t sequence[], int64_t *steps);

/* Several beginnings, each improved; the best one. Returns its time. */
int64_t sequence_find(const struct moves *moves, int16_t sequence[], int64_t *steps);

/* The best sweep, improved: cheaper, and owes nothing to any sequence before. Returns its time. */
int64_t sequence_sweep(const struct moves *moves, int16_t sequence[], int64_t *steps);

/* Fits a sequence of other moves, which ended at old_end[], to these: keeps what it can, and improves the rest. Returns
 * its time. */
int64_t sequence_adapt(const struct moves *moves, const struct end old_end[], const int16_t old_sequence[],
                       int n_old, int16_t sequence[], int64_t *steps);

#endif
