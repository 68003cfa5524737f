#include "surface.h"

#include <cairo/cairo-pdf.h>
#include <cairo/cairo-svg.h>
#include <errno.h>
#include <string.h>

#define PNG_SCALE 2 /* pixels of a point: 144 to the inch */

static cairo_status_t write_bytes(void *arg, const unsigned char *bytes, unsigned n)
{
    struct surface *s = arg;
    if (fwrite(bytes, 1, n, s->file) == n)
        return CAIRO_STATUS_SUCCESS;
    s->failed = true;
    return CAIRO_STATUS_WRITE_ERROR;
}

static cairo_surface_t *make(struct surface *s, double width, double height)
{
    switch (s->form) {
    case KR_DRAWING_SVG: return cairo_svg_surface_create_for_stream(write_bytes, s, width, height);
    case KR_DRAWING_PDF: return cairo_pdf_surface_create_for_stream(write_bytes, s, width, height);
    case KR_DRAWING_PNG: break;
    }
    return cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)(width * PNG_SCALE + 0.5),
                                      (int)(height * PNG_SCALE + 0.5));
}

bool surface_open(struct surface *s, enum kr_drawing_form form, const char *path, double width, double height,
                  char error[KR_DRAWING_ERROR_MAX])
{
    FILE *file = fopen(path, "wb");
    if (file == NULL) {
        snprintf(error, KR_DRAWING_ERROR_MAX, "%.120s: %.60s", path, strerror(errno));
        return false;
    }
    surface_begin(s, form, file, path, width, height);
    s->own = true;
    return true;
}

void surface_begin(struct surface *s, enum kr_drawing_form form, FILE *file, const char *name, double width,
                   double height)
{
    *s = (struct surface){.form = form, .path = name, .file = file};
    s->cairo = make(s, width, height);
    s->cr = cairo_create(s->cairo);
    if (form == KR_DRAWING_PNG)
        cairo_scale(s->cr, PNG_SCALE, PNG_SCALE);
    cairo_rectangle(s->cr, 0, 0, width, height);
    cairo_set_source_rgb(s->cr, 1, 1, 1);
    cairo_fill(s->cr);
}

bool surface_close(struct surface *s, char error[KR_DRAWING_ERROR_MAX])
{
    cairo_show_page(s->cr);
    cairo_status_t status = cairo_status(s->cr);
    cairo_destroy(s->cr);
    if (s->form == KR_DRAWING_PNG && status == CAIRO_STATUS_SUCCESS)
        status = cairo_surface_write_to_png_stream(s->cairo, write_bytes, s);
    cairo_surface_finish(s->cairo);
    if (status == CAIRO_STATUS_SUCCESS)
        status = cairo_surface_status(s->cairo);
    cairo_surface_destroy(s->cairo);
    bool closed = (s->own ? fclose(s->file) : fflush(s->file)) == 0;
    if (status == CAIRO_STATUS_SUCCESS && closed && !s->failed)
        return true;
    snprintf(error, KR_DRAWING_ERROR_MAX, "%.120s: %.60s", s->path,
             closed && !s->failed ? cairo_status_to_string(status) : strerror(errno));
    return false;
}
