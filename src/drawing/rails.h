/* Draws the rails to scale, the web between them, a ruler below, and what the shapes mean. Private to src/drawing. */
#ifndef DRAWING_RAILS_H
#define DRAWING_RAILS_H

#include "pen.h"

/* Both draw from y downwards, and return where they end. */
double rails_draw(const struct pen *pen, double y);
double rails_legend(const struct pen *pen, double y);

#endif
