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
    bool own; /* the file is closed with the surface */
    cairo_surface_t *cairo;
    cairo_t *cr;
    bool failed; /* writing the file failed */
};

/* Opens a file for a page; width and height are points. False: error says why, and nothing is open. */
bool surface_open(struct surface *s, enum kr_drawing_form form, const char *path, double width, double height,
                  char error[KR_DRAWING_ERROR_MAX]);
/* Begins a page in a file that is open and stays open. name stands for the file in errors. */
void surface_begin(struct surface *s, enum kr_drawing_form form, FILE *file, const char *name, double width,
                   double height);
/* Ends the page, and the file that surface_open opened. False: error says why. */
bool surface_close(struct surface *s, char error[KR_DRAWING_ERROR_MAX]);

#endif
