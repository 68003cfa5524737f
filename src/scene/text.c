/* Paints as text: rows of marks to one scale. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "lines.h"

#define LABEL     14 /* columns before a row's marks, with the blank after the label */
#define MARKS_MAX (KR_SCENE_COLUMNS_MAX - LABEL)

static const struct {
    const char *ascii, *box, *meaning;
} marks[] = {
#define X(name, ascii, box, meaning) {ascii, box, meaning},
    KR_SCENE_MARKS(X)
#undef X
};
#define N_MARKS (sizeof marks / sizeof marks[0])

/* The state of a painting. A cell holds a mark, or a character of a text. */
struct canvas {
    const struct kr_scene *scene;
    struct kr_scene_style style;
    struct kr_scene_lines to;
    int n; /* number of cells of a row */
    bool used[N_MARKS];
    uint8_t cell[MARKS_MAX], count[MARKS_MAX];
};
#define FIRST_CHARACTER ' ' /* cells from this value on are ASCII characters, and those below are marks */
_Static_assert((int)N_MARKS < FIRST_CHARACTER, "a mark and a character can be told apart");

static struct canvas open_canvas(const struct kr_scene *scene, struct kr_scene_style style, struct kr_scene_lines to)
{
    int columns = style.columns;
    columns = columns < KR_SCENE_COLUMNS_MIN ? KR_SCENE_COLUMNS_MIN : columns;
    columns = columns > KR_SCENE_COLUMNS_MAX ? KR_SCENE_COLUMNS_MAX : columns;
    struct canvas c = {.scene = scene, .style = {columns, style.box}, .to = to, .n = columns - LABEL};
    return c;
}

static int column(const struct canvas *c, int64_t um)
{
    int64_t low_um = c->scene->low_um, span_um = c->scene->high_um - low_um;
    int64_t at = ((um - low_um) * (c->n - 1) + span_um / 2) / span_um;
    return at < 0 ? 0 : at >= c->n ? c->n - 1 : (int)at;
}

static void clear_row(struct canvas *c)
{
    memset(c->cell, KR_MARK_BLANK, sizeof c->cell);
    memset(c->count, 0, sizeof c->count);
}

/* A second mark in the same column turns it into a count. */
static void put(struct canvas *c, int64_t um, enum kr_scene_mark mark)
{
    int at = column(c, um);
    c->count[at]++;
    c->cell[at] = (uint8_t)(c->count[at] > 1 ? KR_MARK_SEVERAL : mark);
    c->used[c->cell[at]] = true;
}

static void put_text(struct canvas *c, int at, const char *text)
{
    for (; *text && at < c->n; text++, at++)
        if (at >= 0)
            c->cell[at] = (uint8_t)*text;
}

static bool is_blank(const struct canvas *c, int from, int to)
{
    if (from < 0 || to > c->n)
        return false;
    for (int i = from; i < to; i++)
        if (c->cell[i] != KR_MARK_BLANK)
            return false;
    return true;
}

static void print_row(struct canvas *c, const char *label)
{
    char text[4 * KR_SCENE_COLUMNS_MAX];
    int used = snprintf(text, sizeof text, "%-*.*s ", LABEL - 1, LABEL - 1, label), kept = 0;
    for (int i = 0; i < c->n; i++) {
        uint8_t cell = c->cell[i];
        size_t room = sizeof text - (size_t)used;
        if (cell >= FIRST_CHARACTER)
            used += snprintf(text + used, room, "%c", cell);
        else if (cell == KR_MARK_SEVERAL)
            used += snprintf(text + used, room, "%d", c->count[i] < 9 ? c->count[i] : 9);
        else
            used += snprintf(text + used, room, "%s", c->style.box ? marks[cell].box : marks[cell].ascii);
        if (cell != KR_MARK_BLANK)
            kept = used;
    }
    if (kept == 0)
        kept = (int)strlen(label);
    text[kept] = '\0';
    c->to.line(c->to.arg, text);
}

/* ---- the rows -------------------------------------------------------------------------------------------------- */

static void ruler(struct canvas *c)
{
    const struct kr_scene *s = c->scene;
    int64_t step_nm = kr_scene_ruler_step(s, c->n / 7), low_nm = (int64_t)s->low_um * KR_NM_PER_UM;
    int64_t nm = low_nm / step_nm * step_nm;
    clear_row(c);
    for (nm = nm < low_nm ? nm + step_nm : nm; nm <= (int64_t)s->high_um * KR_NM_PER_UM; nm += step_nm) {
        char text[48] = "'";
        kr_scene_length(nm, s->length_unit, text + 1, sizeof text - 1);
        int at = column(c, nm / KR_NM_PER_UM);
        if (is_blank(c, at, at + (int)strlen(text)))
            put_text(c, at, text);
    }
    print_row(c, s->length_unit == KR_LENGTH_INCH ? "in" : "mm");
}

static void web(struct canvas *c)
{
    const struct kr_scene *s = c->scene;
    clear_row(c);
    int first = column(c, s->cut_um[0]), last = column(c, s->cut_um[s->n_cuts - 1]);
    for (int i = column(c, s->edge_um[0]); i <= column(c, s->edge_um[1]); i++) {
        bool is_trim = (i < first && s->trim_nm[0] > 0) || (i > last && s->trim_nm[1] > 0);
        c->cell[i] = is_trim ? KR_MARK_TRIM : KR_MARK_WEB;
        c->used[c->cell[i]] = true;
    }
    for (uint16_t i = 0; i < s->n_cuts; i++)
        put(c, s->cut_um[i], KR_MARK_CUT);
    print_row(c, "web");
}

/* Writes "4 x 240" above slits that are equally wide, if there is room. text_order lists all of them. */
static void slits(struct canvas *c)
{
    const struct kr_scene *s = c->scene;
    bool any = false;
    clear_row(c);
    for (uint16_t i = 0; i < s->n_slits; i = (uint16_t)(i + kr_scene_run(s, i))) {
        uint16_t n = kr_scene_run(s, i);
        char text[64];
        kr_scene_run_text(s, i, text, sizeof text);
        int left = column(c, s->slit[i].left_um), right = column(c, s->slit[i + n - 1].right_um);
        int length = (int)strlen(text), at = (left + right + 1 - length) / 2;
        if (length > right - left - 1 || !is_blank(c, at - 1 < 0 ? 0 : at - 1, at + length))
            continue;
        put_text(c, at, text);
        any = true;
    }
    if (any)
        print_row(c, "slits");
}

static enum kr_scene_mark idle_mark(const struct kr_scene_holder *h)
{
    switch ((enum kr_holder_state)h->state) {
    case KR_HOLDER_OUT: return KR_MARK_OUT;
    case KR_HOLDER_FIXED: return KR_MARK_FIXED;
    case KR_HOLDER_IN:
    case KR_HOLDER_ABSENT: break;
    }
    if (h->known == KR_REMEMBERED)
        return KR_MARK_REMEMBERED;
    return h->known == KR_PLACED ? KR_MARK_IDLE_PLACED : KR_MARK_IDLE;
}

static enum kr_scene_mark cut_mark(const struct kr_scene_holder *h, bool below)
{
    if (h->known == KR_REMEMBERED)
        return KR_MARK_REMEMBERED;
    if (h->known == KR_PLACED)
        return below ? KR_MARK_BELOW_PLACED : KR_MARK_ABOVE_PLACED;
    return below ? KR_MARK_BELOW : KR_MARK_ABOVE;
}

static bool is_drawn(const struct kr_scene_holder *h)
{
    return h->state != KR_HOLDER_ABSENT && h->known != KR_UNKNOWN;
}

static void references(struct canvas *c, const struct kr_scene_rail *rail)
{
    for (uint16_t i = 0; i < rail->n_references; i++)
        put(c, rail->reference[i].at_um,
            rail->reference[i].seen == KR_SCENE_NOT_FOUND ? KR_MARK_REFERENCE_LOST : KR_MARK_REFERENCE);
}

/* References are drawn in the row of the idle holders, because both ends of the rail have no cutting holders. */
static void holders(struct canvas *c, const struct kr_scene_rail *rail, bool cutting)
{
    char label[KR_SCENE_NAME_MAX + 8];
    bool any = !cutting && rail->n_references > 0;
    clear_row(c);
    if (!cutting)
        references(c, rail);
    for (uint16_t i = 0; i < rail->n_holders; i++) {
        const struct kr_scene_holder *h = &rail->holder[i];
        if (!is_drawn(h) || (h->cut != 0) != cutting)
            continue;
        bool then = c->scene->source == KR_SCENE_PLAN && h->has_target;
        put(c, then ? h->target_um : h->at_um, cutting ? cut_mark(h, rail->role == KR_LOWER) : idle_mark(h));
        any = true;
    }
    snprintf(label, sizeof label, "%s %s", rail->name, cutting ? "cut" : "idle");
    if (any)
        print_row(c, label);
}

/* Writes at the end of the carriage's row, if the carriage and its note leave room. */
static void worst(struct canvas *c, const struct kr_scene_rail *rail, bool right)
{
    char length[40], text[80];
    uint16_t number;
    int32_t worst_um = kr_scene_worst_um(rail, &number);
    kr_length_text(worst_um, c->scene->length_unit, length, sizeof length);
    int n = snprintf(text, sizeof text, "holder %u off %s", number, length);
    int first = right ? c->n - n : 0;
    if (number != 0 && is_blank(c, right ? first - 1 : first, right ? c->n : n + 1))
        put_text(c, first, text);
}

/* Draws the carriage, and its note on the side with more room. */
static void carriage(struct canvas *c, const struct kr_scene_rail *rail)
{
    char note[KR_SCENE_NOTE_MAX];
    snprintf(note, sizeof note, "%s", rail->note);
    clear_row(c);
    int at = rail->has_carriage ? column(c, rail->carriage_um) : -2, right = c->n - at - 2, left = at - 1;
    if (rail->has_carriage)
        put(c, rail->carriage_um, KR_MARK_CARRIAGE);
    int room = right >= left ? right : left;
    if ((int)strlen(note) > room)
        note[room > 0 ? room : 0] = '\0';
    put_text(c, right >= left ? at + 2 : at - 1 - (int)strlen(note), note);
    worst(c, rail, right >= left);
    print_row(c, rail->name);
}

static void rails(struct canvas *c, enum kr_role role)
{
    for (uint16_t r = 0; r < c->scene->n_rails; r++) {
        const struct kr_scene_rail *rail = &c->scene->rail[r];
        bool now = c->scene->source == KR_SCENE_STATION;
        if (rail->role != role)
            continue;
        if (now && role == KR_UPPER)
            carriage(c, rail);
        holders(c, rail, role == KR_LOWER);
        holders(c, rail, role != KR_LOWER);
        if (now && role == KR_LOWER)
            carriage(c, rail);
    }
}

static void add_word(struct scene_fold *fold, const struct canvas *c, enum kr_scene_mark mark, const char *meaning)
{
    char word[80];
    if (!c->used[mark])
        return;
    snprintf(word, sizeof word, "%s %s", c->style.box ? marks[mark].box : marks[mark].ascii, meaning);
    scene_fold(fold, word);
}

/* Writes the meaning of the marks that occur, and the scale. */
static void legend(struct canvas *c)
{
    char scale[64], length[40];
    struct scene_fold fold = scene_fold_begin("", LABEL, c->style, c->to);
    for (size_t m = KR_MARK_TRIM; m < N_MARKS; m++)
        add_word(&fold, c, (enum kr_scene_mark)m, marks[m].meaning);
    int64_t span_nm = ((int64_t)c->scene->high_um - c->scene->low_um) * KR_NM_PER_UM;
    int64_t step_nm = c->scene->length_unit == KR_LENGTH_INCH ? KR_NM_PER_INCH / 100 : 100000;
    kr_scene_length((span_nm / (c->n - 1) + step_nm / 2) / step_nm * step_nm, c->scene->length_unit, length,
                    sizeof length);
    snprintf(scale, sizeof scale, "a column is %s %s", length, c->scene->length_unit == KR_LENGTH_INCH ? "in" : "mm");
    scene_fold(&fold, scale);
    scene_fold(&fold, "operator side left");
    scene_fold_end(&fold);
}

static bool is_unknown(const struct kr_scene_rail *rail, uint16_t i)
{
    return i < rail->n_holders && rail->holder[i].state != KR_HOLDER_ABSENT && rail->holder[i].known == KR_UNKNOWN;
}

static void fold_unknown(struct scene_fold *fold, const struct kr_scene_rail *rail)
{
    for (uint16_t i = 0; i < rail->n_holders; i++) {
        char word[48];
        uint16_t first = i;
        while (is_unknown(rail, i))
            i++;
        if (i == first)
            continue;
        snprintf(word, sizeof word, i - first > 1 ? "%s holders %d to %d" : "%s holder %d", rail->name, first + 1, i);
        scene_fold(fold, word);
    }
}

static void fold_lost(struct scene_fold *fold, const struct kr_scene_rail *rail)
{
    for (uint16_t i = 0; i < rail->n_references; i++) {
        char word[48];
        snprintf(word, sizeof word, "%s reference %u", rail->name, i + 1u);
        if (rail->reference[i].seen == KR_SCENE_NOT_FOUND)
            scene_fold(fold, word);
    }
}

void kr_scene_text_unknown(const struct kr_scene *scene, struct kr_scene_style style, struct kr_scene_lines to)
{
    struct scene_fold fold = scene_fold_begin("place unknown", LABEL, style, to);
    for (uint16_t r = 0; r < scene->n_rails; r++)
        fold_unknown(&fold, &scene->rail[r]);
    scene_fold_end(&fold);
    fold = scene_fold_begin("not found", LABEL, style, to);
    for (uint16_t r = 0; r < scene->n_rails; r++)
        fold_lost(&fold, &scene->rail[r]);
    scene_fold_end(&fold);
}

struct counted {
    struct kr_scene_lines to;
    int n;
};

static void count_line(void *arg, const char *text)
{
    struct counted *counted = arg;
    counted->n++;
    counted->to.line(counted->to.arg, text);
}

int kr_scene_text(const struct kr_scene *scene, struct kr_scene_style style, struct kr_scene_lines to)
{
    struct counted counted = {.to = to};
    struct canvas c = open_canvas(scene, style, (struct kr_scene_lines){count_line, &counted});
    ruler(&c);
    rails(&c, KR_UPPER);
    if (scene->n_cuts > 0) {
        web(&c);
        slits(&c);
    }
    rails(&c, KR_LOWER);
    kr_scene_text_unknown(scene, c.style, c.to);
    int before_legend = counted.n;
    legend(&c);
    return before_legend;
}

void kr_scene_text_before(const struct kr_scene *scene, struct kr_scene_style style, struct kr_scene_lines to)
{
    struct canvas c = open_canvas(scene, style, to);
    for (uint16_t r = 0; r < scene->n_rails; r++) {
        const struct kr_scene_rail *rail = &scene->rail[r];
        char label[KR_SCENE_NAME_MAX + 8];
        clear_row(&c);
        for (uint16_t i = 0; i < rail->n_holders; i++)
            if (is_drawn(&rail->holder[i]))
                put(&c, rail->holder[i].at_um, idle_mark(&rail->holder[i]));
        snprintf(label, sizeof label, "%s now", rail->name);
        print_row(&c, label);
    }
}
