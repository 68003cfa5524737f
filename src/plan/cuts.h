/* The edges of a web without cuts. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_CUTS_H
#define KNIFERAIL_PLAN_CUTS_H

#include "kniferail/plan.h"

/* Checks only web width and shift, and sets the edges of the web without cuts. It is used for a park. */
struct kr_result web_edges(const struct kr_geometry *geometry, const struct kr_order *order, struct kr_cuts *cuts);

#endif
