/* The distances of a shear's blades from their counter-knives, which a person measures on an order that is set up. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commission_moves.h"

#define NO_HOLDER UINT16_MAX

static struct kr_clearance_seen seen; /* large */

/* Returns the number, from 1, of the holder that makes a cut on a rail. */
static uint16_t holder_of_cut(const struct commission *c, uint16_t rail, uint16_t cut)
{
    for (uint16_t h = 0; h < c->station->station.geometry.rail[rail].n_holders; h++)
        if (kr_get_u16(&c->client.image, KR_REG_HOLDER_CUT, rail, h) == cut)
            return h;
    return NO_HOLDER;
}

static bool read_rail(struct commission *c, uint16_t rail)
{
    if (!commission_holders(c, rail))
        return false;
    if (kr_client_row(&c->client, KR_REG_HOLDER_OFFSET, rail, c->station->station.geometry.rail[rail].n_holders))
        return true;
    fprintf(stderr, "kniferail commission: %s\n", c->client.error);
    c->failed = true;
    return false;
}

static bool ask_hand(struct commission *c, uint16_t rail, int8_t *hand)
{
    char answer[COMMISSION_LINE_MAX];
    for (*hand = 0; *hand == 0;) {
        if (!commission_ask_text(c, answer,
                                 "Rail %u: on which side of its counter-knife does a blade have to stand, so that its "
                                 "side stroke leads it there? Look how the blades are mounted. Type drive or operator.",
                                 rail + 1u))
            return false;
        *hand = (int8_t)(strcmp(answer, "drive") == 0 ? 1 : strcmp(answer, "operator") == 0 ? -1 : 0);
    }
    return true;
}

static bool ask_blades(struct commission *c, uint16_t rail)
{
    return ask_hand(c, rail, &seen.hand) &&
           commission_ask_um(c, &seen.seen_stroke_um,
                             "How far does the side stroke lead a blade, by its drawing or measured at the bench? 0 if "
                             "nobody knows.") &&
           commission_ask_um(c, &seen.seen_run_out_um,
                             "By how much does the worst blade run out to the side in a turn, turned by hand? 0 if "
                             "nobody measured it.") &&
           commission_ask_um(c, &seen.uncertain_um, "How far may a reading of the clearance be off?");
}

static bool ask_pair(struct commission *c, uint16_t cut, uint16_t upper, uint16_t lower)
{
    bool measured;
    struct kr_pair_seen *pair = &seen.pair[seen.n_pairs];
    uint16_t upper_rail = (uint16_t)(seen.rail_number - 1), lower_rail = (uint16_t)(seen.lower_number - 1);
    *pair =
        (struct kr_pair_seen){.cut = cut,
                              .upper_number = (uint16_t)(upper + 1),
                              .lower_number = (uint16_t)(lower + 1),
                              .upper_offset_um = kr_get_um(&c->client.image, KR_REG_HOLDER_OFFSET, upper_rail, upper),
                              .lower_offset_um = kr_get_um(&c->client.image, KR_REG_HOLDER_OFFSET, lower_rail, lower)};
    if (!commission_ask_yes(c, &measured, "Cut %u, the blade of holder %u/%u and counter-knife %u/%u: was it measured?",
                            cut, seen.rail_number, pair->upper_number, seen.lower_number, pair->lower_number) ||
        (measured && !commission_ask_um(c, &pair->gap_um,
                                        "How far does the blade stand beside it? With a minus, if it stands on the "
                                        "operator side of the counter-knife.")))
        return false;
    seen.n_pairs = (uint16_t)(seen.n_pairs + measured);
    if (!measured)
        seen.unmeasured.number[seen.unmeasured.n++] = cut;
    return true;
}

static bool ask_pairs(struct commission *c)
{
    for (uint16_t cut = 1; cut <= KR_CUTS_MAX; cut++) {
        uint16_t upper = holder_of_cut(c, (uint16_t)(seen.rail_number - 1), cut);
        uint16_t lower = holder_of_cut(c, (uint16_t)(seen.lower_number - 1), cut);
        if (upper != NO_HOLDER && lower != NO_HOLDER && !ask_pair(c, cut, upper, lower))
            return false;
    }
    return true;
}

static bool walk_rail(struct commission *c, uint16_t rail, uint16_t lower, struct kr_step_verdict *verdict)
{
    const struct kr_station_config *station = &c->station->station;
    memset(&seen, 0, sizeof seen);
    seen.rail_number = (uint16_t)(rail + 1);
    seen.lower_number = (uint16_t)(lower + 1);
    seen.told_um = station->geometry.rail[rail].cut_side_um;
    seen.window_um = station->pair_window_um;
    seen.stroke_um = c->station->blade[rail].side_stroke_um;
    seen.run_out_um = c->station->blade[rail].run_out_um;
    if (!read_rail(c, rail) || !read_rail(c, lower) || !ask_blades(c, rail) || !ask_pairs(c))
        return false;
    seen.seen_stroke_um = abs(seen.seen_stroke_um);
    seen.seen_run_out_um = abs(seen.seen_run_out_um);
    seen.uncertain_um = abs(seen.uncertain_um);
    kr_judge_clearance(&seen, verdict);
    return true;
}

/* Returns the first lower rail; NO_HOLDER: there is none. */
static uint16_t lower_rail(const struct commission *c)
{
    const struct kr_geometry *g = &c->station->station.geometry;
    for (uint16_t r = 0; r < g->n_rails; r++)
        if (g->rail[r].role == KR_LOWER)
            return r;
    return NO_HOLDER;
}

#define TAKE_OUT \
    "Take tools, gauges and covers out of the machine, close the guards, and see that nobody " \
    "is in the zone; only then give drives and air back."

static bool is_locked_out(struct commission *c, bool *yes)
{
    return commission_ask_yes(c, yes,
                              "Are the drives, the knife drives and the air locked out, was it checked that all are "
                              "gone, and do the knives stand, raised?");
}

bool commission_walk_CLEARANCE(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    const struct kr_geometry *g = &c->station->station.geometry;
    uint16_t lower = lower_rail(c);
    struct kr_job_seen job;
    bool yes;
    (void)rail;
    if (c->station->cut != KR_CUT_SHEAR || lower == NO_HOLDER) {
        kr_figure_add(verdict, "blades", "they have no counter-knives");
        return true;
    }
    if (!commission_need_order(c, &job))
        return false;
    if (!job.complete) {
        kr_finding_add(verdict, "", "mend what the alarm names, then let the step be made again",
                       "An order was not set up. %s", job.alarm);
        return true;
    }
    if (!is_locked_out(c, &yes))
        return false;
    if (!yes)
        kr_finding_add(verdict, "", "lock out and tag out all of them first", "Drives or air are not locked out.");
    for (uint16_t r = 0; yes && r < g->n_rails; r++)
        if (g->rail[r].role == KR_UPPER && !walk_rail(c, r, lower, verdict)) {
            commission_say(TAKE_OUT); /* nobody answers any more */
            return false;
        }
    return !yes || commission_ask_enter(c, TAKE_OUT " Press Enter when it is so.");
}
