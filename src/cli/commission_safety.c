/* The first two steps: the cautions, and the sheet of what the safety system has to provide. The program neither
 * provides nor verifies any of it. It asks, and keeps who answered what. */
#include <stdio.h>
#include <stdlib.h>

#include "commission.h"
#include "kniferail/caution.h"

/* ---- cautions -------------------------------------------------------------------------------------------------- */

/* The cautions that everybody has to have heard. */
static const char *const points[] = {
    "Isolation. Before anybody reaches in, the power of the drives and the compressed air are locked out and tagged "
    "out, each person with a lock of their own, and somebody checks that both are gone: the drive does not start, and "
    "the gauge shows no pressure. Air that is trapped in a cylinder moves a pin after the lock is on, so that it is "
    "let out, too.",
    "A pin, a brake or a clamp is tried under air by one person, who holds the hold-to-run device with both hands away "
    "from the carriage and sees all of it. Nobody else is in the zone. Air is locked out again before a hand comes "
    "near.",
    "Knives. Blades are covered or taken out as long as hands work beside them. Cut-resistant gloves are worn.",
    "Who may do it. Only people who are trained on this machine and named by its operator take part; work on drives, "
    "air and the safety system is done by people who are qualified or licensed for it under the codes that apply where "
    "the machine stands. Local codes and the machine's own risk assessment take precedence over anything that this "
    "program says.",
    ("Motion. Nobody is in the zone while motion is enabled. First moves are made at reduced speed, with a hand at the "
     "emergency stop. This program's Stop, and its hold-to-run, are no emergency stop.")};

bool commission_walk_CAUTIONS(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    char name[COMMISSION_LINE_MAX];
    (void)rail;
    printf("%s\n", kr_caution_hands);
    for (size_t i = 0; i < sizeof points / sizeof points[0]; i++) {
        bool yes;
        if (!commission_ask_yes(c, &yes, "%zu. %s Is this understood by everybody who takes part, and done so?", i + 1,
                                points[i]))
            return false;
        if (!yes)
            kr_finding_add(verdict, "", "make it so before anything is tried",
                           "Caution %zu is not understood by everybody, or not done.", i + 1);
    }
    if (!commission_ask_text(c, name, "Who takes part? Type the names."))
        return false;
    kr_figure_add(verdict, "takes part", "%s", name);
    if (!commission_ask_text(c, name, "Who is responsible for isolation and lockout? Type the name."))
        return false;
    kr_figure_add(verdict, "responsible for isolation and lockout", "%s", name);
    return true;
}

/* ---- the sheet ------------------------------------------------------------------------------------------------- */

/* Prints time and way from full speed to standstill, once the ramp has begun. */
static void put_stops(FILE *to, const struct kr_config_station *s, uint16_t r)
{
    const struct kr_rail_geometry *g = &s->station.geometry.rail[r];
    const struct kr_speed speed[] = {g->empty, g->drag};
    static const char *const what[] = {"empty", "dragging a holder"};
    for (size_t i = 0; i < 2; i++) {
        double v = speed[i].v_um_per_s / 1e6, a = speed[i].a_um_per_s2 / 1e6;
        fprintf(to, "| %u, %s | %.3f | %.2f | %.0f | %.0f | %d | | |\n", r + 1u, what[i], v, a, 1e3 * v / a,
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

static void put_functions(FILE *to)
{
    static const char *const rows[] = {
        "Safe torque off of each drive, by emergency stop and by guards (IEC 61800-5-2 has the function)",
        "Guard locking: the guards stay locked until every carriage stands, whatever this program says",
        "Reduced speed and hold-to-run while a guard is open, if anybody works in this way",
        "Isolation of the drives' power, lockable",
        "Isolation of the compressed air, lockable, that lets trapped air out",
        "Air is let out: what the pin does then (stays, falls out, is driven by a spring)",
        "Air is let out: what the brake of a holder and a common clamp do then",
        "Power returns: nothing starts by itself",
        "Blades are raised and the line is kept from starting while a carriage may move"};
    fprintf(to, "| what the safety system has to provide | by what | category, PL or SIL, by which code | tried on | "
                "seen | signature |\n| --- | --- | --- | --- | --- | --- |\n");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        fprintf(to, "| %s | | | | | |\n", rows[i]);
}

static void put_sheet(FILE *to, const struct commission *c)
{
    const struct kr_config_station *s = c->station;
    char when[32];
    commission_time_text(when);
    fprintf(to, "# Safety interface of station %s\n\nPrinted %s from the station file %s, digest %08X.\n\n",
            s->station.name, when, c->config.path, (unsigned)c->config.digest);
    fprintf(to, "The gateway sequences motion. It is no safety function, and it neither provides nor verifies anything "
                "on this sheet. The sheet is filled in and signed by those who are qualified for the machine's safety "
                "system, under the codes that apply where the machine stands.\n\n## What has to be provided\n\n");
    put_functions(to);
    fprintf(to,
            "\n## What the carriages can do\n\n"
            "These values are calculated from the station file; the values that are measured at the machine count. "
            "Silence is the time for which the gateway waits for a drive before the drive counts as lost; the drive's "
            "own watchdog has to stop the carriage sooner.\n\n"
            "| rail | speed, m/s | ramp, m/s2 | time to stand, ms | way to stand, mm | silence, ms | measured time, ms "
            "| measured way, mm |\n"
            "| --- | --- | --- | --- | --- | --- | --- | --- |\n");
    for (uint16_t r = 0; r < s->station.geometry.n_rails; r++)
        put_stops(to, s, r);
    fprintf(to, "\n## What the gateway asks for before it drags a holder\n\nThese permissives keep a healthy machine "
                "orderly. They come from the PLC or from drive inputs, and replace nothing above.\n\n");
    put_names(to, s->station.need_drag);
    fprintf(to, "\n## Signed\n\n| as | name | qualified by | date | signature |\n| --- | --- | --- | --- | --- |\n"
                "| safety system | | | | |\n| drives and electrical isolation | | | | |\n| compressed air | | | | |\n");
}

static bool write_sheet(const struct commission *c)
{
    char path[KR_CONFIG_PATH_MAX + 16], *text = NULL;
    size_t size = 0;
    FILE *to = open_memstream(&text, &size);
    if (to == NULL)
        return false;
    put_sheet(to, c);
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
                           "Not tried: %s.", row[i].what);
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
