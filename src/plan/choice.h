/* A choice for one rail: which holder makes which cut, where the others end, and which holders move. Private to
 * src/plan. */
#ifndef KNIFERAIL_PLAN_CHOICE_H
#define KNIFERAIL_PLAN_CHOICE_H

#include "rail.h"

#define IDLE (-1)

/* How a run of idle holders is best settled, on a crowded rail (crowd.h). */
struct crowded {
    int8_t moves; /* as `want' below, which counts before it */
    int64_t x;    /* where to, if it moves; else NOWHERE */
};

struct choice {
    int16_t cut[KR_HOLDERS_MAX];  /* from 0, or IDLE */
    int16_t want[KR_HOLDERS_MAX]; /* 0: stay if possible; +1: must move; -1: must stay */
    /* An idle holder that moves ends as near to this as it may; NOWHERE: to its start. */
    int64_t goal[KR_HOLDERS_MAX];
    struct crowded crowd[KR_HOLDERS_MAX]; /* set with the ends */
    bool ahead[KR_HOLDERS_MAX];           /* the holder moves only because of the next order */
    struct end end[KR_HOLDERS_MAX];
    /* The greatest ends that the holders to the right of each holder leave it, if it stays, and if it moves. An end
     * that is no greater can be completed. Set together with the ends. */
    struct end stay_reach[KR_HOLDERS_MAX], move_reach[KR_HOLDERS_MAX];
};

/* Makes a choice in which no holder cuts, and none has to stay or to move. */
void choice_clear(struct choice *choice);

/* Copies only the part of the rail's holders, because the arrays are as long as the longest rail and searches copy
 * often. */
void choice_copy(const struct rail *rail, struct choice *to, const struct choice *from);

/* Finds an end for every holder, given the cuts: a holder that may stay stays, and any other goes to the nearest place.
 * mirrored is the mirror image of the rail. False if these cuts are not possible. */
bool choice_settle(const struct rail *rail, const struct rail *mirrored, struct choice *choice);

/* Does the same for a choice that was settled before holders first to last got other cuts, wants or goals. It works
 * only as far as that changes anything. *work grows by the holders looked at. */
bool choice_resettle(const struct rail *rail, const struct rail *mirrored, struct choice *choice, int first,
                     int last, int64_t *work);

/* Is the whole choice legal? */
bool choice_is_legal(const struct rail *rail, const struct choice *choice);

#endif
