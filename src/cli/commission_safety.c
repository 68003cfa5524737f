/* The first two steps: the cautions, and the sheet of what the safety system has to provide. The program neither
 * provides nor verifies any of it. It asks, and keeps who answered what. The texts are in texts/. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commission.h"
#include "kniferail/caution.h"
#include "text_fill.h"
#include "texts.h"

/* ---- cautions -------------------------------------------------------------------------------------------------- */

#define CAUTION_MAX 1000

/* Copies a paragraph as one line. Returns the text behind it, or NULL if text is at its end. */
static const char *take_paragraph(const char *text, char out[CAUTION_MAX])
{
    size_t n = 0;
    if (*text == '\0')
        return NULL;
    for (; *text != '\0' && !(text[0] == '\n' && (text[1] == '\n' || text[1] == '\0')); text++) {
        char c = *text;
        if (c == '\n')
            c = ' ';
        if (n + 1 < CAUTION_MAX)
            out[n++] = c;
    }
    out[n] = '\0';
    return text + strspn(text, "\n");
}

/* Asks about each paragraph of texts/cautions.txt. */
static bool ask_cautions(struct commission *c, struct kr_step_verdict *verdict)
{
    char caution[CAUTION_MAX];
    const char *rest = kr_cautions;
    for (unsigned number = 1; (rest = take_paragraph(rest, caution)) != NULL; number++) {
        bool yes;
        if (!commission_ask_yes(c, &yes, "%u. %s Is this understood by everybody who takes part, and done so?", number,
                                caution))
            return false;
        if (!yes)
            kr_finding_add(verdict, "", "make it so before anything is tried",
                           "Caution %u is not understood by everybody, or not done.", number);
    }
    return true;
}

bool commission_walk_CAUTIONS(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    char name[COMMISSION_LINE_MAX];
    (void)rail;
    printf("%s\n", kr_caution_hands);
    if (!ask_cautions(c, verdict))
        return false;
    if (!commission_ask_text(c, name, "Who takes part? Type the names."))
        return false;
    kr_figure_add(verdict, "takes part", "%s", name);
    if (!commission_ask_text(c, name, "Who is responsible for isolation and lockout? Type the name."))
        return false;
    kr_figure_add(verdict, "responsible for isolation and lockout", "%s", name);
    return true;
}

/* ---- the sheet ------------------------------------------------------------------------------------------------- */

/* Writes time and way from full speed to standstill, once the ramp has begun. */
static void put_stop(FILE *to, const struct kr_config_station *s, uint16_t r)
{
    const struct kr_rail_geometry *g = &s->station.geometry.rail[r];
    const struct kr_speed speed[] = {g->empty, g->drag};
    static const char *const load[] = {"empty", "dragging a holder"};
    for (size_t i = 0; i < 2; i++) {
        double v = speed[i].v_um_per_s / 1e6, a = speed[i].a_um_per_s2 / 1e6;
        fprintf(to, "| %u, %s | %.3f | %.2f | %.0f | %.0f | %d | | |\n", r + 1u, load[i], v, a, 1e3 * v / a,
                1e3 * v * v / (2 * a), s->drive[r].link.lost_ms);
    }
}

static void put_names(FILE *to, uint16_t mask)
{
    static const char *const names[] = {
#define X(name, bit, text) [(bit)] = (text),
        KR_PERMISSIVES(X)
#undef X
    };
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (mask >> i & 1)
            fprintf(to, "- %s\n", names[i]);
}

static void put_value(FILE *to, const char *name, const void *data)
{
    const struct commission *c = data;
    const struct kr_config_station *s = c->station;
    char when[32];
    if (strcmp(name, "STATION") == 0) {
        fputs(s->station.name, to);
    } else if (strcmp(name, "WHEN") == 0) {
        commission_time_text(when);
        fputs(when, to);
    } else if (strcmp(name, "FILE") == 0) {
        fputs(c->config.path, to);
    } else if (strcmp(name, "DIGEST") == 0) {
        fprintf(to, "%08X", (unsigned)c->config.digest);
    } else if (strcmp(name, "STOPS") == 0) {
        for (uint16_t r = 0; r < s->station.geometry.n_rails; r++)
            put_stop(to, s, r);
    } else if (strcmp(name, "PERMISSIVES") == 0) {
        put_names(to, s->station.need_drag);
    }
}

static bool write_sheet(const struct commission *c)
{
    char path[KR_CONFIG_PATH_MAX + 16], *text = NULL;
    size_t size = 0;
    FILE *to = open_memstream(&text, &size);
    if (to == NULL)
        return false;
    text_fill(to, kr_safety_sheet, put_value, c);
    bool whole = fclose(to) == 0;
    snprintf(path, sizeof path, "%s-safety.md", c->stem);
    whole = whole && commission_write_file(path, text);
    free(text);
    if (whole)
        commission_say("The sheet is in %s. Print it, and have it filled in and signed.", path);
    return whole;
}

/* ---- what was answered ----------------------------------------------------------------------------------------- */

static bool ask_each(struct commission *c, struct kr_step_verdict *verdict)
{
    static const struct {
        const char *what, *ask;
    } row[] = {
        {"safe torque off", "Was it tried that emergency stop and guards take the torque off every drive?"},
        {"guard locking", "Was it tried that the guards stay locked until every carriage stands?"},
        {"isolation", "Was it tried that power and air can be isolated, locked, and that trapped air is let out?"},
        {"no start by itself", "Was it tried that nothing starts by itself when power or air return?"}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        bool yes;
        if (!commission_ask_yes(c, &yes, "%s", row[i].ask))
            return false;
        if (yes)
            kr_figure_add(verdict, row[i].what, "tried, by the word of those who sign the sheet");
        else
            kr_finding_add(verdict, "", "let those who are qualified provide it and try it, and sign the sheet",
                           "Nobody has tried this yet: %s.", row[i].what);
    }
    return true;
}

static bool ask_text(struct commission *c, struct kr_step_verdict *verdict, const char *name, const char *question)
{
    char answer[COMMISSION_LINE_MAX];
    if (!commission_ask_text(c, answer, "%s", question))
        return false;
    kr_figure_add(verdict, name, "%s", answer);
    return true;
}

bool commission_walk_SAFETY(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    (void)rail;
    if (!write_sheet(c)) {
        c->failed = true;
        return false;
    }
    return ask_each(c, verdict) &&
           ask_text(c, verdict, "pin, when the air is let out", "The air is let out: what does the pin do?") &&
           ask_text(c, verdict, "brake and clamp, when the air is let out",
                    "The air is let out: what do the brakes and the clamp do?") &&
           ask_text(c, verdict, "sheet signed by", "Who signed the sheet, and as what? Type the names.") &&
           ask_text(c, verdict, "sheet signed on", "When was it signed? Type the date.");
}
