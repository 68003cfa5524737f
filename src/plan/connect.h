/* Improves the bound of an assignment that consists of several circles (subtours), by an additive bound (M. Fischetti
 * and P. Toth 1992). README.md beside this file has the source. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_CONNECT_H
#define KNIFERAIL_PLAN_CONNECT_H

#include "bound.h"

/* The assignment a must be solved. Turns its costs into reduced costs, and returns the amount that can be added to its
 * cost. */
int64_t connect_bound(struct match *a, int64_t *steps);

#endif
