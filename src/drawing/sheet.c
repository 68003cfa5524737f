/* The sheet: one page to pin on the machine. */
#include <stdlib.h>
#include <string.h>

#include "rails.h"
#include "surface.h"
#include "table.h"

#define MARGIN 34.0
#define LABELS 44.0
#define LARGE  8.5 /* letters of a table, where there is room */
#define LEAST  3.5 /* and where there is little */

/* A4 by ISO 216, Letter by ANSI/ASME Y14.1: 8.5 in x 11 in. */
static const double papers[][2] = {[KR_PAPER_A4] = {210 * 72 / 25.4, 297 * 72 / 25.4}, [KR_PAPER_LETTER] = {612, 792}};

typedef char cells[TABLE_COLUMNS_MAX][TABLE_CELL_MAX];

struct sheet {
    const struct kr_scene *scene;
    const struct kr_sheet_words *words;
    bool measured; /* something of a station was measured, or could be */
    struct table cuts, idle;
};

static void put_length(char *cell, const struct kr_scene *s, int64_t nm)
{
    if (s->length_unit == KR_LENGTH_INCH)
        snprintf(cell, TABLE_CELL_MAX, "%.4f", (double)nm / KR_NM_PER_INCH);
    else
        snprintf(cell, TABLE_CELL_MAX, "%.3f", (double)nm / 1e6);
}

static void put_um(char *cell, const struct kr_scene *s, int64_t um)
{
    put_length(cell, s, um * KR_NM_PER_UM);
}

static int add_column(struct table *t, const char *above, const char *below)
{
    snprintf(t->name[t->n_columns][0], TABLE_CELL_MAX, "%s", above);
    snprintf(t->name[t->n_columns][1], TABLE_CELL_MAX, "%s", below);
    return t->n_columns++;
}

/* ---- cuts and slits -------------------------------------------------------------------------------------------- */

static uint16_t holder_of_cut(const struct kr_scene_rail *rail, uint16_t cut)
{
    for (uint16_t i = 0; i < rail->n_holders; i++)
        if (rail->holder[i].cut == cut && rail->holder[i].state != KR_HOLDER_ABSENT)
            return (uint16_t)(i + 1);
    return 0;
}

static void put_knife(const struct sheet *sheet, cells *row, int column, const struct kr_scene_rail *rail, uint16_t cut)
{
    uint16_t number = holder_of_cut(rail, cut);
    if (number == 0)
        return;
    const struct kr_scene_holder *h = &rail->holder[number - 1];
    snprintf((*row)[column], TABLE_CELL_MAX, "%u", number);
    put_um((*row)[column + 1], sheet->scene, h->target_um);
    if (!sheet->measured)
        return;
    if (h->known == KR_MEASURED)
        put_um((*row)[column + 2], sheet->scene, h->at_um);
    else
        snprintf((*row)[column + 2], TABLE_CELL_MAX, "%s", kr_number_word("HOLDER_KNOWN", h->known));
    if (h->has_deviation)
        put_um((*row)[column + 3], sheet->scene, h->deviation_um);
}

static void put_slit(const struct sheet *sheet, cells *row, int column, uint16_t i)
{
    const struct kr_scene_slit *slit = &sheet->scene->slit[i];
    int next = column;
    snprintf((*row)[next++], TABLE_CELL_MAX, "%u", i + 1u);
    put_length((*row)[next++], sheet->scene, slit->width_nm);
    if (sheet->measured && slit->has_measured)
        put_um((*row)[next], sheet->scene, slit->measured_um);
    next += sheet->measured;
    put_length((*row)[next], sheet->scene, ((int64_t)slit->left_um + slit->right_um) * KR_NM_PER_UM / 2);
}

static void name_columns(struct sheet *sheet)
{
    struct table *t = &sheet->cuts;
    add_column(t, "", "cut");
    add_column(t, "cut", "line");
    for (uint16_t r = 0; r < sheet->scene->n_rails; r++) {
        add_column(t, sheet->scene->rail[r].name, "holder");
        add_column(t, "", "target");
        if (!sheet->measured)
            continue;
        add_column(t, "", "measured");
        add_column(t, "", "off");
    }
    add_column(t, "", "slit");
    add_column(t, "slit", "width");
    if (sheet->measured)
        add_column(t, "slit", "measured");
    add_column(t, "lane", "centre");
}

/* A row is a cut and the slit to the right of it. A slit between the web's untrimmed operator edge and the first cut
 * has a row before. */
static void fill_cuts(struct sheet *sheet)
{
    const struct kr_scene *s = sheet->scene;
    struct table *t = &sheet->cuts;
    int per_rail = sheet->measured ? 4 : 2, slit_column = 2 + per_rail * s->n_rails;
    bool edge_slit = s->n_slits > 0 && s->slit[0].left_um < s->cut_um[0];
    t->n_rows = s->n_cuts + edge_slit;
    for (uint16_t i = 0; i < s->n_cuts; i++) {
        cells *row = &t->cell[i + edge_slit];
        snprintf((*row)[0], TABLE_CELL_MAX, "%u", i + 1u);
        put_um((*row)[1], s, s->cut_um[i]);
        for (uint16_t r = 0; r < s->n_rails; r++)
            put_knife(sheet, row, 2 + per_rail * r, &s->rail[r], (uint16_t)(i + 1));
    }
    for (uint16_t i = 0; i < s->n_slits && i < t->n_rows; i++)
        put_slit(sheet, &t->cell[i], slit_column, i);
}

/* ---- holders that do not cut ----------------------------------------------------------------------------------- */

static void fill_idle(struct sheet *sheet)
{
    const struct kr_scene *s = sheet->scene;
    struct table *t = &sheet->idle;
    add_column(t, "", "rail");
    add_column(t, "", "holder");
    add_column(t, "", "place");
    add_column(t, "", "");
    for (uint16_t r = 0; r < s->n_rails; r++)
        for (uint16_t i = 0; i < s->rail[r].n_holders; i++) {
            const struct kr_scene_holder *h = &s->rail[r].holder[i];
            if (h->cut != 0)
                continue;
            cells *row = &t->cell[t->n_rows++];
            snprintf((*row)[0], TABLE_CELL_MAX, "%s", s->rail[r].name);
            snprintf((*row)[1], TABLE_CELL_MAX, "%u", i + 1u);
            if (h->state != KR_HOLDER_ABSENT && h->known != KR_UNKNOWN)
                put_um((*row)[2], s, h->has_target ? h->target_um : h->at_um);
            snprintf((*row)[3], TABLE_CELL_MAX, "%.16s",
                     h->state != KR_HOLDER_IN ? kr_number_word("HOLDER_STATE", h->state)
                     : sheet->measured        ? kr_number_word("HOLDER_KNOWN", h->known)
                                              : "idle");
        }
}

/* ---- the page -------------------------------------------------------------------------------------------------- */

struct folded {
    const struct pen *pen;
    double x, y;
};

static void print_folded(void *arg, const char *text)
{
    struct folded *f = arg;
    char label[16], *rest;
    snprintf(label, sizeof label, "%.14s", text);
    rest = label + strlen(label);
    while (rest > label && rest[-1] == ' ')
        *--rest = '\0';
    pen_text(f->pen, f->x, f->y += 10, 7.5, PEN_LEFT, label);
    pen_text(f->pen, f->x + 62, f->y, 7.5, PEN_LEFT, strlen(text) > 14 ? text + 14 : "");
}

static double head(const struct pen *pen, const struct sheet *sheet, double right)
{
    char title[96];
    const struct kr_scene *s = sheet->scene;
    snprintf(title, sizeof title, s->order_number ? "%s, order %u" : "%s", s->station, (unsigned)s->order_number);
    pen_ink(pen, PEN_BLACK);
    pen_bold(pen, true);
    pen_text(pen, MARGIN, MARGIN + 12, 15, PEN_LEFT, title);
    pen_bold(pen, false);
    pen_text(pen, right, MARGIN + 6, 7.5, PEN_RIGHT, sheet->words->when);
    pen_text(pen, right, MARGIN + 16, 7.5, PEN_RIGHT, sheet->words->who);
    pen_text(pen, MARGIN, MARGIN + 26, 9, PEN_LEFT, sheet->words->what);
    struct folded f = {pen, MARGIN, MARGIN + 30};
    kr_scene_text_web(s, (struct kr_scene_style){100, false}, (struct kr_scene_lines){print_folded, &f});
    snprintf(title, sizeof title,
             "Lengths in %s from the datum, growing towards the drive side. Off: measured less target.",
             s->length_unit == KR_LENGTH_INCH ? "inches" : "mm");
    pen_text(pen, MARGIN, f.y + 10, 7.5, PEN_LEFT, title);
    return f.y + 16;
}

#define FOOT 72.0

static void foot(const struct pen *pen, const struct kr_sheet_words *words, double right, double bottom)
{
    double y = bottom - FOOT + 12;
    pen_ink(pen, PEN_BLACK);
    pen_line(pen, MARGIN, y, right, y, 0.6);
    pen_text(pen, MARGIN, y + 12, 7.5, PEN_LEFT,
             "Checked by: ______________________   Date, time: ______________________");
    y += 22;
    for (const char *at = words->caution; *at;) { /* lines are broken between words */
        char line[200];
        size_t n = strcspn(at, "\n");
        snprintf(line, sizeof line, "%.*s", (int)(n < sizeof line ? n : sizeof line - 1), at);
        pen_text(pen, MARGIN, y, 6, PEN_LEFT, line);
        y += 7.5;
        at += n + (at[n] == '\n');
    }
}

static double largest(const struct sheet *sheet, double right, double room)
{
    for (int i = 0; i <= (int)((LARGE - LEAST) / 0.25); i++) {
        double size = LARGE - 0.25 * i;
        double cuts = table_height(&sheet->cuts, size, MARGIN, right),
               idle = table_height(&sheet->idle, size, MARGIN, right);
        if (cuts >= 0 && idle >= 0 && cuts + idle <= room)
            return size;
    }
    return 0;
}

/* False: the tables do not fit, even in the smallest letters. */
static bool page(const struct pen *pen, const struct sheet *sheet, double width, double height)
{
    double right = width - MARGIN, y = head(pen, sheet, right);
    y = rails_draw(pen, y);
    y = rails_legend(pen, y + 2) + 4;
    double size = largest(sheet, right, height - MARGIN - FOOT - y);
    if (size == 0)
        return false;
    table_draw(pen, &sheet->cuts, size, MARGIN, right, y);
    table_draw(pen, &sheet->idle, size, MARGIN, right, y + table_height(&sheet->cuts, size, MARGIN, right));
    foot(pen, sheet->words, right, height - MARGIN + 12);
    return true;
}

static bool print_sheet(const struct sheet *sheet, enum kr_paper paper, enum kr_drawing_form form, const char *path,
                        char error[KR_DRAWING_ERROR_MAX])
{
    struct surface s;
    double width = papers[paper][0], height = papers[paper][1];
    if (!surface_open(&s, form, path, width, height, error))
        return false;
    struct pen pen = {s.cr, sheet->scene, MARGIN + LABELS, width - MARGIN};
    bool fits = page(&pen, sheet, width, height);
    if (!surface_close(&s, error))
        return false;
    if (!fits)
        snprintf(error, KR_DRAWING_ERROR_MAX, "%.120s: the holders do not fit on one page", path);
    return fits;
}

bool kr_drawing_sheet(const struct kr_scene *scene, const struct kr_sheet_words *words, enum kr_paper paper,
                      enum kr_drawing_form form, const char *path, char error[KR_DRAWING_ERROR_MAX])
{
    struct sheet sheet = {.scene = scene,
                          .words = words,
                          .measured = scene->source != KR_SCENE_PLAN,
                          .cuts = {.title = "Cuts, knives and slits"},
                          .idle = {.title = "Holders that do not cut"}};
    sheet.cuts.cell = calloc(KR_CUTS_MAX + 1, sizeof(cells));
    sheet.idle.cell = calloc((size_t)KR_RAILS_MAX * KR_HOLDERS_MAX, sizeof(cells));
    bool ok = sheet.cuts.cell != NULL && sheet.idle.cell != NULL;
    if (ok) {
        name_columns(&sheet);
        fill_cuts(&sheet);
        fill_idle(&sheet);
        ok = print_sheet(&sheet, paper, form, path, error);
    } else {
        snprintf(error, KR_DRAWING_ERROR_MAX, "out of memory");
    }
    free(sheet.cuts.cell);
    free(sheet.idle.cell);
    return ok;
}
