/* Draws the moves of a rail over time. Time runs downwards; across is the scale of the rails above. Private to
 * src/drawing. */
#ifndef DRAWING_CHART_H
#define DRAWING_CHART_H

#include "pen.h"

/* Draws from y downwards, and returns where the chart ends. */
double chart_draw(const struct pen *pen, const struct kr_scene_rail *rail, double y);

#endif
