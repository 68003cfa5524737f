/* A choice for one rail: which holder makes which cut, where the others end, and which holders move. Private to
 * src/plan. */
#ifndef KNIFERAIL_PLAN_CHOICE_H
#define KNIFERAIL_PLAN_CHOICE_H

#include "rail.h"

#define IDLE (-1)

/* The best way for a run of idle holders on a crowded rail (crowd.h). */
struct crowded {
    int8_t moves; /* as `want' below, which has priority */
    int64_t x;    /* its target if it moves, else NOWHERE */
};

struct choice {
    int16_t cut[KR_HOLDERS_MAX];  /* from 0, or IDLE */
    int16_t want[KR_HOLDERS_MAX]; /* 0: stay if possible; +1: must move; -1: must stay */
    /* An idle holder that moves ends as near to this place as it may. NOWHERE: as near to its start. */
    int64_t goal[KR_HOLDERS_MAX];
    struct crowded crowd[KR_HOLDERS_MAX]; /* computed together with the ends */
    bool ahead[KR_HOLDERS_MAX];           /* the holder moves only because of the next order */
    struct end end[KR_HOLDERS_MAX];
    /* The greatest end of each holder that leaves room for the holders to its right, if it stays, and if it moves. From
     * every end that is not greater, the choice can be completed. Computed together with the ends. */
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
bool choice_resettle(const struct rail *rail, const struct rail *mirrored, struct choice *choice, int first, int last,
                     int64_t *work);

/* Tells whether the whole choice is legal. */
bool choice_is_legal(const struct rail *rail, const struct choice *choice);

#endif
