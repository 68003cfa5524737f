/* One holder, then a whole changeover at reduced speed and one at production speed. */
#include <stdio.h>
#include <stdlib.h>

#include "commission_moves.h"

#define WAY_UM 30000 /* the way that a holder is moved first; it is less where there is no room */

/* Scans the rail, and takes the places of all holders. */
static bool scan(struct commission *c, uint16_t rail, int32_t place_um[], struct kr_job_seen *seen)
{
    const struct commission_job job = {.job = KR_JOB_SCAN, .rail_number = (uint16_t)(rail + 1)};
    if (!commission_job_run(c, &job, seen) || !commission_holders(c, rail))
        return false;
    for (uint16_t h = 0; h < c->station->station.geometry.rail[rail].n_holders; h++)
        place_um[h] = commission_holder_um(c, rail, h);
    return true;
}

/* Returns the holder in service that has most room, and its target. */
static uint16_t roomiest(const struct commission *c, uint16_t rail, int32_t *to_um)
{
    uint16_t best = KR_HOLDERS_MAX;
    int32_t most_um = 0;
    for (uint16_t h = 0; h < c->station->station.geometry.rail[rail].n_holders; h++) {
        if (!commission_holder_serves(c, rail, h))
            continue;
        int32_t room_um = commission_room_um(c, rail, h, WAY_UM);
        int32_t way_um = abs(room_um - commission_holder_um(c, rail, h));
        if (way_um > most_um) {
            best = h;
            most_um = way_um;
            *to_um = room_um;
        }
    }
    return best;
}

static void compare(const struct commission *c, uint16_t rail, const int32_t before_um[], const int32_t after_um[],
                    struct kr_holder_seen *seen)
{
    seen->scanned_um = after_um[seen->holder_number - 1];
    for (uint16_t h = 0; h < c->station->station.geometry.rail[rail].n_holders; h++) {
        if (h + 1 == seen->holder_number || abs(after_um[h] - before_um[h]) <= seen->tolerance_um)
            continue;
        seen->other_number = seen->n_others == 0 ? (uint16_t)(h + 1) : seen->other_number;
        seen->n_others++;
    }
}

static bool move_and_scan(struct commission *c, uint16_t rail, const int32_t before_um[], struct kr_holder_seen *seen)
{
    static int32_t after_um[KR_HOLDERS_MAX];
    const struct commission_job move = {.job = KR_JOB_MOVE,
                                        .rail_number = (uint16_t)(rail + 1),
                                        .holder_number = seen->holder_number,
                                        .position_um = seen->target_um};
    struct kr_job_seen scanned = {.complete = false};
    if (!commission_job_run(c, &move, &seen->job))
        return false;
    if (!seen->job.complete)
        return commission_stop(c);
    if (!commission_ask_yes(c, &seen->person_saw,
                            "Did carriage %u dock onto holder %u, move it, let go of it, and nothing else move?",
                            rail + 1u, seen->holder_number) ||
        !scan(c, rail, after_um, &scanned))
        return false;
    if (scanned.complete)
        compare(c, rail, before_um, after_um, seen);
    else
        seen->job = scanned;
    return commission_stop(c);
}

bool commission_walk_HOLDER(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    static int32_t before_um[KR_HOLDERS_MAX];
    char way[COMMISSION_LENGTH_MAX];
    struct kr_holder_seen seen = {.tolerance_um = c->station->station.geometry.tolerance_um};
    if (!commission_ask_enter(
            c,
            "Rail %u is scanned at reduced speed, then one holder is moved. Nobody is in the zone, and a hand is at "
            "the emergency stop. Press Enter.",
            rail + 1u) ||
        !scan(c, rail, before_um, &seen.job))
        return false;
    if (seen.job.complete) {
        uint16_t holder = roomiest(c, rail, &seen.target_um);
        if (holder == KR_HOLDERS_MAX) {
            kr_finding_add(verdict, "",
                           "make room for one of them by hand, with drives and air locked out, blades covered and "
                           "cut-resistant gloves on",
                           "No holder of rail %u in service has room to move.", rail + 1u);
            return commission_stop(c);
        }
        seen.holder_number = (uint16_t)(holder + 1);
        commission_say("Holder %u goes %s.", seen.holder_number,
                       commission_length(c, seen.target_um - before_um[holder], way));
        if (!move_and_scan(c, rail, before_um, &seen))
            return false;
    } else if (!commission_stop(c)) {
        return false;
    }
    kr_judge_holder(&seen, verdict);
    return true;
}

static bool walk_changeover(struct commission *c, bool production, struct kr_step_verdict *verdict)
{
    struct kr_changeover_seen seen;
    uint32_t number, first_seed = (uint32_t)commission_now_ms(), seed = first_seed;
    if (!commission_ask_enter(c,
                              "A changeover to a random order begins at %s speed, with all carriages. Nobody is in the "
                              "zone, and a hand is at the emergency stop. Press Enter.",
                              production ? "production" : "reduced"))
        return false;
    if (!commission_stage_random(c, &seed, &number)) {
        if (c->left || c->failed)
            return false;
        kr_finding_add(verdict, "", "look at stations.web and at the holders' places", "No random order was accepted.");
        return true;
    }
    if (!commission_changeover(c, number, production, &seen))
        return false;
    seen.order = number;
    seen.seed = first_seed;
    seen.person_saw = true;
    if (seen.job.complete &&
        !commission_ask_yes(c, &seen.person_saw, "Was all that you saw and heard as it should be?"))
        return false;
    kr_judge_changeover(&seen, verdict);
    return commission_stop(c);
}

bool commission_walk_REDUCED(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    (void)rail;
    return walk_changeover(c, false, verdict);
}

bool commission_walk_PRODUCTION(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    (void)rail;
    return walk_changeover(c, true, verdict);
}
