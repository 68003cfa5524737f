/* In what order the carriage makes the moves of one choice. Private to src/plan.
 *
 * Only neighbours that both move can bind each other, so what must be first is a relation between move k - 1 and
 * move k, and it never closes a circle. The time of all docking and dragging is the same in every order; what an
 * order decides is the way of the empty carriage. */
#ifndef KNIFERAIL_PLAN_ORDER_H
#define KNIFERAIL_PLAN_ORDER_H

#include "choice.h"

#define MOVES_MAX KR_HOLDERS_MAX

/* Empty ways from the place where a holder is put down to where every other holder stands. A row is computed anew
 * only when its holder is put elsewhere, and the row before it is kept too: searches go to and fro between two choices
 * that share most places. */
struct ways {
    int64_t x[KR_HOLDERS_MAX][2]; /* of each row; NOWHERE: not yet */
    uint8_t latest[KR_HOLDERS_MAX];
    int64_t own_us[KR_HOLDERS_MAX][2]; /* handling and drag to there */
    int32_t start_us[KR_HOLDERS_MAX];
    int32_t us[KR_HOLDERS_MAX][2][KR_HOLDERS_MAX];
};

void ways_reset(struct ways *ways, const struct rail *rail);

/* The moves of one choice. What is indexed by k counts them from left to right; all else, orders too, goes by site. */
struct moves {
    int n;
    int16_t site[MOVES_MAX]; /* by k */
    bool moves[KR_HOLDERS_MAX];
    int64_t carriage;                             /* where it starts */
    int64_t p[KR_HOLDERS_MAX], x[KR_HOLDERS_MAX]; /* from, to */
    int8_t link[KR_HOLDERS_MAX +
                1];   /* of i - 1 and i, if both move: -1 the left one must be first, +1 the right one,
                                      * 0 free */
    int64_t fixed_us; /* handling and drags of all */
    const int32_t *start_us;
    const int32_t *way_us[KR_HOLDERS_MAX]; /* from the end of one to the start of every other */
};

/* Borrows rows of ways: good until moves are made of other choices. */
void moves_make(struct moves *moves, const struct rail *rail, const struct choice *choice, struct ways *ways);

/* Of moves by k: must a come before b? May b be the very next after a? */
bool moves_precede(const struct moves *moves, int a, int b);
bool moves_may_follow(const struct moves *moves, int a, int b);

static inline int moves_link(const struct moves *m, int k)
{
    return m->link[m->site[k]];
}

/* Puts everybody behind those that must be first, otherwise in the order they are in. */
void order_straighten(const struct moves *moves, int16_t order[], int n);

/* Time of all moves in this order. */
int64_t moves_time_us(const struct moves *moves, const int16_t order[]);

/* An order under improvement by exchange of neighbouring blocks. A way is dirty until all exchanges were tried that
 * begin with it; what was tried before and hasn't changed since is left alone. */
struct hunt {
    const struct moves *m;
    int16_t order[MOVES_MAX];
    int16_t at[KR_HOLDERS_MAX];    /* place of each site in the order */
    int32_t way_us[MOVES_MAX + 1]; /* into the move at each place; 0 to the end */
    bool dirty[KR_HOLDERS_MAX];    /* the way into this site */
    int16_t queue[KR_HOLDERS_MAX]; /* of the dirty ones: a ring */
    int first, n_dirty;
    int64_t *steps;
};

void hunt_begin(struct hunt *hunt, const struct moves *moves, const int16_t order[], int64_t *steps);
void hunt_all_dirty(struct hunt *hunt);

/* Exchanges blocks [i..j-1] and [j..k-1], if what must be first allows it; returns by how much the time grows. */
int64_t hunt_exchange(struct hunt *hunt, int i, int j, int k);

/* Turns the moves at [i..k-1] round, and puts those that must be first back before the others. Returns the same. */
int64_t hunt_turn(struct hunt *hunt, int i, int k);

/* Until nothing is dirty or the steps have run out. Returns what was gained. */
int64_t hunt_improve(struct hunt *hunt);

/* Makes the order better until nothing gains or *steps has come down to 0. */
void order_improve(const struct moves *moves, int16_t order[], int64_t *steps);

/* Several beginnings, each improved; the best one. Returns its time. */
int64_t order_find(const struct moves *moves, int16_t order[], int64_t *steps);

/* The best sweep, improved: cheaper, and owes nothing to any order before. Returns its time. */
int64_t order_sweep(const struct moves *moves, int16_t order[], int64_t *steps);

/* Fits an order of other moves, which ended at old_end[], to these: keeps what it can, and improves the rest. Returns
 * its time. */
int64_t order_adapt(const struct moves *moves, const struct end old_end[], const int16_t old_order[],
                    int n_old, int16_t order[], int64_t *steps);

#endif
