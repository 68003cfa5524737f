/* The web alone, for who lays no cuts. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_CUTS_H
#define KNIFERAIL_PLAN_CUTS_H

#include "kniferail/plan.h"

/* Judges web width and shift alone and sets the web's edges; no cuts. For a park. */
struct kr_result web_edges(const struct kr_geometry *geometry, const struct kr_order *order,
                           struct kr_cuts *cuts);

#endif
