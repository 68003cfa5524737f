/* Strokes and letters, and where on the paper a place on the rail lies. Private to src/drawing. */
#ifndef DRAWING_PEN_H
#define DRAWING_PEN_H

#include <cairo/cairo.h>

#include "kniferail/scene.h"

struct pen {
    cairo_t *cr;
    const struct kr_scene *scene;
    double left, right; /* where the scene's low_um and high_um lie */
};

enum pen_align { PEN_LEFT, PEN_MIDDLE, PEN_RIGHT };
enum pen_ink { PEN_BLACK, PEN_GREY, PEN_PALE, PEN_WHITE, PEN_BLUE };

double pen_x(const struct pen *pen, int64_t um);
double pen_width(const struct pen *pen, int64_t um); /* of a length */

void pen_ink(const struct pen *pen, enum pen_ink ink);
void pen_line(const struct pen *pen, double x1, double y1, double x2, double y2, double width);
/* dash: the length of each stroke and of each gap; 0: an unbroken line. */
void pen_dash(const struct pen *pen, double dash);
/* x and y are the middle of the base line, or its beginning or end. The letters are `size` points high. */
void pen_text(const struct pen *pen, double x, double y, double size, enum pen_align align, const char *text);
void pen_bold(const struct pen *pen, bool bold);
/* Writes a text that is turned by a quarter to the left; its middle is at x, y. */
void pen_text_upright(const struct pen *pen, double x, double y, double size, const char *text);
double pen_text_width(const struct pen *pen, double size, const char *text);

#endif
