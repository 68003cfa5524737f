/* A choice for one rail: which holder cuts where, where the others end, and who moves. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_CHOICE_H
#define KNIFERAIL_PLAN_CHOICE_H

#include "rail.h"

#define IDLE (-1)

/* Where a rail is crowded: how a run of idle holders is best settled (crowd.h). */
struct crowded {
    int8_t moves; /* as want below, which comes first */
    int64_t x;    /* where to, if it moves; else NOWHERE */
};

struct choice {
    int16_t cut[KR_HOLDERS_MAX];  /* from 0, or IDLE */
    int16_t want[KR_HOLDERS_MAX]; /* 0: stay if possible; +1: must move; -1: must stay */
    /* An idle holder that moves ends as near to this as it may; NOWHERE: to its start. */
    int64_t goal[KR_HOLDERS_MAX];
    struct crowded crowd[KR_HOLDERS_MAX]; /* set with the ends */
    bool ahead[KR_HOLDERS_MAX];           /* moves for the next order's sake alone */
    struct end end[KR_HOLDERS_MAX];
    /* The greatest ends that the holders to the right of each leave it, if it stays, if it moves: what's no further can
     * be completed. Set with the ends. */
    struct end stay_reach[KR_HOLDERS_MAX], move_reach[KR_HOLDERS_MAX];
};

/* Nobody cuts, nobody has to stay or to move. */
void choice_clear(struct choice *choice);

/* Of the rail's holders alone: the arrays are as long as the longest rail, and searches copy often. */
void choice_copy(const struct rail *rail, struct choice *to, const struct choice *from);

/* Ends for everybody, given the cuts: who may stay stays, who can't goes to the nearest place. mirrored is the same
 * rail's. False if these cuts can't be. */
bool choice_settle(const struct rail *rail, const struct rail *mirrored, struct choice *choice);

/* The same for a choice that was settled before holders first to last were given other cuts, wants or goals: works only
 * as far as that changes anything. *work grows by the holders looked at. */
bool choice_resettle(const struct rail *rail, const struct rail *mirrored, struct choice *choice, int first,
                     int last, int64_t *work);

/* Is the whole choice legal? */
bool choice_is_legal(const struct rail *rail, const struct choice *choice);

#endif
