/* Draws a page of charts: bars whose parts stand on each other, and ranges with a mark at their middle. */
#include <math.h>
#include <stdio.h>

#include "pen.h"
#include "surface.h"

#define WIDTH   842.0 /* of an A4 page that lies: ISO 216, 297 mm */
#define MARGIN  24.0
#define SCALE   52.0 /* left of a chart: its figures */
#define HEAD    46.0 /* above the first chart */
#define TITLE   16.0 /* above a chart */
#define HEIGHT  130.0
#define LABELS  46.0 /* below it */
#define LEGEND  14.0
#define GAP     14.0
#define SMALL   6.5
#define PATTERN 3.0 /* between two strokes of a pattern */

/* Where one chart lies on the page, and what it shows from its foot to its head. */
struct field {
    const struct pen *pen;
    const struct kr_figure *figure;
    double left, right, top, bottom;
    double low, high;
};

/* ---- the scale ------------------------------------------------------------------------------------------------- */

static void reach(struct field *f, double value)
{
    if (!isfinite(value))
        return;
    f->low = fmin(f->low, value);
    f->high = fmax(f->high, value);
}

static double sum_of(const struct kr_figure *figure, const struct kr_figure_bar *bar)
{
    double sum = 0;
    for (int p = 0; p < figure->n_parts; p++)
        sum += bar->part[p];
    return sum;
}

/* Finds the scale. It always contains 0: a bar that does not begin there would mislead. */
static void find_reach(struct field *f)
{
    const struct kr_figure *figure = f->figure;
    f->low = f->high = 0;
    for (size_t i = 0; i < figure->n; i++) {
        const struct kr_figure_bar *bar = &figure->bar[i];
        reach(f, figure->n_parts > 0 ? sum_of(figure, bar) : bar->low);
        reach(f, figure->n_parts > 0 ? 0 : bar->high);
    }
    for (int i = 0; i < figure->n_limits; i++)
        reach(f, figure->limit[i]);
    if (f->high <= f->low)
        f->high = f->low + 1;
}

/* Returns a step of 1, 2 or 5 times a power of ten, so that 4 to 8 steps fill the scale. */
static double step_of(double span)
{
    double power = pow(10, floor(log10(span / 4))), rest = span / 4 / power;
    return power * (rest >= 5 ? 5 : rest >= 2 ? 2 : 1);
}

static double y_of(const struct field *f, double value)
{
    return f->bottom - (value - f->low) / (f->high - f->low) * (f->bottom - f->top);
}

static void draw_scale(struct field *f)
{
    char text[32];
    double step = step_of(f->high - f->low);
    f->low = floor(f->low / step) * step;
    f->high = ceil(f->high / step) * step;
    int decimals = step < 1 ? (int)ceil(-log10(step) - 1e-9) : 0;
    int steps = (int)lround((f->high - f->low) / step);
    for (int i = 0; i <= steps; i++) {
        double at = f->low + i * step;
        bool zero = fabs(at) < step / 2;
        pen_ink(f->pen, zero ? PEN_GREY : PEN_PALE);
        pen_line(f->pen, f->left, y_of(f, at), f->right, y_of(f, at), zero ? 0.8 : 0.5);
        pen_ink(f->pen, PEN_BLACK);
        snprintf(text, sizeof text, "%.*f", decimals, zero ? 0.0 : at);
        pen_text(f->pen, f->left - 4, y_of(f, at) + SMALL * 0.36, SMALL, PEN_RIGHT, text);
    }
    for (int i = 0; i < f->figure->n_limits; i++) {
        pen_ink(f->pen, PEN_BLACK);
        pen_dash(f->pen, 4);
        pen_line(f->pen, f->left, y_of(f, f->figure->limit[i]), f->right, y_of(f, f->figure->limit[i]), 0.8);
        pen_dash(f->pen, 0);
    }
}

/* ---- what stands in it ----------------------------------------------------------------------------------------- */

/* The pattern that distinguishes one part from another without colour: a grey tone with strokes on it. */
static const struct pattern {
    enum pen_ink ink;
    /* Strokes go up to the right (1) or down (-1), or there are none (0); level ones exist. */
    int rising, level;
} patterns[KR_FIGURE_PARTS_MAX] = {{PEN_BLACK, 0, 0}, {PEN_WHITE, 1, 0}, {PEN_BLUE, 0, 0},  {PEN_GREY, 0, 0},
                                   {PEN_PALE, 0, 0},  {PEN_PALE, -1, 0}, {PEN_WHITE, 0, 1}, {PEN_WHITE, 0, 0}};

static void draw_strokes(const struct pen *pen, const struct pattern *pattern, double x, double y, double width,
                         double height)
{
    int rising = pattern->rising != 0 ? (int)lround((width + height) / PATTERN) : 0;
    int level = pattern->level ? (int)lround(height / PATTERN) : 0;
    for (int i = 0; i < rising; i++) {
        double d = (i + 0.5) * PATTERN, a = pattern->rising > 0 ? x + d - height : x + width - d + height;
        double b = pattern->rising > 0 ? x + d : x + width - d;
        pen_line(pen, a, y + height, b, y, 0.5);
    }
    for (int i = 0; i < level; i++)
        pen_line(pen, x, y + (i + 0.5) * PATTERN, x + width, y + (i + 0.5) * PATTERN, 0.5);
}

static void draw_part(const struct pen *pen, const struct pattern *pattern, double x, double y, double width,
                      double height)
{
    cairo_save(pen->cr);
    cairo_rectangle(pen->cr, x, y, width, height);
    pen_ink(pen, pattern->ink);
    cairo_fill_preserve(pen->cr);
    cairo_clip(pen->cr);
    pen_ink(pen, PEN_BLACK);
    draw_strokes(pen, pattern, x, y, width, height);
    cairo_restore(pen->cr);
    cairo_rectangle(pen->cr, x, y, width, height);
    pen_ink(pen, PEN_BLACK);
    cairo_set_line_width(pen->cr, 0.5);
    cairo_stroke(pen->cr);
}

static void draw_bar(const struct field *f, const struct kr_figure_bar *bar, double middle, double width)
{
    double from = 0;
    for (int p = 0; p < f->figure->n_parts; p++) {
        double to = from + bar->part[p];
        if (bar->part[p] > 0)
            draw_part(f->pen, &patterns[p], middle - width / 2, y_of(f, to), width, y_of(f, from) - y_of(f, to));
        from = to;
    }
}

/* A range that stands out is thick and black, with a filled mark; the others are grey with an empty one. */
static void draw_range(const struct field *f, const struct kr_figure_bar *bar, double middle, double width)
{
    double size = fmin(fmax(width / 2, 1.2), 3);
    pen_ink(f->pen, bar->stands_out ? PEN_BLACK : PEN_GREY);
    pen_line(f->pen, middle, y_of(f, bar->low), middle, y_of(f, bar->high), bar->stands_out ? 1.6 : 0.8);
    cairo_arc(f->pen->cr, middle, y_of(f, bar->middle), size, 0, 6.283185307179586);
    pen_ink(f->pen, bar->stands_out ? PEN_BLACK : PEN_WHITE);
    cairo_fill_preserve(f->pen->cr);
    pen_ink(f->pen, bar->stands_out ? PEN_BLACK : PEN_GREY);
    cairo_set_line_width(f->pen->cr, 0.8);
    cairo_stroke(f->pen->cr);
}

/* Labels stand upright; where they would touch, some are left out, but never that of one that stands out. */
static void draw_all(const struct field *f)
{
    double pitch = (f->right - f->left) / (double)(f->figure->n > 0 ? f->figure->n : 1);
    size_t every = pitch < SMALL + 1 ? (size_t)ceil((SMALL + 1) / pitch) : 1;
    for (size_t i = 0; i < f->figure->n; i++) {
        const struct kr_figure_bar *bar = &f->figure->bar[i];
        double middle = f->left + pitch * ((double)i + 0.5), width = fmin(pitch * 0.7, 40);
        if (f->figure->n_parts > 0)
            draw_bar(f, bar, middle, width);
        else
            draw_range(f, bar, middle, width);
        if (i % every != 0 && !bar->stands_out)
            continue;
        pen_ink(f->pen, PEN_BLACK);
        double half = pen_text_width(f->pen, SMALL, bar->label) / 2;
        pen_text_upright(f->pen, middle, f->bottom + 4 + half, SMALL, bar->label);
    }
}

static void draw_legend(const struct field *f, double y)
{
    double x = f->left;
    for (int p = 0; p < f->figure->n_parts && f->figure->n_parts > 1; p++) {
        draw_part(f->pen, &patterns[p], x, y - 7, 10, 7);
        pen_ink(f->pen, PEN_BLACK);
        pen_text(f->pen, x + 14, y, SMALL, PEN_LEFT, f->figure->part[p]);
        x += 28 + pen_text_width(f->pen, SMALL, f->figure->part[p]);
    }
}

static double draw_figure(const struct pen *pen, const struct kr_figure *figure, double y)
{
    struct field f = {.pen = pen,
                      .figure = figure,
                      .left = pen->left,
                      .right = pen->right,
                      .top = y + TITLE,
                      .bottom = y + TITLE + HEIGHT};
    pen_ink(pen, PEN_BLACK);
    pen_bold(pen, true);
    pen_text(pen, MARGIN, y + 8, 9, PEN_LEFT, figure->title);
    pen_bold(pen, false);
    if (figure->n == 0) {
        pen_text(pen, pen->left, y + TITLE + 8, SMALL, PEN_LEFT, "There is nothing to show in this period.");
        return y + TITLE + GAP + 8;
    }
    find_reach(&f);
    draw_scale(&f);
    draw_all(&f);
    draw_legend(&f, f.bottom + LABELS + 8);
    return f.bottom + LABELS + (figure->n_parts > 1 ? LEGEND : 0) + GAP;
}

/* ---- the page -------------------------------------------------------------------------------------------------- */

static double draw(const struct pen *pen, const struct kr_figures *page)
{
    double y = MARGIN + HEAD;
    pen_ink(pen, PEN_BLACK);
    pen_bold(pen, true);
    pen_text(pen, MARGIN, MARGIN + 12, 13, PEN_LEFT, page->title);
    pen_bold(pen, false);
    pen_text(pen, MARGIN, MARGIN + 27, 8, PEN_LEFT, page->subtitle);
    for (size_t i = 0; i < page->n; i++)
        y = draw_figure(pen, &page->figure[i], y);
    return ceil(y + MARGIN);
}

static struct pen pen_for(cairo_t *cr)
{
    return (struct pen){.cr = cr, .left = MARGIN + SCALE, .right = WIDTH - MARGIN};
}

/* The height of the page is known only when it has been drawn, so it is first drawn without output. */
static double height_of(const struct kr_figures *page)
{
    cairo_surface_t *nowhere = cairo_recording_surface_create(CAIRO_CONTENT_COLOR, NULL);
    struct pen pen = pen_for(cairo_create(nowhere));
    double height = draw(&pen, page);
    cairo_destroy(pen.cr);
    cairo_surface_destroy(nowhere);
    return height;
}

bool kr_drawing_figures(const struct kr_figures *page, enum kr_drawing_form form, const char *path,
                        char error[KR_DRAWING_ERROR_MAX])
{
    struct surface s;
    if (!surface_open(&s, form, path, WIDTH, height_of(page), error))
        return false;
    struct pen pen = pen_for(s.cr);
    draw(&pen, page);
    return surface_close(&s, error);
}
