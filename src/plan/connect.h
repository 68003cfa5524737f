/* Makes the bound of an assignment better where it falls apart into circles. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_CONNECT_H
#define KNIFERAIL_PLAN_CONNECT_H

#include "bound.h"

/* a is solved. Turns its costs into what is left of them, and returns what can be added to its cost. */
int64_t connect_bound(struct match *a, int64_t *steps);

#endif
