#include "pen.h"

/* Blue is that of the colours which people who don't tell red from green tell apart: M. Okabe, K. Ito, Color Universal
 * Design, 2008. Everything else is grey. */
static const double inks[][3] = {
    [PEN_BLACK] = {0, 0, 0},
    [PEN_GREY] = {0.45, 0.45, 0.45},
    [PEN_PALE] = {0.88, 0.88, 0.88},
    [PEN_WHITE] = {1, 1, 1},
    [PEN_BLUE] = {0, 114 / 255.0, 178 / 255.0},
};

double pen_width(const struct pen *pen, int64_t um)
{
    return (double)um * (pen->right - pen->left) / ((double)pen->scene->high_um - pen->scene->low_um);
}

double pen_x(const struct pen *pen, int64_t um)
{
    return pen->left + pen_width(pen, um - pen->scene->low_um);
}

void pen_ink(const struct pen *pen, enum pen_ink ink)
{
    cairo_set_source_rgb(pen->cr, inks[ink][0], inks[ink][1], inks[ink][2]);
}

void pen_dash(const struct pen *pen, double dash)
{
    cairo_set_dash(pen->cr, &dash, dash > 0 ? 1 : 0, 0);
}

void pen_line(const struct pen *pen, double x1, double y1, double x2, double y2, double width)
{
    cairo_set_line_width(pen->cr, width);
    cairo_move_to(pen->cr, x1, y1);
    cairo_line_to(pen->cr, x2, y2);
    cairo_stroke(pen->cr);
}

void pen_bold(const struct pen *pen, bool bold)
{
    cairo_select_font_face(pen->cr, "DejaVu Sans", CAIRO_FONT_SLANT_NORMAL,
                           bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
}

double pen_text_width(const struct pen *pen, double size, const char *text)
{
    cairo_text_extents_t extents;
    cairo_set_font_size(pen->cr, size);
    cairo_text_extents(pen->cr, text, &extents);
    return extents.x_advance;
}

void pen_text(const struct pen *pen, double x, double y, double size, enum pen_align align, const char *text)
{
    double width = pen_text_width(pen, size, text);
    cairo_move_to(pen->cr, x - (align == PEN_MIDDLE ? width / 2 : align == PEN_RIGHT ? width : 0), y);
    cairo_show_text(pen->cr, text);
}

void pen_text_upright(const struct pen *pen, double x, double y, double size, const char *text)
{
    cairo_save(pen->cr);
    cairo_translate(pen->cr, x, y);
    cairo_rotate(pen->cr, -1.5707963267948966);
    pen_text(pen, 0, size * 0.36, size, PEN_MIDDLE, text);
    cairo_restore(pen->cr);
}
