/* In what order the carriage makes the moves. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_ORDER_H
#define KNIFERAIL_PLAN_ORDER_H

#include "choice.h"

/* The moves of one choice, from left to right, and what the empty ways between them cost. */
struct moves {
    int n;
    int16_t site[KR_HOLDERS_MAX];
    int64_t x[KR_HOLDERS_MAX];
    int8_t
        first[KR_HOLDERS_MAX]; /* between move k - 1 and k: -1 the left one must be first, +1 the right one */
    int64_t fixed_us;          /* handling and drags of all */
    int32_t start_us[KR_HOLDERS_MAX];               /* from the carriage to move k */
    int32_t way_us[KR_HOLDERS_MAX][KR_HOLDERS_MAX]; /* from the end of move a to the start of b */
};

void moves_make(struct moves *moves, const struct rail *rail, const struct choice *choice);

/* Time of all moves in this order. */
int64_t moves_time_us(const struct moves *moves, const int16_t order[]);

/* A good order that keeps to what must be first. Returns its time. */
int64_t order_find(const struct moves *moves, int16_t order[], uint32_t *steps);

#endif
