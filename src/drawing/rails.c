#include "rails.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define BODY      18.0 /* height of a holder */
#define NUMBERS   9.0  /* room for the holders' numbers */
#define WAYS      26.0 /* from where a holder stands now to where it shall stand */
#define BLADE     9.0  /* from a holder to the web */
#define WEB       34.0
#define DEVIATION 12.0 /* room for the deviations, either way */
#define SMALL     6.5  /* letters */
#define LEGEND    7.0  /* letters of what the shapes mean */
#define LETTER    0.64 /* width of a letter, in its size, at most in the mean */

static bool is_plan(const struct pen *pen)
{
    return pen->scene->source == KR_SCENE_PLAN;
}

static bool is_drawn(const struct kr_scene_holder *h)
{
    return h->state != KR_HOLDER_ABSENT && h->known != KR_UNKNOWN;
}

static int32_t place_um(const struct pen *pen, const struct kr_scene_holder *h)
{
    return is_plan(pen) && h->has_target ? h->target_um : h->at_um;
}

/* ---- a holder -------------------------------------------------------------------------------------------------- */

/* Solid: measured. Dashed: placed, not measured. Dotted: only remembered. */
static void outline(const struct pen *pen, const struct kr_scene_holder *h)
{
    pen_dash(pen, h->known == KR_MEASURED ? 0 : h->known == KR_PLACED ? 2.2 : 0.9);
    pen_ink(pen, PEN_BLACK);
    cairo_set_line_width(pen->cr, 0.7);
    cairo_stroke(pen->cr);
    pen_dash(pen, 0);
}

static void body(const struct pen *pen, const struct kr_scene_holder *h, double x, double top, double width)
{
    cairo_rectangle(pen->cr, x - width / 2, top, width, BODY);
    pen_ink(pen, h->cut == 0 ? PEN_WHITE : h->known == KR_MEASURED ? PEN_BLUE : PEN_PALE);
    cairo_fill_preserve(pen->cr);
    outline(pen, h);
    pen_ink(pen, PEN_BLACK);
    if (h->state == KR_HOLDER_OUT || h->state == KR_HOLDER_FIXED)
        pen_line(pen, x - width / 2, top, x + width / 2, top + BODY, 0.7);
    if (h->state == KR_HOLDER_OUT)
        pen_line(pen, x - width / 2, top + BODY, x + width / 2, top, 0.7);
    if (h->state == KR_HOLDER_FIXED)
        for (int i = 1; i < 3; i++) {
            pen_line(pen, x - width / 2, top + BODY * i / 3, x + width / 2 - width * i / 3, top + BODY, 0.7);
            pen_line(pen, x - width / 2 + width * i / 3, top, x + width / 2, top + BODY - BODY * i / 3, 0.7);
        }
}

/* A blade points from a holder that cuts to the web. */
static void blade(const struct pen *pen, double x, double from, double to)
{
    pen_ink(pen, PEN_BLACK);
    cairo_move_to(pen->cr, x - 2, from);
    cairo_line_to(pen->cr, x + 2, from);
    cairo_line_to(pen->cr, x, to);
    cairo_close_path(pen->cr);
    cairo_fill(pen->cr);
}

static double body_width(const struct pen *pen, const struct kr_scene_holder *h)
{
    double width = pen_width(pen, h->body_um) - 0.6; /* neighbours at their nearest show a gap */
    return width > 1.5 ? width : 1.5;
}

/* ---- a rail ---------------------------------------------------------------------------------------------------- */

/* Writes every number if there is room, otherwise those that fit, from the operator side on, and always the last
 * one. */
static void numbers(const struct pen *pen, const struct kr_scene_rail *rail, double base)
{
    double free_from = -1e9;
    char text[8];
    pen_ink(pen, PEN_BLACK);
    for (uint16_t i = 0; i < rail->n_holders; i++) {
        if (!is_drawn(&rail->holder[i]))
            continue;
        snprintf(text, sizeof text, "%u", i + 1u);
        double x = pen_x(pen, place_um(pen, &rail->holder[i])), half = pen_text_width(pen, SMALL, text) / 2;
        if (x - half < free_from)
            continue;
        pen_text(pen, x, base, SMALL, PEN_MIDDLE, text);
        free_from = x + half + 2;
    }
}

/* Draws lines from the rings where holders stand now to where they shall stand. */
static void ways(const struct pen *pen, const struct kr_scene_rail *rail, double now, double then)
{
    pen_ink(pen, PEN_GREY);
    for (uint16_t i = 0; i < rail->n_holders; i++) {
        const struct kr_scene_holder *h = &rail->holder[i];
        if (!is_drawn(h))
            continue;
        double x = pen_x(pen, h->at_um);
        pen_line(pen, x, now, pen_x(pen, place_um(pen, h)), then, 0.5);
        cairo_new_path(pen->cr);
        cairo_arc(pen->cr, x, now, 1.4, 0, 6.2831853);
        cairo_set_line_width(pen->cr, 0.6);
        cairo_stroke(pen->cr);
    }
}

/* What stands beside the carriage, and what stands at the other end of its line. */
static bool carriage_is_left(const struct pen *pen, const struct kr_scene_rail *rail)
{
    return !rail->has_carriage || pen_x(pen, rail->carriage_um) < (pen->left + pen->right) / 2;
}

/* Bars up and down from a line: towards the drive side up. The greatest fills the room and is named. */
static void deviations(const struct pen *pen, const struct kr_scene_rail *rail, double middle, double words)
{
    char length[40], text[80];
    uint16_t number;
    int32_t worst = kr_scene_worst_um(rail, &number);
    if (number == 0)
        return;
    pen_ink(pen, PEN_GREY);
    pen_line(pen, pen->left, middle, pen->right, middle, 0.4);
    pen_ink(pen, PEN_BLACK);
    for (uint16_t i = 0; i < rail->n_holders && worst != 0; i++) {
        const struct kr_scene_holder *h = &rail->holder[i];
        double x = pen_x(pen, h->at_um);
        if (h->has_deviation && h->deviation_um != 0)
            pen_line(pen, x, middle, x, middle - (DEVIATION - 3) * h->deviation_um / abs(worst), 1.6);
    }
    kr_length_text(worst, pen->scene->length_unit, length, sizeof length);
    snprintf(text, sizeof text, "largest deviation: holder %u, %s", number, length);
    bool right = carriage_is_left(pen, rail);
    pen_text(pen, right ? pen->right : pen->left, words, SMALL, right ? PEN_RIGHT : PEN_LEFT, text);
    pen_text(pen, pen->left - 6, middle + 2, SMALL, PEN_RIGHT, "deviation");
}

static void carriage(const struct pen *pen, const struct kr_scene_rail *rail, double y)
{
    if (!rail->has_carriage)
        return;
    double x = pen_x(pen, rail->carriage_um);
    pen_ink(pen, PEN_BLACK);
    cairo_move_to(pen->cr, x, y - 4);
    cairo_line_to(pen->cr, x + 4, y);
    cairo_line_to(pen->cr, x, y + 4);
    cairo_line_to(pen->cr, x - 4, y);
    cairo_close_path(pen->cr);
    cairo_fill(pen->cr);
}

static void holders(const struct pen *pen, const struct kr_scene_rail *rail, double top, double web, double edge)
{
    for (uint16_t i = 0; i < rail->n_holders; i++) {
        const struct kr_scene_holder *h = &rail->holder[i];
        if (!is_drawn(h))
            continue;
        double x = pen_x(pen, place_um(pen, h));
        body(pen, h, x, top, body_width(pen, h));
        if (h->cut != 0)
            blade(pen, x, edge, web);
    }
}

/* Draws a post on the frame, as high as a holder. Filled: found. Crossed out: not found. Otherwise nothing has scanned
 * it. */
static void reference(const struct pen *pen, double x, double top, enum kr_scene_seen seen)
{
    cairo_move_to(pen->cr, x, top + BODY / 3);
    cairo_line_to(pen->cr, x + 3.5, top + BODY);
    cairo_line_to(pen->cr, x - 3.5, top + BODY);
    cairo_close_path(pen->cr);
    pen_ink(pen, seen == KR_SCENE_FOUND ? PEN_BLACK : PEN_WHITE);
    cairo_fill_preserve(pen->cr);
    pen_ink(pen, PEN_BLACK);
    cairo_set_line_width(pen->cr, 0.7);
    cairo_stroke(pen->cr);
    if (seen != KR_SCENE_NOT_FOUND)
        return;
    pen_line(pen, x - 4, top + BODY / 3, x + 4, top + BODY, 0.7);
    pen_line(pen, x - 4, top + BODY, x + 4, top + BODY / 3, 0.7);
}

static void references(const struct pen *pen, const struct kr_scene_rail *rail, double top)
{
    for (uint16_t i = 0; i < rail->n_references; i++)
        reference(pen, pen_x(pen, rail->reference[i].at_um), top, (enum kr_scene_seen)rail->reference[i].seen);
}

static void title(const struct pen *pen, const struct kr_scene_rail *rail, double y)
{
    pen_ink(pen, PEN_BLACK);
    pen_bold(pen, true);
    pen_text(pen, pen->left - 6, y, 8, PEN_RIGHT, rail->name);
    pen_bold(pen, false);
}

/* The note goes to the side of the carriage that has more room. */
static void carriage_line(const struct pen *pen, const struct kr_scene_rail *rail, double y)
{
    double x = pen_x(pen, rail->carriage_um);
    bool right = carriage_is_left(pen, rail);
    carriage(pen, rail, y);
    pen_text(pen, right ? (rail->has_carriage ? x + 7 : pen->left) : x - 7, y + 2.3, SMALL,
             right ? PEN_LEFT : PEN_RIGHT, rail->note);
}

static double above(const struct pen *pen, const struct kr_scene_rail *rail, double y)
{
    double top = y + 10 + (is_plan(pen) ? WAYS : 2 * DEVIATION) + NUMBERS;
    carriage_line(pen, rail, y + 4);
    if (is_plan(pen))
        ways(pen, rail, y + 12, top - NUMBERS);
    else
        deviations(pen, rail, y + 10 + DEVIATION, y + 4 + 2.3);
    numbers(pen, rail, top - 2);
    title(pen, rail, top + BODY / 2 + 3);
    references(pen, rail, top);
    holders(pen, rail, top, top + BODY + BLADE, top + BODY);
    return top + BODY + BLADE;
}

static double below(const struct pen *pen, const struct kr_scene_rail *rail, double y)
{
    double top = y + BLADE, end = top + BODY + NUMBERS + (is_plan(pen) ? WAYS : 2 * DEVIATION) + 10;
    title(pen, rail, top + BODY / 2 + 3);
    references(pen, rail, top);
    holders(pen, rail, top, y, top);
    numbers(pen, rail, top + BODY + NUMBERS - 2);
    if (is_plan(pen))
        ways(pen, rail, end - 12, top + BODY + NUMBERS);
    else
        deviations(pen, rail, top + BODY + NUMBERS + DEVIATION, end - 4 + 2.3);
    carriage_line(pen, rail, end - 4);
    return end;
}

/* ---- the web --------------------------------------------------------------------------------------------------- */

static void hatch(const struct pen *pen, double left, double right, double top)
{
    cairo_save(pen->cr);
    cairo_rectangle(pen->cr, left, top, right - left, WEB);
    cairo_clip(pen->cr);
    pen_ink(pen, PEN_GREY);
    int lines = (int)ceil((right - left + WEB) / 3.5);
    for (int i = 0; i < lines; i++) {
        double x = left - WEB + 3.5 * i;
        pen_line(pen, x, top + WEB, x + WEB, top, 0.4);
    }
    cairo_restore(pen->cr);
}

static void paper(const struct pen *pen, double x, double y, double width, double height)
{
    cairo_rectangle(pen->cr, x - width / 2, y - height / 2, width, height);
    pen_ink(pen, PEN_WHITE);
    cairo_fill(pen->cr);
    pen_ink(pen, PEN_BLACK);
}

/* Writes in the largest letters that fit; upright if none fit; not at all where there is no room. */
static void slit_word(const struct pen *pen, double left, double right, double y, const char *text)
{
    double size = 8, x = (left + right) / 2;
    while (size > 5.5 && pen_text_width(pen, size, text) > right - left - 3)
        size -= 0.5;
    double width = pen_text_width(pen, size, text);
    if (width <= right - left - 3) {
        paper(pen, x, y, width + 3, 11);
        pen_text(pen, x, y + size * 0.36, size, PEN_MIDDLE, text);
    } else if (right - left >= 6 && width < WEB - 2) {
        paper(pen, x, y, 6, width + 2);
        pen_text_upright(pen, x, y, size, text);
    }
}

static void slit_words(const struct pen *pen, double top)
{
    const struct kr_scene *s = pen->scene;
    char text[64];
    pen_ink(pen, PEN_BLACK);
    for (uint16_t i = 0; i < s->n_slits; i = (uint16_t)(i + kr_scene_run(s, i))) {
        uint16_t n = kr_scene_run(s, i);
        double left = pen_x(pen, s->slit[i].left_um), right = pen_x(pen, s->slit[i + n - 1].right_um);
        kr_scene_run_text(s, i, text, sizeof text);
        slit_word(pen, left, right, top + WEB / 2, text);
    }
}

static double web(const struct pen *pen, double top)
{
    const struct kr_scene *s = pen->scene;
    double left = pen_x(pen, s->edge_um[0]), right = pen_x(pen, s->edge_um[1]);
    cairo_rectangle(pen->cr, left, top, right - left, WEB);
    pen_ink(pen, PEN_PALE);
    cairo_fill(pen->cr);
    if (s->trim_nm[0] > 0)
        hatch(pen, left, pen_x(pen, s->cut_um[0]), top);
    if (s->trim_nm[1] > 0)
        hatch(pen, pen_x(pen, s->cut_um[s->n_cuts - 1]), right, top);
    pen_ink(pen, PEN_BLACK);
    for (int side = 0; side < 2; side++)
        pen_line(pen, side ? right : left, top, side ? right : left, top + WEB, 0.9);
    for (uint16_t i = 0; i < s->n_cuts; i++)
        pen_line(pen, pen_x(pen, s->cut_um[i]), top, pen_x(pen, s->cut_um[i]), top + WEB, 0.6);
    slit_words(pen, top);
    pen_text(pen, pen->left - 6, top + WEB / 2 + 3, 8, PEN_RIGHT, "web");
    return top + WEB;
}

static double ruler(const struct pen *pen, double y)
{
    const struct kr_scene *s = pen->scene;
    int64_t step_nm = kr_scene_ruler_step(s, 16), low_nm = (int64_t)s->low_um * KR_NM_PER_UM;
    int64_t nm = low_nm / step_nm * step_nm;
    pen_ink(pen, PEN_BLACK);
    pen_line(pen, pen->left, y, pen->right, y, 0.5);
    for (nm = nm < low_nm ? nm + step_nm : nm; nm <= (int64_t)s->high_um * KR_NM_PER_UM; nm += step_nm) {
        char text[40];
        double x = pen_x(pen, nm / KR_NM_PER_UM);
        kr_scene_length(nm, s->length_unit, text, sizeof text);
        pen_line(pen, x, y, x, y + 4, 0.5);
        pen_text(pen, x, y + 11, SMALL, PEN_MIDDLE, text);
    }
    pen_text(pen, pen->left - 6, y + 11, SMALL, PEN_RIGHT, s->length_unit == KR_LENGTH_INCH ? "in" : "mm");
    return y + 14;
}

double rails_draw(const struct pen *pen, double y)
{
    const struct kr_scene *s = pen->scene;
    pen_bold(pen, false);
    for (uint16_t r = 0; r < s->n_rails; r++)
        if (s->rail[r].role == KR_UPPER)
            y = above(pen, &s->rail[r], y);
    y = s->n_cuts > 0 ? web(pen, y) : y + 6;
    for (uint16_t r = 0; r < s->n_rails; r++)
        if (s->rail[r].role != KR_UPPER)
            y = below(pen, &s->rail[r], y);
    return ruler(pen, y + 6);
}

/* ---- what the shapes mean -------------------------------------------------------------------------------------- */

static const struct {
    struct kr_scene_holder holder;
    const char *meaning;
} samples[] = {
    {{.cut = 1, .known = KR_MEASURED}, "cuts"},
    {{.cut = 1, .known = KR_PLACED}, "cuts (placed only)"},
    {{.cut = 1, .known = KR_REMEMBERED}, "cuts (remembered only)"},
    {{.known = KR_MEASURED}, "idle"},
    {{.known = KR_PLACED}, "idle (placed only)"},
    {{.known = KR_REMEMBERED}, "idle (remembered only)"},
    {{.known = KR_MEASURED, .state = KR_HOLDER_OUT}, "out of service"},
    {{.known = KR_MEASURED, .state = KR_HOLDER_FIXED}, "fixed"},
};

static bool occurs(const struct kr_scene *s, const struct kr_scene_holder *sample)
{
    for (uint16_t r = 0; r < s->n_rails; r++)
        for (uint16_t i = 0; i < s->rail[r].n_holders; i++) {
            const struct kr_scene_holder *h = &s->rail[r].holder[i];
            if (h->state == sample->state && (h->cut != 0) == (sample->cut != 0) &&
                (h->known == sample->known || sample->state != KR_HOLDER_IN))
                return true;
        }
    return false;
}

static const char *const reference_meanings[] = {[KR_SCENE_NOT_LOOKED_FOR] = "reference on the frame",
                                                 [KR_SCENE_FOUND] = "reference on the frame, found",
                                                 [KR_SCENE_NOT_FOUND] = "reference on the frame, not found"};

static bool reference_occurs(const struct kr_scene *s, enum kr_scene_seen seen)
{
    for (uint16_t r = 0; r < s->n_rails; r++)
        for (uint16_t i = 0; i < s->rail[r].n_references; i++)
            if (s->rail[r].reference[i].seen == seen)
                return true;
    return false;
}

struct told {
    const struct pen *pen;
    double y;
};

static void tell_line(void *arg, const char *text)
{
    struct told *told = arg;
    pen_text(told->pen, told->pen->left + 12, (told->y += 14) + 9, LEGEND, PEN_LEFT, text);
}

/* Holders whose places are unknown are not drawn. Returns where the last line of them begins. */
static double tell_unknown(const struct pen *pen, double y)
{
    struct told told = {pen, y};
    struct kr_scene_style style = {.columns = (int)((pen->right - pen->left - 12) / (LEGEND * LETTER))};
    kr_scene_text_unknown(pen->scene, style, (struct kr_scene_lines){tell_line, &told});
    return told.y;
}

static void words_at(const struct pen *pen, double *x, double *y, double width, const char *text)
{
    if (*x > pen->left && *x + width > pen->right) {
        *x = pen->left;
        *y += 14;
    }
    pen_ink(pen, PEN_BLACK);
    pen_text(pen, *x + 12, *y + 9, LEGEND, PEN_LEFT, text);
}

static void legend_references(const struct pen *pen, double *x, double *y)
{
    for (int seen = KR_SCENE_NOT_LOOKED_FOR; seen <= KR_SCENE_NOT_FOUND; seen++) {
        double width = pen_text_width(pen, LEGEND, reference_meanings[seen]) + 24;
        if (!reference_occurs(pen->scene, (enum kr_scene_seen)seen))
            continue;
        words_at(pen, x, y, width, reference_meanings[seen]);
        cairo_save(pen->cr);
        cairo_translate(pen->cr, *x + 5, *y + 1.5);
        cairo_scale(pen->cr, 0.55, 0.55);
        reference(pen, 0, 0, (enum kr_scene_seen)seen);
        cairo_restore(pen->cr);
        *x += width;
    }
}

/* Explains further shapes, in the pictures that have them. */
static const char *other_shapes(enum kr_scene_source source)
{
    switch (source) {
    case KR_SCENE_PLAN: return "diamond: carriage; ring: where a holder stands now; hatched: trim";
    case KR_SCENE_STATION: return "diamond: carriage; hatched: trim";
    case KR_SCENE_RECORD:
    case KR_SCENE_STAGED: break;
    }
    return "hatched: trim";
}

double rails_legend(const struct pen *pen, double y)
{
    double x = pen->left;
    for (size_t i = 0; i < sizeof samples / sizeof samples[0]; i++) {
        double width = pen_text_width(pen, LEGEND, samples[i].meaning) + 24;
        if (!occurs(pen->scene, &samples[i].holder))
            continue;
        words_at(pen, &x, &y, width, samples[i].meaning);
        cairo_save(pen->cr);
        cairo_translate(pen->cr, x + 5, y + 1.5);
        cairo_scale(pen->cr, 0.55, 0.55);
        body(pen, &samples[i].holder, 0, 0, 12);
        cairo_restore(pen->cr);
        x += width;
    }
    legend_references(pen, &x, &y);
    const char *rest = other_shapes(pen->scene->source);
    words_at(pen, &x, &y, pen_text_width(pen, LEGEND, rest) + 24, rest);
    y = tell_unknown(pen, y);
    pen_text(pen, pen->left + 12, (y += 14) + 9, LEGEND, PEN_LEFT,
             pen->scene->source == KR_SCENE_STAGED
                 ? "Operator side left."
                 : "Operator side left. Holders are drawn at their centres, as wide as the room that they take.");
    return y + 14;
}
