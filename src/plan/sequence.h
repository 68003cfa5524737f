/* Finds the sequence of the moves of one choice: nearest neighbour and sweeps first, then exchanges of neighbouring
 * blocks (a 3-opt move without reversal) with don't-look bits. README.md beside this file has the sources. Private to
 * src/plan. */
#ifndef KNIFERAIL_PLAN_SEQUENCE_H
#define KNIFERAIL_PLAN_SEQUENCE_H

#include "moves.h"

/* A sequence that is being improved by exchanges of neighbouring blocks. A way is dirty until all exchanges that begin
 * with it have been tried; these marks are don't-look bits, inverted. Only dirty ways are tried. */
struct hunt {
    const struct moves *m;
    int16_t sequence[MOVES_MAX];
    int16_t at[KR_HOLDERS_MAX];    /* index of each site in the sequence */
    int32_t way_us[MOVES_MAX + 1]; /* empty way to the move at each index; 0 to the end */
    bool dirty[KR_HOLDERS_MAX];    /* the way to this site is dirty */
    int16_t queue[KR_HOLDERS_MAX]; /* ring buffer of the dirty sites */
    int first, n_dirty;
    int64_t *steps;
};

void hunt_begin(struct hunt *hunt, const struct moves *moves, const int16_t sequence[], int64_t *steps);
void hunt_all_dirty(struct hunt *hunt);

/* Exchanges blocks [i..j-1] and [j..k-1], if the constraints allow it. Returns by how much the time grows. */
int64_t hunt_exchange(struct hunt *hunt, int i, int j, int k);

/* Reverses the moves at [i..k-1], and puts those that must come first back before the others. Returns by how much the
 * time grows. */
int64_t hunt_turn(struct hunt *hunt, int i, int k);

/* Exchanges blocks until nothing is dirty or the steps have run out. Returns the gain. */
int64_t hunt_improve(struct hunt *hunt);

/* Improves the sequence until nothing gains or *steps has come down to 0. */
void sequence_improve(const struct moves *moves, int16_t sequence[], int64_t *steps);

/* Improves several first sequences, and takes the best one. Returns its time. */
int64_t sequence_find(const struct moves *moves, int16_t sequence[], int64_t *steps);

/* Improves the best sweep. It takes fewer steps, and does not depend on any earlier sequence. Returns its time. */
int64_t sequence_sweep(const struct moves *moves, int16_t sequence[], int64_t *steps);

/* Adapts a sequence of other moves, which ended at old_end[], to these moves: keeps the common ones, and improves the
 * rest. Returns its time. */
int64_t sequence_adapt(const struct moves *moves, const struct end old_end[], const int16_t old_sequence[], int n_old,
                       int16_t sequence[], int64_t *steps);

#endif
