/* The first two steps: the cautions, and the sheet of what the safety system has to provide. The program neither
 * provides nor verifies any of it. It asks, and keeps who answered what. The texts are in texts/. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

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

#define N_LOADS 4
static const char *const loads[N_LOADS] = {"empty", "dragging a holder", "empty, at setup speed",
                                           "dragging a holder, at setup speed"};

static struct kr_speed speed_of(const struct kr_config_station *s, uint16_t r, size_t load)
{
    const struct kr_rail_geometry *g = &s->station.geometry.rail[r];
    return kr_setup_speed(&s->station.carriage[r], load % 2 == 0 ? g->empty : g->drag, load >= 2);
}

#define INCHES_TEXT 32

/* The head of the table names m. At a station in inches a cell has inches, too, in brackets; else the text is empty. */
static const char *inches_text(const struct kr_config_station *s, double m, const char *unit, char text[INCHES_TEXT])
{
    text[0] = '\0';
    if (s->station.format.length_unit == KR_LENGTH_INCH)
        snprintf(text, INCHES_TEXT, " [%.1f %s]", 1e9 * m / KR_NM_PER_INCH, unit);
    return text;
}

static const char *way_text(const struct kr_config_station *s, double mm, char text[KR_SAID_MAX])
{
    return kr_said(s->station.format.length_unit, KR_SAID_CELL, 0, mm, text);
}

/* Writes time and way from a speed to standstill, once the ramp has begun. */
static void put_stop(FILE *to, const struct kr_config_station *s, uint16_t r)
{
    for (size_t i = 0; i < N_LOADS; i++) {
        struct kr_speed speed = speed_of(s, r, i);
        double v = speed.v_um_per_s / 1e6, a = speed.a_um_per_s2 / 1e6;
        char speed_in[INCHES_TEXT], ramp_in[INCHES_TEXT], way[KR_SAID_MAX];
        fprintf(to, "| %u, %s | %.3f%s | %.2f%s | %.0f | %s | | |\n", r + 1u, loads[i], v,
                inches_text(s, v, "in/s", speed_in), a, inches_text(s, a, "in/s2", ramp_in), 1e3 * v / a,
                way_text(s, 1e3 * v * v / (2 * a), way));
    }
}

static void put_silence(FILE *to, const struct kr_config_station *s, uint16_t r)
{
    int32_t watchdog_ms = s->drive[r].watchdog_ms;
    for (size_t i = 0; i < N_LOADS; i++) {
        struct kr_speed speed = speed_of(s, r, i);
        char speed_in[INCHES_TEXT], way[KR_SAID_MAX];
        double v = speed.v_um_per_s / 1e6;
        fprintf(to, "| %u, %s | %.3f%s | ", r + 1u, loads[i], v, inches_text(s, v, "in/s", speed_in));
        if (watchdog_ms > 0)
            fprintf(to, "%d | %s", watchdog_ms, way_text(s, kr_silence_way_um(speed, watchdog_ms) / 1e3, way));
        else
            fprintf(to, "watchdog_ms does not give it | not known");
        fprintf(to, " | | %d |\n", s->drive[r].link.lost_ms);
    }
}

static void put_names(FILE *to, const char *motion, uint16_t mask)
{
    static const char *const names[] = {
#define X(name, bit, text) [(bit)] = (text),
        KR_PERMISSIVES(X)
#undef X
    };
    const char *between = "";
    fprintf(to, "| %s | ", motion);
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (mask >> i & 1) {
            fprintf(to, "%s%s", between, names[i]);
            between = "; ";
        }
    fprintf(to, "%s |\n", mask == 0 ? "none" : "");
}

static void put_permissives(FILE *to, const struct kr_station_config *s)
{
    put_names(to, "a carriage scans or travels alone", s->need_scan);
    put_names(to, "holders are moved", s->need_drag);
    put_names(to, "carriages are homed", s->need_home);
    put_names(to, "a carriage is jogged or an output is tried, besides the hold-to-run device", s->need_jog);
    put_names(to, "these come from inputs of the drives", s->drive_inputs);
    put_names(to, "while one of these is missing, hands may move holders", s->access);
}

static void put_statements(FILE *to, const struct kr_station_config *s)
{
    fputs(s->setup_mode_enforced ? "- permissives.setup_mode: the safety system enforces the mode of a jog (selector, "
                                   "enabling device, limited speed).\n"
                                 : "- permissives.setup_mode: nobody bounds a jog with open guards, so that the guards "
                                   "have to be closed.\n",
          to);
    fputs(s->brakes_hold ? "- permissives.unpowered: brakes and clamps hold the holders without power.\n"
                         : "- permissives.unpowered: holders may move while a drive has no power or no link.\n",
          to);
}

struct sheet {
    const struct commission *c;
    char path[KR_CONFIG_PATH_MAX + 16];
    char when[32];   /* when it was printed, in the time of this computer's zone, as the signatures are */
    char content[9]; /* digest of all that follows its head */
};

static void put_value(FILE *to, const char *name, const void *data)
{
    const struct sheet *sheet = data;
    const struct commission *c = sheet->c;
    const struct kr_config_station *s = c->station;
    if (strcmp(name, "STATION") == 0) {
        fputs(s->station.name, to);
    } else if (strcmp(name, "WHEN") == 0) {
        fputs(sheet->when, to);
    } else if (strcmp(name, "CONTENT") == 0) {
        fputs(sheet->content, to);
    } else if (strcmp(name, "FILE") == 0) {
        fputs(c->config.path, to);
    } else if (strcmp(name, "DIGEST") == 0) {
        fprintf(to, "%08X", (unsigned)c->config.digest);
    } else if (strcmp(name, "STOPS") == 0) {
        for (uint16_t r = 0; r < s->station.geometry.n_rails; r++)
            put_stop(to, s, r);
    } else if (strcmp(name, "SILENCE") == 0) {
        for (uint16_t r = 0; r < s->station.geometry.n_rails; r++)
            put_silence(to, s, r);
    } else if (strcmp(name, "PERMISSIVES") == 0) {
        put_permissives(to, &s->station);
    } else if (strcmp(name, "STATEMENTS") == 0) {
        put_statements(to, &s->station);
    }
}

/* Returns the text, which the caller frees; NULL: there is no memory. */
static char *sheet_text(const struct sheet *sheet)
{
    char *text = NULL;
    size_t size = 0;
    FILE *to = open_memstream(&text, &size);
    if (to == NULL)
        return NULL;
    text_fill(to, kr_safety_sheet, put_value, sheet);
    if (fclose(to) == 0)
        return text;
    free(text);
    return NULL;
}

/* FNV-1a over all that follows the head, which has the day and the name of the file. */
static void digest_of(const char *text, char digest[9])
{
    uint32_t hash = 2166136261u;
    const char *at = strstr(text, "\n## ");
    for (; at != NULL && *at != '\0'; at++)
        hash = (hash ^ (unsigned char)*at) * 16777619u;
    snprintf(digest, 9, "%08X", (unsigned)hash);
}

/* A sheet that says the same may have been filled in or signed: it is kept, with its date. */
static bool is_kept(struct sheet *sheet)
{
    char head[2 * KR_CONFIG_PATH_MAX], mark[40];
    const char *printed = NULL;
    FILE *from = fopen(sheet->path, "r");
    if (from == NULL)
        return false;
    head[fread(head, 1, sizeof head - 1, from)] = '\0';
    fclose(from);
    snprintf(mark, sizeof mark, "has the digest %s.", sheet->content);
    if (strstr(head, mark) != NULL && (printed = strstr(head, "was printed ")) != NULL)
        snprintf(sheet->when, sizeof sheet->when, "%.16s", printed + strlen("was printed "));
    return printed != NULL;
}

/* Writes the sheet, unless it stands there. printed is the day on which it was printed. */
static bool write_sheet(const struct commission *c, char printed[11])
{
    struct sheet sheet = {.c = c};
    struct tm here;
    time_t now = time(NULL);
    snprintf(sheet.path, sizeof sheet.path, "%s-safety.md", c->stem);
    strftime(sheet.when, sizeof sheet.when, "%Y-%m-%d %H:%M (%z)", localtime_r(&now, &here));
    char *text = sheet_text(&sheet);
    if (text == NULL)
        return false;
    digest_of(text, sheet.content);
    free(text);
    bool kept = is_kept(&sheet);
    text = kept ? NULL : sheet_text(&sheet);
    bool whole = kept || (text != NULL && commission_write_file(sheet.path, text));
    free(text);
    snprintf(printed, 11, "%.10s", sheet.when);
    if (kept)
        commission_say("The sheet in %s, printed on %s, says what the station file says, and is kept.", sheet.path,
                       printed);
    else if (whole)
        commission_say("The sheet is in %s. Print it, and have it filled in and signed.", sheet.path);
    return whole;
}

/* ---- what was answered ----------------------------------------------------------------------------------------- */

static bool ask_each(struct commission *c, struct kr_step_verdict *verdict)
{
    static const struct {
        const char *what, *ask;
    } row[] = {
        /* one for each row of the sheet */
        {"safe torque off", "Was it shown by a trial that emergency stop and guards take the torque off every drive?"},
        {"guard locking", "Was it shown by a trial that the guards stay locked until every carriage stands?"},
        {"knives standing still",
         "Was it shown by a trial that the knives stand still, or cannot be reached, before a guard can be "
         "opened?"},
        {"reduced speed with an open guard",
         "Was it shown by a trial that speed is reduced, and motion held to run, while a guard "
         "is open? Type yes, too, if nothing can move while a guard is open."},
        {"isolation",
         "Was it shown by a trial that power and air can be isolated and locked out, and that trapped air is let out?"},
        {"no start by itself", "Was it shown by a trial that nothing starts by itself when power or air return?"},
        {"blades raised, line held",
         "Was it shown by a trial that the blades are raised, and the line is kept from starting, while "
         "a carriage may move?"}};
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

static bool ask_signed_on(struct commission *c, char day[11])
{
    char answer[COMMISSION_LINE_MAX];
    do {
        if (!commission_ask_text(c, answer, "When was it signed? Type the last date on it, as YYYY-MM-DD."))
            return false;
    } while (!kr_is_date(answer));
    snprintf(day, 11, "%.10s", answer);
    return true;
}

static bool ask_signatures(struct commission *c, const char printed[11], struct kr_step_verdict *verdict)
{
    struct kr_sheet_seen seen = {.is_signed = false};
    struct tm here;
    time_t now = time(NULL);
    snprintf(seen.printed, sizeof seen.printed, "%s", printed);
    strftime(seen.today, sizeof seen.today, "%Y-%m-%d", localtime_r(&now, &here));
    if (!commission_ask_yes(
            c, &seen.is_signed,
            "Is each row of the sheet filled in, and is the sheet signed by people who are qualified for "
            "it?"))
        return false;
    if (seen.is_signed &&
        (!ask_text(c, verdict, "sheet signed by", "Who signed the sheet, and as what? Type the names.") ||
         !ask_signed_on(c, seen.signed_on)))
        return false;
    kr_judge_sheet(&seen, verdict);
    return true;
}

bool commission_walk_SAFETY(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    char printed[11];
    (void)rail;
    if (!write_sheet(c, printed)) {
        c->failed = true;
        return false;
    }
    return ask_each(c, verdict) &&
           ask_text(c, verdict, "pin, when the air is let out", "The air is let out: what does the pin do?") &&
           ask_text(c, verdict, "brake and clamp, when the air is let out",
                    "The air is let out: what do the brakes and the clamp do?") &&
           ask_signatures(c, printed, verdict);
}
