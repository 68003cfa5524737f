#include "chart.h"

#include <stdio.h>

#define HEAD  22.0 /* above the first line */
#define SCAN  16.0 /* a scan's band, whatever its time */
#define ROW   9.0  /* a move is at least as high, so that its words have room */
#define MEAN  14.0 /* points of a move, on the average, where its time alone counts */
#define SMALL 6.5

/* Time is to scale, except that a short move gets the room for its words; the time at its left says when it begins. */
static double move_height(const struct kr_scene_rail *rail, const struct kr_scene_move *move)
{
    double height = MEAN * rail->n_moves * (double)(move->end_us - move->start_us) / (double)rail->moves_us;
    return height > ROW ? height : ROW;
}

/* 0: there is nothing to draw. */
static double chart_height(const struct kr_scene_rail *rail)
{
    double height = HEAD + (rail->scan_us > 0 ? 2 * SCAN : 0) + 8;
    if (rail->n_moves == 0 || rail->moves_us <= 0)
        return 0;
    for (uint16_t m = 0; m < rail->n_moves; m++)
        height += move_height(rail, &rail->move[m]);
    return height;
}

static void scan_band(const struct pen *pen, int64_t scan_us, double y, int64_t at_us, const char *what)
{
    char text[64];
    cairo_rectangle(pen->cr, pen->left, y, pen->right - pen->left, SCAN);
    pen_ink(pen, PEN_PALE);
    cairo_fill(pen->cr);
    pen_ink(pen, PEN_BLACK);
    snprintf(text, sizeof text, "%s, %.1f s", what, (double)scan_us / 1e6);
    pen_text(pen, (pen->left + pen->right) / 2, y + SCAN / 2 + 2.3, SMALL, PEN_MIDDLE, text);
    snprintf(text, sizeof text, "%.1f s", (double)at_us / 1e6);
    pen_text(pen, pen->left - 6, y + SMALL, SMALL, PEN_RIGHT, text);
}

/* Writes beside that end of the drag which has more room, between the beginning and the end of this move. */
static void words(const struct pen *pen, const struct kr_scene_rail *rail, const struct kr_scene_move *move, double y)
{
    char why[64], text[96];
    double a = pen_x(pen, move->from_um), b = pen_x(pen, move->to_um);
    double low = a < b ? a : b, high = a < b ? b : a;
    kr_scene_move_text(rail, move, why, sizeof why);
    snprintf(text, sizeof text, "%u: %s", move->holder, why);
    double width = pen_text_width(pen, SMALL, text);
    bool right = high + 5 + width < pen->right;
    double x = right ? high + 5 : low - 5 - width;
    cairo_rectangle(pen->cr, x - 1, y - SMALL, width + 2, SMALL + 1.5);
    pen_ink(pen, PEN_WHITE);
    cairo_fill(pen->cr);
    pen_ink(pen, PEN_BLACK);
    pen_text(pen, x, y, SMALL, PEN_LEFT, text);
}

static void strokes(const struct pen *pen, const struct kr_scene_move *move, int32_t carriage_um, double y,
                    double height)
{
    double whole = (double)(move->end_us - move->start_us);
    double drag = y + (whole > 0 ? height * (double)(move->drag_us - move->start_us) / whole : 0);
    pen_ink(pen, PEN_GREY);
    pen_dash(pen, 1.5);
    pen_line(pen, pen_x(pen, carriage_um), y, pen_x(pen, move->from_um), drag, 0.6);
    pen_dash(pen, 0);
    pen_ink(pen, PEN_BLUE);
    pen_line(pen, pen_x(pen, move->from_um), drag, pen_x(pen, move->to_um), y + height, 2.4);
}

static void frame(const struct pen *pen, double top, double bottom)
{
    pen_ink(pen, PEN_PALE);
    for (uint16_t i = 0; i < pen->scene->n_cuts; i++)
        pen_line(pen, pen_x(pen, pen->scene->cut_um[i]), top, pen_x(pen, pen->scene->cut_um[i]), bottom, 0.5);
    pen_ink(pen, PEN_GREY);
    cairo_rectangle(pen->cr, pen->left, top, pen->right - pen->left, bottom - top);
    cairo_set_line_width(pen->cr, 0.5);
    cairo_stroke(pen->cr);
}

static void begins(const struct pen *pen, const struct kr_scene_rail *rail, const struct kr_scene_move *move, double y)
{
    char text[32];
    snprintf(text, sizeof text, "%.1f s", (double)(rail->scan_us + move->start_us) / 1e6);
    pen_ink(pen, PEN_BLACK);
    pen_text(pen, pen->left - 6, y + SMALL, SMALL, PEN_RIGHT, text);
}

static void moves(const struct pen *pen, const struct kr_scene_rail *rail, double top)
{
    int32_t carriage_um = rail->carriage_um;
    double y = top;
    for (uint16_t m = 0; m < rail->n_moves; m++) {
        double height = move_height(rail, &rail->move[m]);
        strokes(pen, &rail->move[m], carriage_um, y, height);
        begins(pen, rail, &rail->move[m], y);
        carriage_um = rail->move[m].to_um;
        y += height;
    }
    y = top;
    for (uint16_t m = 0; m < rail->n_moves; m++) {
        double height = move_height(rail, &rail->move[m]);
        words(pen, rail, &rail->move[m], y + height / 2 + SMALL / 2 - 0.5);
        y += height;
    }
}

static void title(const struct pen *pen, const struct kr_scene_rail *rail, double y)
{
    char text[160];
    snprintf(text, sizeof text,
             "%s rail over time: %u moves, %.1f s%s. Dashed: the carriage alone; thick: it drags a holder", rail->name,
             rail->n_moves, (double)rail->moves_us / 1e6, rail->scan_us > 0 ? ", and two scans (not to scale)" : "");
    pen_ink(pen, PEN_BLACK);
    pen_text(pen, pen->left, y + HEAD - 6, 8, PEN_LEFT, text);
}

double chart_draw(const struct pen *pen, const struct kr_scene_rail *rail, double y)
{
    double height = chart_height(rail), top = y + HEAD, bottom = y + height - 8;
    if (height == 0)
        return y;
    title(pen, rail, y);
    frame(pen, top, bottom);
    if (rail->scan_us > 0) {
        scan_band(pen, rail->scan_us, top, 0, "scan");
        scan_band(pen, rail->verify_us, bottom - SCAN, rail->scan_us + rail->moves_us, "scan that verifies");
    }
    moves(pen, rail, top + (rail->scan_us > 0 ? SCAN : 0));
    return y + height;
}
