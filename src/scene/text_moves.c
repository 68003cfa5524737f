/* Writes the order and the moves as text. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "lines.h"

#define INDENT 14

static const char *unit_name(const struct kr_scene *scene)
{
    return scene->length_unit == KR_LENGTH_INCH ? "in" : "mm";
}

static void web_words(const struct kr_scene *s, struct scene_fold *fold)
{
    static const char *const sides[] = {"operator-side", "drive-side"};
    char length[48], word[96];
    kr_scene_length(((int64_t)s->edge_um[1] - s->edge_um[0]) * KR_NM_PER_UM, s->length_unit, length, sizeof length);
    snprintf(word, sizeof word, "%s %s wide", length, unit_name(s));
    scene_fold(fold, word);
    for (int side = 0; side < 2; side++) {
        kr_scene_length(s->trim_nm[side], s->length_unit, length, sizeof length);
        if (s->trim_nm[side] > 0)
            snprintf(word, sizeof word, "%s trim %s %s", sides[side], length, unit_name(s));
        else
            snprintf(word, sizeof word, "no %s trim", sides[side]);
        scene_fold(fold, word);
    }
}

void kr_scene_text_web(const struct kr_scene *scene, struct kr_scene_style style, struct kr_scene_lines to)
{
    struct scene_fold fold = scene_fold_begin("web", INDENT, style, to);
    if (scene->n_cuts > 0)
        web_words(scene, &fold);
    scene_fold_end(&fold);
}

void kr_scene_text_order(const struct kr_scene *scene, struct kr_scene_style style, struct kr_scene_lines to)
{
    if (scene->n_cuts == 0)
        return;
    kr_scene_text_web(scene, style, to);
    struct scene_fold fold = scene_fold_begin("slits", INDENT, style, to);
    for (uint16_t i = 0; i < scene->n_slits; i = (uint16_t)(i + kr_scene_run(scene, i))) {
        char run[64], word[80];
        kr_scene_run_text(scene, i, run, sizeof run);
        snprintf(word, sizeof word, "%s %s", run, unit_name(scene));
        scene_fold(&fold, word);
    }
    scene_fold_end(&fold);
    fold =
        scene_fold_begin(scene->length_unit == KR_LENGTH_INCH ? "cut lines, in" : "cut lines, mm", INDENT, style, to);
    for (uint16_t i = 0; i < scene->n_cuts; i++) {
        char at[48];
        kr_scene_length((int64_t)scene->cut_um[i] * KR_NM_PER_UM, scene->length_unit, at, sizeof at);
        scene_fold(&fold, at);
    }
    scene_fold_end(&fold);
}

/* ---- moves ----------------------------------------------------------------------------------------------------- */

/* Draws "[   ====      ]": the time of a move within the time of all moves of the rail. */
static void bar(const struct kr_scene_move *move, int64_t whole_us, int cells, char *text)
{
    int64_t first = whole_us > 0 ? move->start_us * cells / whole_us : 0,
            last = whole_us > 0 ? (move->end_us * cells - 1) / whole_us : 0;
    *text++ = '[';
    for (int i = 0; i < cells; i++)
        *text++ = i >= first && i <= last ? '=' : ' ';
    *text++ = ']';
    *text = '\0';
}

static const char *reason_of(enum kr_reason reason)
{
    switch (reason) {
    case KR_WHY_ROOM: return "makes room";
    case KR_WHY_CLEAR: return "leaves the web";
    case KR_WHY_NEXT: return "for the next";
    case KR_WHY_NOT:
    case KR_WHY_CUT: break;
    }
    return "idle";
}

void kr_scene_move_text(const struct kr_scene_rail *rail, const struct kr_scene_move *move, char *text, size_t size)
{
    uint16_t cut = rail->holder[move->holder - 1].cut;
    int n = cut > 0 ? snprintf(text, size, "cut %u", cut)
                    : snprintf(text, size, "%s", reason_of((enum kr_reason)move->reason));
    if (move->after[1] > 0)
        snprintf(text + n, size - (size_t)n, ", after %u, %u", move->after[0], move->after[1]);
    else if (move->after[0] > 0)
        snprintf(text + n, size - (size_t)n, ", after %u", move->after[0]);
}

static void scan_line(int64_t at_us, int64_t scan_us, const char *what, struct kr_scene_lines to)
{
    char text[96];
    if (scan_us <= 0)
        return;
    snprintf(text, sizeof text, "%8.1f   %s, %.1f s", (double)at_us / 1e6, what, (double)scan_us / 1e6);
    to.line(to.arg, text);
}

#define BAR_MAX    40
#define BAR_COLUMN 66 /* column of the bars */

static void move_line(const struct kr_scene *scene, const struct kr_scene_rail *rail, const struct kr_scene_move *move,
                      int cells, struct kr_scene_lines to)
{
    char line[KR_SCENE_COLUMNS_MAX + 80], bars[BAR_MAX + 3], why[64], from[40], end[40];
    kr_scene_move_text(rail, move, why, sizeof why);
    bar(move, rail->moves_us, cells, bars);
    kr_length_text(move->from_um, scene->length_unit, from, sizeof from);
    kr_length_text(move->to_um, scene->length_unit, end, sizeof end);
    snprintf(line, sizeof line, "%8.1f %6u %12s -> %12s  %-20s %s", (double)(rail->scan_us + move->start_us) / 1e6,
             move->holder, from, end, why, bars);
    to.line(to.arg, line);
}

static bool moves(const struct kr_scene_rail *rail, int holder_number)
{
    for (uint16_t m = 0; m < rail->n_moves; m++)
        if (rail->move[m].holder == holder_number)
            return true;
    return false;
}

/* Adjacent idle holders that stay are written as one word. */
static bool rests(const struct kr_scene_rail *rail, int i)
{
    return i < rail->n_holders && rail->holder[i].cut == 0 && rail->holder[i].state == KR_HOLDER_IN &&
           !moves(rail, i + 1);
}

static void stayers(const struct kr_scene_rail *rail, struct kr_scene_style style, struct kr_scene_lines to)
{
    struct scene_fold fold = scene_fold_begin("     stay", INDENT, style, to);
    for (int i = 0; i < rail->n_holders; i++) {
        const struct kr_scene_holder *h = &rail->holder[i];
        char word[64];
        int last = i;
        if (moves(rail, i + 1))
            continue;
        while (rests(rail, last + 1) && rests(rail, i))
            last++;
        if (last > i)
            snprintf(word, sizeof word, last > i + 1 ? "%d to %d idle" : "%d and %d idle", i + 1, last + 1);
        else if (h->cut > 0)
            snprintf(word, sizeof word, "%d in cut %u", i + 1, h->cut);
        else
            snprintf(word, sizeof word, "%d %s", i + 1,
                     h->state == KR_HOLDER_IN ? "idle" : kr_number_word("HOLDER_STATE", h->state));
        scene_fold(&fold, word);
        i = last;
    }
    scene_fold_end(&fold);
}

void kr_scene_text_moves(const struct kr_scene *scene, uint16_t rail, struct kr_scene_style style,
                         struct kr_scene_lines to)
{
    const struct kr_scene_rail *r = &scene->rail[rail];
    int cells = style.columns - BAR_COLUMN - 2;
    cells = cells < 10 ? 10 : cells > BAR_MAX ? BAR_MAX : cells;
    if (r->n_moves > 0)
        to.line(to.arg, "    at s holder         from              to  for");
    if (r->n_moves > 0)
        scan_line(0, r->scan_us, "scan", to);
    for (uint16_t m = 0; m < r->n_moves; m++)
        move_line(scene, r, &r->move[m], cells, to);
    if (r->n_moves > 0)
        scan_line(r->scan_us + r->moves_us, r->verify_us, "scan that verifies", to);
    stayers(r, style, to);
}
