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
 * only when its holder is put elsewhere: neighbouring choices share most rows. */
struct ways {
    int64_t x[KR_HOLDERS_MAX]; /* of each row; NOWHERE: not yet */
    int32_t start_us[KR_HOLDERS_MAX];
    int32_t us[KR_HOLDERS_MAX][KR_HOLDERS_MAX];
};

void ways_reset(struct ways *ways, const struct rail *rail);

/* The moves of one choice, from left to right. */
struct moves {
    int n;
    int16_t site[MOVES_MAX];
    int64_t x[MOVES_MAX];
    int16_t link[MOVES_MAX]; /* of k - 1 and k: -1 the left one must be first, +1 the right one, 0 free */
    int64_t fixed_us;        /* handling and drags of all */
    int32_t start_us[MOVES_MAX];
    int32_t way_us[MOVES_MAX][MOVES_MAX]; /* from the end of move a to the start of b */
};

/* Handling and drags alone. */
int64_t moves_fixed_us(const struct rail *rail, const struct choice *choice);

void moves_make(struct moves *moves, const struct rail *rail, const struct choice *choice, struct ways *ways);

/* Must a come before b? May b be the very next after a? */
bool moves_precede(const struct moves *moves, int a, int b);
bool moves_may_follow(const struct moves *moves, int a, int b);

/* Time of all moves in this order. */
int64_t moves_time_us(const struct moves *moves, const int16_t order[]);

/* Makes the order better by exchanging neighbouring blocks of at most longest moves, until nothing gains or *steps
 * has come down to 0. */
void order_improve(const struct moves *moves, int16_t order[], int longest, int64_t *steps);

/* Exchanges blocks [i..j-1] and [j..k-1], if what must be first allows it. */
bool order_exchange(const struct moves *moves, int16_t order[], int i, int j, int k);

/* Several beginnings, each improved; the best one. Returns its time. */
int64_t order_find(const struct moves *moves, int16_t order[], int longest, int64_t *steps);

/* Fits an order of other moves (by site) to these: keeps what it can, and improves it. Returns its time. */
int64_t order_adapt(const struct moves *moves, const int16_t old_sites[], int n_old, int16_t order[],
                    int longest, int64_t *steps);

#endif
