/* A page that goes to a file, in one of the forms. Private to src/drawing. */
#ifndef DRAWING_SURFACE_H
#define DRAWING_SURFACE_H

#include <cairo/cairo.h>
#include <stdio.h>

#include "kniferail/drawing.h"

struct surface {
    enum kr_drawing_form form;
    const char *path;
    FILE *file;
    cairo_surface_t *cairo;
    cairo_t *cr;
    bool failed; /* writing did */
};

/* Points. False: error says why, and nothing is open. */
bool surface_open(struct surface *s, enum kr_drawing_form form, const char *path, double width, double height,
                  char error[KR_DRAWING_ERROR_MAX]);
/* Ends the page and the file. False: error says why. */
bool surface_close(struct surface *s, char error[KR_DRAWING_ERROR_MAX]);

#endif
