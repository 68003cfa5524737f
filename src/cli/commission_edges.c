/* Edges: confirmed by the person who measured them, or proven by test cuts. */
#include <ctype.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commission_edit.h"
#include "commission_moves.h"
#include "lengths.h"

#define STRIPS_TEXT_MAX 2048 /* all strips of a test cut, as they are typed in */

static struct kr_edge_seen edges[KR_RAILS_MAX * KR_HOLDERS_MAX];
static struct edit_block block; /* large */
static struct kr_strip_seen strips[4 * KR_SLITS_MAX];
/* Who measured edges in this step, and with what. There is one more than there are edges, so that one is always
 * free. */
#define N_MEASURERS (KR_RAILS_MAX * KR_HOLDERS_MAX + 1)
static char measurers[N_MEASURERS][COMMISSION_LINE_MAX];

static bool fail(struct commission *c)
{
    fprintf(stderr, "kniferail commission: %s\n", c->client.error);
    c->failed = true;
    return false;
}

/* ---- how they stand -------------------------------------------------------------------------------------------- */

static bool read_rail(struct commission *c, uint16_t rail)
{
    uint16_t n = c->station->station.geometry.rail[rail].n_holders;
    if (!commission_holders(c, rail))
        return false;
    return (kr_client_row(&c->client, KR_REG_HOLDER_OFFSET, rail, n) &&
            kr_client_row(&c->client, KR_REG_HOLDER_EDGE, rail, n)) ||
           fail(c);
}

static bool is_proposed(const struct kr_image *image, uint16_t rail, uint16_t h)
{
    return kr_get_u16(image, KR_REG_PROPOSAL_RAIL, 0, 0) == rail + 1 &&
           (kr_get_u16(image, KR_REG_PROPOSED, 0, (uint16_t)(h / 16)) >> h % 16 & 1) != 0;
}

static void take_edge(const struct kr_image *image, uint16_t rail, uint16_t h, bool first, struct kr_edge_seen *e)
{
    int32_t was_um = e->was_um;
    const char *by = first ? NULL : e->by;
    *e = (struct kr_edge_seen){.rail_number = (uint16_t)(rail + 1),
                               .holder_number = (uint16_t)(h + 1),
                               .edge = kr_get_u16(image, KR_REG_HOLDER_EDGE, rail, h),
                               .offset_um = kr_get_um(image, KR_REG_HOLDER_OFFSET, rail, h),
                               .by = by,
                               .proposed = is_proposed(image, rail, h),
                               .proposed_um = kr_get_um(image, KR_REG_PROPOSED_OFFSET, 0, h)};
    e->was_um = first ? e->offset_um : was_um;
}

/* Reads the edges of all holders in service. These holders stay the same while the step lasts. */
static bool read_edges(struct commission *c, bool first, uint16_t *n)
{
    const struct kr_geometry *g = &c->station->station.geometry;
    *n = 0;
    if (!kr_client_block(&c->client, KR_BLOCK_PROPOSAL))
        return fail(c);
    for (uint16_t r = 0; r < g->n_rails; r++) {
        if (!read_rail(c, r))
            return false;
        for (uint16_t h = 0; h < g->rail[r].n_holders; h++)
            if (commission_holder_serves(c, r, h))
                take_edge(&c->client.image, r, h, first, &edges[(*n)++]);
    }
    return true;
}

static bool unproven(const struct kr_edge_seen *e)
{
    return e->edge == KR_EDGE_UNPROVEN || e->edge == KR_EDGE_STRUCK;
}

/* Prints which edges are not proven. Returns how many there are. */
static uint16_t say_unproven(uint16_t n)
{
    char text[1024] = "";
    size_t length = 0;
    uint16_t all = 0;
    for (uint16_t i = 0; i < n; i++) {
        if (!unproven(&edges[i]))
            continue;
        all++;
        if (length < sizeof text)
            length += (size_t)snprintf(text + length, sizeof text - length, " %u/%u", edges[i].rail_number,
                                       edges[i].holder_number);
    }
    if (all > 0)
        commission_say("Edges not proven:%s.", text);
    return all;
}

/* ---- a person has measured ------------------------------------------------------------------------------------- */

/* Reads "1/3", or "1/all", for which holder is 0. */
static bool read_holder(const char *text, uint16_t *rail, uint16_t *holder)
{
    char *end;
    long r = strtol(text, &end, 10);
    if (end == text || *end != '/' || r < 1 || r > KR_RAILS_MAX)
        return false;
    *rail = (uint16_t)r;
    *holder = 0;
    if (strcmp(end + 1, "all") == 0)
        return true;
    const char *number = end + 1;
    long h = strtol(number, &end, 10);
    *holder = (uint16_t)h;
    return end != number && *end == '\0' && h >= 1 && h <= KR_HOLDERS_MAX;
}

static bool request(struct commission *c, enum kr_code *code)
{
    char why[240];
    if (!commission_edit(c, &block, code, why, sizeof why))
        return false;
    if (*code != KR_OK)
        commission_say("The station refuses it: %s.", why);
    return true;
}

static void note_measured(uint16_t n, uint16_t rail, uint16_t holder, const char *by)
{
    for (uint16_t i = 0; i < n; i++)
        if (edges[i].rail_number == rail && (holder == 0 || edges[i].holder_number == holder))
            edges[i].by = by;
}

static bool is_used(uint16_t n, const char *by)
{
    for (uint16_t i = 0; i < n; i++)
        if (edges[i].by == by)
            return true;
    return false;
}

/* Returns the kept text that says the same; if there is none, keeps it in the place of one that no edge needs. */
static const char *keep_measurer(uint16_t n, const char *by)
{
    char *unused = measurers[0];
    for (size_t i = 0; i < N_MEASURERS; i++) {
        if (strcmp(measurers[i], by) == 0)
            return measurers[i];
        if (!is_used(n, measurers[i]))
            unused = measurers[i];
    }
    snprintf(unused, COMMISSION_LINE_MAX, "%s", by);
    return unused;
}

static bool confirm(struct commission *c, uint16_t n)
{
    char which[COMMISSION_LINE_MAX], how[COMMISSION_LINE_MAX], by[COMMISSION_LINE_MAX];
    uint16_t rail, holder;
    enum kr_code code = KR_OK;
    if (!commission_ask_text(c, which, "Which edge has a person measured? Type rail and holder, as 1/3, or 1/all."))
        return false;
    if (!read_holder(which, &rail, &holder)) {
        commission_say("That is no holder.");
        return true;
    }
    if (!commission_ask_text(c, how, "Where was it measured? Type bench, or place for in place with a feeler gauge."))
        return false;
    if (strcmp(how, "bench") != 0 && strcmp(how, "place") != 0)
        return true;
    if (!commission_ask_text(c, by, "Who has measured it, and with what? Type the name and the instrument."))
        return false;
    commission_edit_begin(c, &block, strcmp(how, "bench") == 0 ? KR_EDIT_BENCH : KR_EDIT_FEELER, rail, holder);
    if (!request(c, &code))
        return false;
    if (code == KR_OK)
        note_measured(n, rail, holder, keep_measurer(n, by));
    return true;
}

/* ---- a test cut ------------------------------------------------------------------------------------------------ */

/* Returns the rail whose knives slit the web. */
static uint16_t slitting_rail(const struct commission *c)
{
    const struct kr_geometry *g = &c->station->station.geometry;
    for (uint16_t r = 0; r < g->n_rails; r++)
        if (g->rail[r].role == KR_LOWER)
            return r;
    return 0;
}

static void say_knives(const struct commission *c)
{
    uint16_t rail = slitting_rail(c);
    char text[1024] = "";
    size_t length = 0;
    for (uint16_t cut = 1; cut <= KR_CUTS_MAX; cut++)
        for (uint16_t h = 0; h < c->station->station.geometry.rail[rail].n_holders; h++)
            if (kr_get_u16(&c->client.image, KR_REG_HOLDER_CUT, rail, h) == cut && length < sizeof text)
                length += (size_t)snprintf(text + length, sizeof text - length, " %u/%u", rail + 1u, h + 1u);
    commission_say("The strips lie between these knives, from the operator side:%s.", text);
}

/* Keeps the strips of the next test cut for the record, as many as there is room for, and counts the others. */
static void keep_strips(const struct commission *c, const int64_t nm[], uint16_t n, struct kr_edges_seen *seen)
{
    const struct kr_image *image = &c->client.image;
    uint16_t room = (uint16_t)(sizeof strips / sizeof strips[0]);
    for (uint16_t i = 0; i < n; i++) {
        if (seen->n_strips == room) {
            seen->n_strips_lost = (uint16_t)(seen->n_strips_lost + n - i);
            break;
        }
        strips[seen->n_strips++] = (struct kr_strip_seen){.test_cut = (uint16_t)(seen->n_test_cuts + 1),
                                                          .strip = (uint16_t)(i + 1),
                                                          .measured_um = kr_um_from_nm(nm[i]),
                                                          .cut_lines_um = kr_strip_edge_um(image, (uint16_t)(i + 1)) -
                                                                          kr_strip_edge_um(image, i)};
    }
}

/* At a station in inches a width that was meant in mm has to be seen before it counts. */
static void say_understood(const struct commission *c, const int64_t nm[], uint16_t n)
{
    if (!commission_in_inches(c))
        return;
    for (uint16_t i = 0; i < n; i++)
        if (nm[i] != 0)
            commission_say("  Strip %u: taken as %s.", i + 1u,
                           COMMISSION_SAID(c, KR_SAID_LENGTH, 3, (double)nm[i] / 1e6));
}

static bool put_strips(struct commission *c, const char *text, int64_t nm[KR_SLITS_MAX], uint16_t *n_typed)
{
    uint16_t n;
    commission_edit_begin(c, &block, KR_EDIT_TEST_CUT, 0, 0);
    if (!lengths_read("commission", "strips", text, block.format.length_unit, nm, KR_SLITS_MAX, &n))
        return false;
    say_understood(c, nm, n);
    for (uint16_t i = 0; i < n; i++)
        edit_put_length(&block, KR_REG_EDIT_WIDTH, i, nm[i]);
    *n_typed = block.n_widths = n;
    *edit_at(&block, KR_REG_EDIT_WIDTH_COUNT, 0) = n;
    return true;
}

/* Asks for the statement without which strips prove edges of the slitting rail alone. */
static bool ask_pairs(struct commission *c, bool *looked_at)
{
    *looked_at = false;
    return c->station->station.geometry.n_rails < 2 ||
           commission_ask_yes(c, looked_at,
                              "Has a person looked at each pair, with drives and air locked out: does each upper blade "
                              "stand beside its counter-knife at the side clearance, and are the cut edges clean? "
                              "Without that the strips prove only the edges of the rail that slits.");
}

/* Asks for the strips. A line that ends with a comma is followed by another one. Returns false if the person left.
 * *whole: no line was cut, and all of them have room. */
static bool ask_strips(struct commission *c, char text[STRIPS_TEXT_MAX], bool *whole)
{
    char line[COMMISSION_LINE_MAX];
    size_t n = 0;
    if (!commission_ask_text(c, line,
                             "Type the measured widths of the strips from the operator side%s, with commas between "
                             "them, 0 where one was not measured. If a line has no room for all of them, end it with a "
                             "comma, and type the others in the next line. Type none if no test cut was made.",
                             commission_in_inches(c) ? ", in inches where no unit stands behind them" : ""))
        return false;
    for (;;) {
        n += (size_t)snprintf(text + n, STRIPS_TEXT_MAX - n, "%s", line);
        *whole = !c->cut && n < STRIPS_TEXT_MAX;
        if (!*whole)
            break;
        while (n > 0 && isspace((unsigned char)text[n - 1]))
            text[--n] = '\0';
        if (n == 0 || text[n - 1] != ',')
            break;
        if (!commission_ask_text(c, line, "The line ends with a comma. Type the strips that follow."))
            return false;
    }
    if (!*whole)
        commission_say("The strips have to be typed in again, because not all of them were taken.");
    return true;
}

/* Asks for the strips until the station takes them. */
static bool enter_strips(struct commission *c, struct kr_edges_seen *seen, bool *taken)
{
    char text[STRIPS_TEXT_MAX];
    int64_t nm[KR_SLITS_MAX];
    uint16_t n = 0;
    enum kr_code code = KR_OK;
    bool looked_at, whole;
    for (*taken = false; !*taken; *taken = code == KR_OK) {
        if (!ask_strips(c, text, &whole))
            return false;
        if (whole && strcmp(text, "none") == 0)
            return true;
        code = KR_STRIP_COUNT;
        if (!whole || !put_strips(c, text, nm, &n))
            continue;
        if (!ask_pairs(c, &looked_at))
            return false;
        block.pairs_seen = looked_at;
        if (!request(c, &code))
            return false;
    }
    keep_strips(c, nm, n, seen);
    return true;
}

static void say_proposed(const struct commission *c, uint16_t n)
{
    for (uint16_t i = 0; i < n; i++)
        if (edges[i].proposed)
            commission_say("  holder %u/%u: edge offset %s, by the strips %s", edges[i].rail_number,
                           edges[i].holder_number, COMMISSION_SAID(c, KR_SAID_LENGTH, 3, edges[i].offset_um / 1000.0),
                           COMMISSION_SAID(c, KR_SAID_LENGTH, 3, edges[i].proposed_um / 1000.0));
}

/* Applies the proposed offsets. A large change has to be requested twice. */
static bool apply(struct commission *c, bool *applied)
{
    enum kr_code code = KR_OK;
    bool once_more = true;
    *applied = false;
    for (int i = 0; i < 2 && once_more && !*applied; i++) {
        commission_edit_begin(c, &block, KR_EDIT_APPLY, 0, 0);
        if (!request(c, &code))
            return false;
        *applied = code == KR_OK;
        if (!*applied && i == 0 &&
            !commission_ask_yes(c, &once_more, "Is it right all the same? It is asked once more."))
            return false;
    }
    return true;
}

static bool set_up_again(struct commission *c, struct kr_job_seen *job)
{
    struct kr_changeover_seen seen;
    if (!commission_look(c))
        return false;
    uint32_t number = (uint32_t)kr_get_i32(&c->client.image, KR_REG_ORDER_IN_FORCE, 0, 0);
    if (!commission_ask_enter(c, "The order is set up again at reduced speed. Nobody is in the zone. Press Enter.") ||
        !commission_changeover(c, number, false, &seen))
        return false;
    *job = seen.job;
    return commission_stop(c);
}

static bool offer_to_apply(struct commission *c, uint16_t n, struct kr_job_seen *job)
{
    bool yes = false, applied;
    uint16_t n_proposed = 0;
    for (uint16_t i = 0; i < n; i++)
        n_proposed = (uint16_t)(n_proposed + (edges[i].proposed && unproven(&edges[i])));
    if (n_proposed == 0)
        return true; /* the strips prove the edges whose offsets they propose to change only a little */
    say_proposed(c, n);
    if (!commission_ask_yes(c, &yes,
                            "Strips are out of tolerance. Are these edge offsets to be set (as kniferail set apply "
                            "does), and the order set up again?"))
        return false;
    if (!yes)
        return true;
    return apply(c, &applied) && (!applied || set_up_again(c, job));
}

static bool test_cut(struct commission *c, struct kr_edges_seen *seen)
{
    enum kr_code code;
    bool taken;
    commission_edit_begin(c, &block, KR_EDIT_TRIAL, 1, 0);
    if (!request(c, &code))
        return false;
    if (code != KR_OK)
        return true;
    if (!kr_client_block(&c->client, KR_BLOCK_CUTS))
        return fail(c);
    say_knives(c);
    commission_say(
        "The knives that cut may be lowered for a test cut: the PLC sees it in LINE, the bits MAY_LOWER and "
        "TEST_CUT. Before they are lowered, lock out and tag out drives and air, and look whether each upper "
        "blade stands beside its counter-knife at the side clearance: strips do not show that. Nobody is in "
        "the zone while the test cut runs. Take the strips once the line stands.");
    if (!enter_strips(c, seen, &taken) || !taken)
        return !c->left && !c->failed;
    seen->n_test_cuts++;
    return read_edges(c, false, &seen->n) && offer_to_apply(c, seen->n, &seen->job);
}

/* ---- the step -------------------------------------------------------------------------------------------------- */

static bool another_order(struct commission *c, struct kr_job_seen *job)
{
    struct kr_changeover_seen seen;
    uint32_t number, seed = (uint32_t)commission_now_ms();
    if (!commission_ask_enter(c,
                              "Another random order is set up at reduced speed. Nobody is in the zone. Press Enter.") ||
        !commission_stage_random(c, &seed, &number) || !commission_changeover(c, number, false, &seen))
        return false;
    *job = seen.job;
    return commission_stop(c);
}

/* Does one task of the step. Returns false if the person left, or the station does not answer. *done: the step can be
 * judged. */
static bool do_one(struct commission *c, struct kr_edges_seen *seen, bool *done)
{
    char answer[COMMISSION_LINE_MAX];
    if (!commission_ask_text(c, answer,
                             "Type measured to confirm edges that a person has measured, cut for a test cut of the "
                             "order that is set up, order to set up another one, or done."))
        return false;
    if (strcmp(answer, "measured") == 0)
        return confirm(c, seen->n);
    if (strcmp(answer, "cut") == 0)
        return test_cut(c, seen);
    if (strcmp(answer, "order") == 0)
        return another_order(c, &seen->job);
    *done = strcmp(answer, "done") == 0;
    return true;
}

bool commission_walk_EDGES(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    const struct kr_station_config *station = &c->station->station;
    struct kr_edges_seen seen = {.n_rails = station->geometry.n_rails,
                                 .edge = edges,
                                 .strip = strips,
                                 .tolerance_um = station->geometry.tolerance_um};
    bool done = false;
    (void)rail;
    if (!read_edges(c, true, &seen.n))
        return false;
    seen.job.complete = true;
    if (say_unproven(seen.n) > 0 && !commission_need_order(c, &seen.job))
        return false;
    while (seen.job.complete && !done) {
        if (!read_edges(c, false, &seen.n))
            return false;
        if (say_unproven(seen.n) == 0)
            break;
        if (!do_one(c, &seen, &done))
            return false;
    }
    if (!read_edges(c, false, &seen.n))
        return false;
    kr_judge_edges(&seen, verdict);
    return true;
}
