/* Idle holders that were pushed together by hand: who of them stays, and where the others go. Private to src/plan.
 *
 * Whoever stays must keep its spacing in the end. So measure every place from where its holder would stand if all
 * holders to its left stood at their spacings, one behind the other: the ends of a rail, measured so, never fall from
 * left to right. On a rail as it should be, the starts don't either. Where they do, holders stand too near to each
 * other, and who stays is a choice: at most a longest subsequence that doesn't fall. What costs least is found
 * exactly, by dynamic programming over the places at which a holder can end without another one gaining by it.
 *
 * In textbook terms: who stays is a non-decreasing subsequence (M. L. Fredman 1975 has the longest ones), and where all
 * end is an isotonic regression, solved by dynamic programming (G. Rote 2019), with a fixed price for each holder that
 * moves. That price makes the costs not convex, so the method of pooling adjacent violators does not apply. README.md
 * beside this file has the sources. */
#ifndef KNIFERAIL_PLAN_CROWD_H
#define KNIFERAIL_PLAN_CROWD_H

#include "cost.h"

#define CROWD_PLACES (2 * KR_HOLDERS_MAX + 2)

/* The least cost of all up to one holder, if it ends at a place, and how the holder before it then ends. */
struct crowd_state {
    int64_t us;
    int16_t from; /* its place */
    bool from_moves;
};

/* Idle holders between two that cut, or up to the rail's end, and the places at which they can end, ascending: where
 * one of them starts, or as far left of that as one that stays may be counted. */
struct crowd_run {
    int first, last;
    int64_t low, high; /* what their neighbours and the rail leave them */
    int n;
    int64_t place[CROWD_PLACES];
    int16_t whose[CROWD_PLACES];                           /* start and below 0 if nobody's */
    struct crowd_state stay[KR_HOLDERS_MAX][CROWD_PLACES]; /* by holder and place */
    struct crowd_state move[KR_HOLDERS_MAX][CROWD_PLACES];
};

struct crowd {
    int64_t reach[KR_HOLDERS_MAX];  /* spacings from holder 0 on, added up */
    int64_t at[KR_HOLDERS_MAX];     /* each holder's start less that */
    int16_t sorted[KR_HOLDERS_MAX]; /* holders by that */
    /* What a holder costs if it ends where, measured so, another one starts. */
    int32_t us[KR_HOLDERS_MAX][KR_HOLDERS_MAX];
    int32_t least_us[KR_HOLDERS_MAX][KR_HOLDERS_MAX]; /* the same, if the deadband helps as much as it may */
    int64_t approach_us[KR_HOLDERS_MAX];
    struct crowd_run run; /* the one at work */
};

/* Does any holder stand so near to its neighbour that not both can stay? */
bool crowd_is_there(const struct rail *rail);

/* Does one of these, first to last? */
bool crowd_is_pushed(const struct crowd *crowd, const struct rail *rail, int first, int last);

void crowd_make(struct crowd *w, const struct rail *r, const struct cost *cost);

/* Settles which holders stay in every run of idle holders that has one of first to last in it or beside it, and widens
 * first to last by all of these. Reads cuts and wants. *work grows by the holders looked at. */
void crowd_settle(struct crowd *w, const struct rail *r, struct choice *c, int *first, int *last,
                  int64_t *work);

/* Returns the least that the run of idle holders first to last costs beyond what it costs at rest, if the ends of the
 * run, measured so, lie between low and high (NO_LIMIT and NOWHERE if it has none), and if each holder costs its
 * more_us on top when it moves. */
int64_t crowd_least_us(const struct crowd *w, const struct rail *r, int first, int last, int64_t low,
                       int64_t high, const int64_t more_us[], int64_t *work);

/* Clears what was settled about holders first to last. */
void crowd_leave(struct choice *choice, int first, int last);

#endif
