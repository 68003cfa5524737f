/* A choice for one rail: which holder cuts where, where the others end, and who moves. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_CHOICE_H
#define KNIFERAIL_PLAN_CHOICE_H

#include "rail.h"

#define IDLE (-1)

struct choice {
    int16_t cut[KR_HOLDERS_MAX];  /* from 0, or IDLE */
    int16_t want[KR_HOLDERS_MAX]; /* 0: stay if possible; +1: must move; -1: must stay */
    bool ahead[KR_HOLDERS_MAX];   /* moves for the next order's sake alone */
    struct end end[KR_HOLDERS_MAX];
};

/* Nobody cuts, nobody has to stay or to move. */
void choice_clear(struct choice *choice);

/* Ends for everybody, given the cuts: who may stay stays, who can't goes to the nearest place. False if these cuts
 * can't be. */
bool choice_settle(const struct rail *rail, struct choice *choice);

/* Is the whole choice legal? */
bool choice_is_legal(const struct rail *rail, const struct choice *choice);

#endif
