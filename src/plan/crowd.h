/* Idle holders that were pushed together by hand: which of them stay, and where the others go. Private to src/plan.
 *
 * All holders that stay must keep their spacings. So every place is measured from the place where its holder would
 * stand if all holders to its left stood at their spacings, one behind the other. Measured in this way, the ends on a
 * rail never decrease from left to right. On a correct rail the starts don't decrease either. Where they do, holders
 * stand too near to each other, and those that stay must be chosen: at most a longest subsequence that doesn't
 * decrease. The cheapest choice is found exactly, by dynamic programming over the places at which a holder can end
 * without another one gaining by it.
 *
 * In textbook terms, the holders that stay are a non-decreasing subsequence (M. L. Fredman 1975 has the longest ones).
 * The ends of all are an isotonic regression, solved by dynamic programming (G. Rote 2019), with a fixed price for each
 * holder that moves. This price makes the costs non-convex, so that the pool adjacent violators algorithm does not
 * apply. README.md beside this file has the sources. */
#ifndef KNIFERAIL_PLAN_CROWD_H
#define KNIFERAIL_PLAN_CROWD_H

#include "cost.h"

#define CROWD_PLACES (2 * KR_HOLDERS_MAX + 2)

/* The least cost of all holders up to one of them, if that one ends at a place, and how the holder before it then
 * ends. */
struct crowd_state {
    int64_t us;
    int16_t from; /* place of the holder before */
    bool from_moves;
};

/* A run of idle holders between two that cut, or up to the rail's end, and the places at which they can end, in
 * ascending order. Such a place is the start of one of them, or is as far to the left of it as the deadband of a
 * staying holder allows. */
struct crowd_run {
    int first, last;
    int64_t low, high; /* limits from their neighbours and the rail */
    int n;
    int64_t place[CROWD_PLACES];
    int16_t whose[CROWD_PLACES];                           /* start of whose holder it is; below 0: of none */
    struct crowd_state stay[KR_HOLDERS_MAX][CROWD_PLACES]; /* indexed by holder and place */
    struct crowd_state move[KR_HOLDERS_MAX][CROWD_PLACES];
};

struct crowd {
    int64_t reach[KR_HOLDERS_MAX];  /* sum of the spacings from holder 0 on */
    int64_t at[KR_HOLDERS_MAX];     /* each holder's start minus its reach */
    int16_t sorted[KR_HOLDERS_MAX]; /* holders in ascending sequence of at[] */
    /* The cost of a holder that ends at the start of another one, both measured from their reach. */
    int32_t us[KR_HOLDERS_MAX][KR_HOLDERS_MAX];
    int32_t least_us[KR_HOLDERS_MAX][KR_HOLDERS_MAX]; /* the same with the best use of the deadband */
    int64_t approach_us[KR_HOLDERS_MAX];
    struct crowd_run run; /* the run that is being computed */
};

/* Tells whether any holder stands so near to its neighbour that not both can stay. */
bool crowd_is_there(const struct rail *rail);

/* Tells the same about holders first to last. */
bool crowd_is_pushed(const struct crowd *crowd, const struct rail *rail, int first, int last);

void crowd_make(struct crowd *w, const struct rail *r, const struct cost *cost);

/* Decides which holders stay in every run of idle holders that contains one of first to last or lies beside it, and
 * extends first to last by all of these. Reads cuts and wants. *work grows by the number of holders looked at. */
void crowd_settle(struct crowd *w, const struct rail *r, struct choice *c, int *first, int *last, int64_t *work);

/* Returns the least additional cost of the run of idle holders first to last, compared with its cost at rest. The ends
 * of the run, measured as above, must lie between low and high (NO_LIMIT and NOWHERE: no limit). Each holder that moves
 * costs its more_us in addition. */
int64_t crowd_least_us(const struct crowd *w, const struct rail *r, int first, int last, int64_t low, int64_t high,
                       const int64_t more_us[], int64_t *work);

/* Clears the decisions about holders first to last. */
void crowd_leave(struct choice *choice, int first, int last);

#endif
