/* Acceptance: dockings onto every holder, and random changeovers at production speed. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commission_moves.h"

/* Each docking moves the holder by this, because a docking that moves nothing proves no grip. */
#define WAY_UM        5000
#define ROOM_LEAST_UM 1000 /* with less room a neighbour is moved aside first */

static struct kr_acceptance limits_of(const struct commission *c)
{
    return c->station->acceptance;
}

static void count_fault(struct kr_job_seen *first, uint32_t *faults, const struct kr_job_seen *job)
{
    if (*faults == 0)
        *first = *job;
    ++*faults;
}

/* ---- dockings -------------------------------------------------------------------------------------------------- */

/* Adds a holder where it belongs in the growing list, unless it is in it. */
static void note(struct kr_holders_seen *holders, uint16_t holder)
{
    uint16_t number = (uint16_t)(holder + 1), at = holders->n;
    while (at > 0 && holders->number[at - 1] >= number)
        at--;
    bool listed = at < holders->n && holders->number[at] == number;
    if (listed || holders->n >= KR_HOLDERS_MAX)
        return;
    memmove(&holders->number[at + 1], &holders->number[at], (holders->n - at) * sizeof holders->number[0]);
    holders->number[at] = number;
    holders->n++;
}

/* Moves a holder, and counts faults. record->n_moves is 0 unless the job ended Complete and its record shows a move. */
static bool move_once(struct commission *c, uint16_t rail, uint16_t holder, int32_t to_um,
                      struct kr_dockings_seen *seen, struct kr_changeover_seen *record)
{
    const struct commission_job job = {.job = KR_JOB_MOVE,
                                       .rail_number = (uint16_t)(rail + 1),
                                       .holder_number = (uint16_t)(holder + 1),
                                       .position_um = to_um,
                                       .production = true};
    *record = (struct kr_changeover_seen){.n_moves = 0};
    if (!commission_job_run(c, &job, &record->job))
        return false;
    if (!record->job.complete) {
        count_fault(&seen->first, &seen->faults, &record->job);
        return commission_stop(c) && commission_holders(c, rail);
    }
    if (!commission_read_record(c, record))
        return false;
    for (uint16_t i = 0; i < record->n_retries; i++)
        count_fault(&seen->first, &seen->faults, &record->job);
    seen->retries += record->n_retries;
    if (record->n_moves == 0)
        note(&seen->unmoved, holder);
    return true;
}

static bool has_room(const struct commission *c, uint16_t rail, uint16_t holder, int side)
{
    return commission_room_beside_um(c, rail, holder, side) >= ROOM_LEAST_UM;
}

/* Returns the nearest holder on that side which can be moved further to that side; KR_HOLDERS_MAX: there is none. */
static uint16_t movable(const struct commission *c, uint16_t rail, uint16_t holder, int side)
{
    uint16_t n = c->station->station.geometry.rail[rail].n_holders;
    for (int h = holder + side; h >= 0 && h < n; h += side) {
        if (kr_get_u16(&c->client.image, KR_REG_HOLDER_STATE, rail, (uint16_t)h) == KR_HOLDER_ABSENT)
            continue;
        if (!commission_holder_serves(c, rail, (uint16_t)h))
            break; /* it stays where it is, and so those behind it make no room */
        if (has_room(c, rail, (uint16_t)h, side))
            return (uint16_t)h;
    }
    return KR_HOLDERS_MAX;
}

/* Where the holder has no room, moves a neighbour that has some, and then the next one, until the holder itself has
 * room. *made: it has. Where no neighbour can be moved, notes that there is no room; a move that came to nothing is
 * counted for itself. */
static bool make_room(struct commission *c, uint16_t rail, uint16_t holder, struct kr_dockings_seen *seen, bool *made)
{
    uint16_t tries = c->station->station.geometry.rail[rail].n_holders;
    struct kr_changeover_seen record = {.n_moves = 1};
    while (!(*made = has_room(c, rail, holder, 1) || has_room(c, rail, holder, -1)) && record.n_moves > 0 &&
           tries-- > 0) {
        int side = movable(c, rail, holder, 1) != KR_HOLDERS_MAX ? 1 : -1;
        uint16_t h = movable(c, rail, holder, side);
        if (h == KR_HOLDERS_MAX) {
            note(&seen->no_room, holder);
            break;
        }
        int32_t room_um = commission_room_beside_um(c, rail, h, side), way_um = room_um < WAY_UM ? room_um : WAY_UM;
        if (!move_once(c, rail, h, commission_holder_um(c, rail, h) + side * way_um, seen, &record))
            return false;
        seen->aside += record.n_moves;
    }
    return true;
}

static bool dock_once(struct commission *c, uint16_t rail, uint16_t holder, struct kr_dockings_seen *seen)
{
    struct kr_changeover_seen record;
    bool made;
    if (!make_room(c, rail, holder, seen, &made))
        return false;
    if (!made)
        return true;
    if (!move_once(c, rail, holder, commission_room_um(c, rail, holder, WAY_UM), seen, &record))
        return false;
    seen->took_ms += record.job.took_ms;
    seen->done += record.n_moves > 0;
    return true;
}

static bool dock_all(struct commission *c, uint16_t rail, const struct kr_acceptance *limits,
                     struct kr_dockings_seen *seen)
{
    for (uint16_t h = 0; h < c->station->station.geometry.rail[rail].n_holders; h++) {
        if (!commission_holder_serves(c, rail, h))
            continue;
        commission_say("Holder %u.", h + 1u);
        seen->n_holders++;
        seen->asked += (uint32_t)limits->dockings;
        for (int32_t i = 0; i < limits->dockings && seen->faults <= (uint32_t)limits->faults_most; i++)
            if (!dock_once(c, rail, h, seen) || !commission_holders(c, rail))
                return false;
    }
    return true;
}

bool commission_walk_DOCKINGS(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    struct kr_acceptance limits = limits_of(c);
    struct kr_dockings_seen seen = {.n_holders = 0};
    if (!commission_ask_enter(c,
                              "Carriage %u docks onto each holder in service %d times, at production speed. Nobody is "
                              "in the zone, and a hand is at the emergency stop. Press Enter.",
                              rail + 1u, (int)limits.dockings) ||
        !commission_holders(c, rail) || !dock_all(c, rail, &limits, &seen))
        return false;
    kr_judge_dockings(&limits, &seen, verdict);
    return commission_stop(c);
}

/* ---- changeovers ----------------------------------------------------------------------------------------------- */

/* The deviations of all knives that cut, rail by rail, and the times of the changeovers. */
struct errors {
    double *um[KR_RAILS_MAX];
    size_t n[KR_RAILS_MAX], room;
    struct kr_changeover_time *time; /* of each changeover */
};

static bool errors_begin(struct errors *errors, uint16_t n_rails, int32_t changeovers)
{
    *errors = (struct errors){.room = (size_t)changeovers * KR_HOLDERS_MAX};
    for (uint16_t r = 0; r < n_rails; r++)
        if ((errors->um[r] = malloc(errors->room * sizeof *errors->um[r])) == NULL)
            return false;
    return (errors->time = malloc((size_t)changeovers * sizeof *errors->time)) != NULL;
}

static void errors_end(struct errors *errors)
{
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        free(errors->um[r]);
    free(errors->time);
}

static void errors_add(const struct commission *c, struct errors *errors)
{
    const struct kr_image *image = &c->client.image;
    const struct kr_geometry *g = &c->station->station.geometry;
    for (uint16_t r = 0; r < g->n_rails; r++)
        for (uint16_t h = 0; h < g->rail[r].n_holders && errors->um[r] != NULL && errors->n[r] < errors->room; h++)
            if (kr_get_u16(image, KR_REG_HOLDER_CUT, r, h) != 0)
                errors->um[r][errors->n[r]++] = kr_get_um(image, KR_REG_HOLDER_DEVIATION, r, h);
}

static bool change_over_once(struct commission *c, uint32_t *seed, struct errors *errors,
                             struct kr_changeovers_seen *seen)
{
    struct kr_changeover_seen one;
    uint32_t number;
    if (!commission_stage_random(c, seed, &number))
        return false;
    if (!commission_changeover(c, number, true, &one))
        return false;
    if (!one.job.complete || !one.verified) {
        count_fault(&seen->first, &seen->faults, &one.job);
        return commission_stop(c);
    }
    for (uint16_t i = 0; i < one.n_retries; i++)
        count_fault(&seen->first, &seen->faults, &one.job);
    seen->retries += one.n_retries;
    errors->time[seen->done++] = (struct kr_changeover_time){number, one.told_ms, one.job.took_ms};
    seen->told_ms += one.told_ms;
    seen->took_ms += one.job.took_ms;
    errors_add(c, errors);
    commission_say("Changeover %u of %u: planned %.1f s, took %.1f s; worst knife %s off.", (unsigned)seen->done,
                   (unsigned)seen->asked, one.told_ms / 1000.0, one.job.took_ms / 1000.0,
                   COMMISSION_SAID(c, KR_SAID_LENGTH, 3, one.worst_um / 1000.0));
    return true;
}

static bool change_over(struct commission *c, const struct kr_acceptance *limits, struct errors *errors,
                        struct kr_step_verdict *verdict)
{
    struct kr_changeovers_seen seen = {.asked = (uint32_t)limits->changeovers, .seed = (uint32_t)commission_now_ms()};
    uint32_t seed = seen.seed;
    const struct kr_geometry *g = &c->station->station.geometry;
    for (int32_t i = 0; i < limits->changeovers && seen.faults <= (uint32_t)limits->faults_most; i++)
        if (!change_over_once(c, &seed, errors, &seen)) {
            if (c->left || c->failed)
                return false;
            break;
        }
    seen.time = errors->time;
    kr_judge_changeovers(limits, &seen, verdict);
    for (uint16_t r = 0; r < g->n_rails; r++)
        kr_judge_placement(limits, (uint16_t)(r + 1), errors->um[r], errors->n[r], g->tolerance_um, verdict);
    return commission_stop(c);
}

bool commission_walk_CHANGEOVERS(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    struct kr_acceptance limits = limits_of(c);
    struct errors errors;
    (void)rail;
    if (!commission_ask_enter(c,
                              "%d random changeovers at production speed, one after the other. Nobody is in the zone, "
                              "and a hand is at the emergency stop. Press Enter.",
                              (int)limits.changeovers))
        return false;
    bool walked = false;
    if (errors_begin(&errors, c->station->station.geometry.n_rails, limits.changeovers))
        walked = change_over(c, &limits, &errors, verdict);
    else
        fprintf(stderr, "kniferail commission: there is no memory\n");
    errors_end(&errors);
    return walked;
}
