/* Alarms that are provoked against kniferail-sim: the program breaks the simulated machine through the simulator's
 * control socket, and watches what the second gateway tells. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commission_alarms.h"
#include "commission_moves.h"
#include "commission_rehearsal.h"

#define INSTEAD_MS 10000  /* after a stop of this length another cause than this alarm has stopped the job */
#define RAISE_MS   300000 /* longest time of a job */
#define PHASE_MS   60000  /* longest time until the carriage is in the phase in which the fault happens */
/* Way of the carriage in this phase after which the drive has surely taken its set-point. */
#define GONE_UM  5000
#define AWAY_MS  20000
#define TRIES    2
#define WAY_UM   30000 /* way of a holder */
#define ASIDE_UM 5000
#define PAST_UM  20000 /* how far beyond a limit a place is put */

static struct rehearsal rehearsal; /* large */

/* ---- a fault --------------------------------------------------------------------------------------------------- */

static uint16_t n_holders(const struct rehearsal *r)
{
    return r->c.station->station.geometry.rail[0].n_holders;
}

/* Returns the holder in service that has most room, or the first one if none has any. */
static uint16_t roomiest(const struct rehearsal *r)
{
    uint16_t best = 0;
    int32_t most_um = -1;
    for (uint16_t h = 0; h < n_holders(r); h++) {
        if (!commission_holder_serves(&r->c, 0, h))
            continue;
        int32_t way_um = abs(commission_room_um(&r->c, 0, h, WAY_UM) - commission_holder_um(&r->c, 0, h));
        if (way_um > most_um) {
            best = h;
            most_um = way_um;
        }
    }
    return best;
}

static uint16_t first_in_service(const struct rehearsal *r)
{
    uint16_t h = 0;
    while (h + 1 < n_holders(r) && !commission_holder_serves(&r->c, 0, h))
        h++;
    return h;
}

static int32_t middle_of_room_um(const struct rehearsal *r)
{
    int32_t widest_um = 0, at_um = 0, last_um = INT32_MIN;
    for (uint16_t h = 0; h < n_holders(r); h++) {
        if (!commission_holder_serves(&r->c, 0, h))
            continue;
        int32_t here_um = commission_holder_um(&r->c, 0, h);
        if (last_um != INT32_MIN && here_um - last_um > widest_um) {
            widest_um = here_um - last_um;
            at_um = last_um + widest_um / 2;
        }
        last_um = here_um;
    }
    return at_um;
}

/* Returns a way by which the carriage at rest is beyond what its place may differ by, to the side with more room. */
static int32_t drifted_um(const struct rehearsal *r)
{
    const struct kr_carriage_config *carriage = &r->c.station->station.carriage[0];
    bool low = commission_place_um(&r->c, 0) < carriage->travel_min_um / 2 + carriage->travel_max_um / 2;
    return (low ? 1 : -1) * (carriage->drift_um + PAST_UM);
}

/* Returns a jump of the position to beyond the nearer end of the travel. */
static int32_t beyond_um(const struct rehearsal *r)
{
    const struct kr_carriage_config *carriage = &r->c.station->station.carriage[0];
    int32_t down_um = carriage->travel_min_um - commission_place_um(&r->c, 0);
    int32_t up_um = carriage->travel_max_um - commission_place_um(&r->c, 0);
    return -down_um < up_um ? down_um - PAST_UM : up_um + PAST_UM;
}

static int32_t value_of(const struct rehearsal *r, const struct kr_provocation_simulated *p, uint16_t holder)
{
    switch (p->value) {
    case KR_PROVOKE_ROOM_UM: return middle_of_room_um(r);
    case KR_PROVOKE_ASIDE_UM:
        return commission_room_um(&r->c, 0, holder, ASIDE_UM) - commission_holder_um(&r->c, 0, holder);
    case KR_PROVOKE_TOUCHING_UM:
        return commission_holder_um(&r->c, 0, holder) + r->c.station->station.carriage[0].flag_width_um / 2;
    case KR_PROVOKE_DRIFTED_UM: return drifted_um(r);
    case KR_PROVOKE_BEYOND_UM: return beyond_um(r);
    default: return p->value;
    }
}

/* The items of a fault, from 0. */
struct items {
    uint16_t first, end;
    bool are_holders;
};

static struct items items_of(const struct rehearsal *r, const struct kr_provocation_simulated *p, uint16_t holder)
{
    uint16_t n_references = r->c.station->station.carriage[0].references.n;
    switch (p->item) {
    case KR_PROVOKE_NOTHING:
    case KR_PROVOKE_REFERENCE: return (struct items){0, 1, false};
    case KR_PROVOKE_MOST_REFERENCES:
        return (struct items){0, (uint16_t)(n_references > 1 ? n_references - 1 : 1), false};
    case KR_PROVOKE_HOLDER:
    case KR_PROVOKE_FIRST_HOLDER: return (struct items){holder, (uint16_t)(holder + 1), true};
    case KR_PROVOKE_HOLDERS: return (struct items){0, n_holders(r), true};
    }
    return (struct items){0, 0, false};
}

/* Sends one line that breaks or mends, for each item that the fault needs. */
static bool say_each(struct rehearsal *r, const struct kr_provocation_simulated *p, bool breaks, uint16_t holder,
                     int32_t value, char answer[200])
{
    char item[16] = "", figure[16] = "";
    struct items items = items_of(r, p, holder);
    if (breaks && value != 0)
        snprintf(figure, sizeof figure, " %ld", (long)value);
    for (uint16_t i = items.first; i < items.end; i++) {
        if (items.are_holders && !commission_holder_serves(&r->c, 0, i))
            continue;
        if (p->item != KR_PROVOKE_NOTHING)
            snprintf(item, sizeof item, " %u", i + 1u);
        if (!commission_door_say(&r->door, answer, 200, "%s 1 %s%s%s", breaks ? "break" : "mend", p->fault, item,
                                 figure) ||
            strcmp(answer, breaks ? "broken" : "mended") != 0)
            return false;
    }
    return true;
}

static bool wait_link(struct rehearsal *r, bool linked)
{
    for (int64_t until = commission_now_ms() + AWAY_MS; commission_now_ms() < until;) {
        if (!commission_look_again(&r->c))
            return false;
        if ((kr_get_u16(&r->c.client.image, KR_REG_RAIL_LINK, 0, 0) != 0) == linked)
            return true;
    }
    return true;
}

/* Loses the link of the first rail, or gives it back, and waits until the gateway shows that. */
static bool set_link(struct rehearsal *r, bool linked)
{
    char answer[200];
    if (commission_door_say(&r->door, answer, sizeof answer, "%s 1 link-lost", linked ? "mend" : "break"))
        return wait_link(r, linked);
    fprintf(stderr, "kniferail commission: the simulator's control socket: %s\n", r->door.why);
    r->c.failed = true;
    return false;
}

/* Breaks or mends, between two lines about the link if that has to be lost meanwhile. *done: the simulator did it. */
static bool say_at_moment(struct rehearsal *r, const struct kr_provocation_simulated *p, bool breaks, uint16_t holder,
                          int32_t value, char answer[200], bool *done)
{
    bool away = p->phase == KR_PROVOKE_AWAY;
    if (away && !set_link(r, false))
        return false;
    *done = say_each(r, p, breaks, holder, value, answer);
    return !away || set_link(r, true);
}

/* Takes the fault back. A jump is no lasting fault: another jump takes it back. */
static bool take_back(struct rehearsal *r, const struct kr_provocation_simulated *p, uint16_t holder, int32_t value,
                      bool *done)
{
    static const char *const once[] = {"moved-by-hand", "datum-forgotten", "carriage-pushed"};
    char answer[200];
    bool jumps = strcmp(p->fault, "position-jump") == 0;
    *done = true;
    for (size_t i = 0; i < sizeof once / sizeof once[0]; i++)
        if (strcmp(p->fault, once[i]) == 0)
            return true;
    return say_at_moment(r, p, jumps, holder, jumps ? -value : value, answer, done);
}

/* ---- a job that goes on ---------------------------------------------------------------------------------------- */

static bool job_of(struct rehearsal *r, const struct kr_provocation_simulated *p, uint16_t holder,
                   struct commission_job *job)
{
    uint32_t seed = (uint32_t)commission_now_ms();
    *job = (struct commission_job){.job = (enum kr_job)p->job, .rail_number = 1, .production = true};
    if (p->job == KR_JOB_MOVE) {
        job->holder_number = (uint16_t)(holder + 1);
        job->position_um = commission_room_um(&r->c, 0, holder, WAY_UM);
    }
    if (p->job != KR_JOB_CHANGEOVER)
        return true;
    job->rail_number = 0;
    return commission_stage_random(&r->c, &seed, &job->order);
}

static bool start(struct rehearsal *r, const struct commission_job *job, bool *started)
{
    return commission_wait_control(&r->c) && commission_start_once(&r->c, job, started);
}

/* Runs a whole job, with any result. */
static bool run_quietly(struct rehearsal *r, enum kr_job which, uint16_t rail_number)
{
    const struct commission_job job = {.job = which, .rail_number = rail_number, .production = true};
    struct kr_job_seen seen;
    bool started;
    if (!start(r, &job, &started))
        return false;
    return (!started || commission_job_end(&r->c, &seen)) && commission_acknowledge(&r->c);
}

/* How far a carriage has gone since it was last not in the phase. In a scan's second pass it comes back, so that it
 * counts how far the carriage is below the highest place that it had, once it has gone up. */
struct gone {
    bool in_it, has_risen;
    int32_t from_um;
};

static bool has_gone(struct gone *g, const struct kr_provocation_simulated *p, int32_t at_um, bool in_it)
{
    bool back = p->phase == KR_PROVOKE_SECOND_PASS, was_in_it = g->in_it;
    g->in_it = in_it;
    if (!in_it || !was_in_it) {
        g->from_um = at_um;
        g->has_risen = false;
        return false;
    }
    if (!back)
        return abs(at_um - g->from_um) >= GONE_UM;
    if (g->has_risen ? at_um > g->from_um : at_um < g->from_um)
        g->from_um = at_um;
    else if (!g->has_risen && at_um - g->from_um >= GONE_UM)
        *g = (struct gone){true, true, at_um};
    return g->has_risen && g->from_um - at_um >= GONE_UM;
}

/* Waits until the carriage moves in that phase. Returns true also if it does not: then the alarm is missed, and that is
 * reported. */
static bool wait_phase(struct rehearsal *r, const struct kr_provocation_simulated *p)
{
    int phase = p->phase == KR_PROVOKE_SECOND_PASS ? KR_CARRIAGE_SCANNING : p->phase;
    struct gone gone = {.in_it = false};
    for (int64_t until = commission_now_ms() + PHASE_MS; commission_now_ms() < until;) {
        if (!commission_look_again(&r->c))
            return false;
        bool in_it = kr_get_u16(&r->c.client.image, KR_REG_CARRIAGE_PHASE, 0, 0) == phase;
        if (has_gone(&gone, p, commission_place_um(&r->c, 0), in_it) || commission_is_halted(&r->c) ||
            commission_unit_state(&r->c) == KR_STATE_COMPLETE)
            return true;
    }
    return true;
}

/* Waits for the alarm: until a job has ended otherwise or, without a job, for the time in which it has to come. */
static bool wait_raised(struct rehearsal *r, const struct kr_provocation_simulated *p, struct kr_alarm_seen *seen)
{
    char line[COMMISSION_LINE_MAX];
    int64_t began = commission_now_ms(), halted = 0;
    bool over = false;
    while (!seen->raised && !over) {
        if (!commission_look_again(&r->c) || !commission_alarm_look(&r->c, began, seen))
            return false;
        int64_t now = commission_now_ms();
        bool ended = p->job == 0 || commission_is_halted(&r->c) || commission_unit_state(&r->c) == KR_STATE_COMPLETE;
        halted = ended ? (halted != 0 ? halted : now) : 0;
        over = now - began > RAISE_MS || (halted != 0 && now - halted > INSTEAD_MS);
        over = commission_typed(&r->c, line) || over;
        if (r->c.left)
            return false;
    }
    if (!seen->raised)
        commission_alarm_instead(&r->c, seen);
    return true;
}

/* Goes on with the Held job, as the remedy says. An alarm about a scan stands until another scan finds everything
 * right. */
static bool scan_on(struct rehearsal *r)
{
    enum kr_code code;
    struct kr_job_seen job;
    if (!commission_job_end(&r->c, &job)) /* the unit may still be coming to a stop */
        return false;
    return commission_unit_state(&r->c) != KR_STATE_HELD ||
           (commission_command(&r->c, KR_COMMAND_UNHOLD, &code) && commission_look_again(&r->c) &&
            (code != KR_OK || commission_job_end(&r->c, &job)));
}

/* Does what the alarm's remedy says, so that an acknowledgement can end it. */
static bool remedy(struct rehearsal *r, const struct kr_provocation_simulated *p, struct kr_alarm_seen *seen)
{
    if (p->remedy == KR_PROVOKE_SCAN_ON && seen->raised) {
        seen->remedied = " after the scan went on";
        return scan_on(r);
    }
    if (p->remedy != KR_PROVOKE_HOME)
        return true;
    seen->remedied = " after homing";
    return commission_acknowledge(&r->c) && run_quietly(r, KR_JOB_HOME, 1);
}

/* ---- one alarm ------------------------------------------------------------------------------------------------- */

/* Homes the rails whose drives have no datum: they were never homed, or a fault took it. */
static bool home_all(struct rehearsal *r)
{
    if (!commission_look(&r->c))
        return false;
    for (uint16_t rail = 0; rail < r->c.station->station.geometry.n_rails; rail++)
        if (kr_get_u16(&r->c.client.image, KR_REG_RAIL_REFERENCED, rail, 0) == 0 &&
            !run_quietly(r, KR_JOB_HOME, (uint16_t)(rail + 1)))
            return false;
    return true;
}

static bool all_are_placed(const struct rehearsal *r)
{
    for (uint16_t h = 0; h < n_holders(r); h++)
        if (commission_holder_serves(&r->c, 0, h) &&
            kr_get_u16(&r->c.client.image, KR_REG_HOLDER_KNOWN, 0, h) < KR_PLACED)
            return false;
    return true;
}

/* Prepares a provocation: before a holder is dragged or pushed, a scan finds those whose places are not known. */
static bool prepare(struct rehearsal *r, const struct kr_provocation_simulated *p)
{
    bool moves = p->job == KR_JOB_MOVE || p->job == KR_JOB_CHANGEOVER || p->value == KR_PROVOKE_ASIDE_UM;
    bool idle = commission_unit_state(&r->c) == KR_STATE_IDLE; /* it was acknowledged after the provocation before */
    if ((!idle && !commission_acknowledge(&r->c)) || !home_all(r) || !commission_holders(&r->c, 0))
        return false;
    if (!moves || all_are_placed(r))
        return true;
    return run_quietly(r, KR_JOB_SCAN, 1) && commission_holders(&r->c, 0);
}

static void tell_refused(const struct rehearsal *r, struct kr_alarm_seen *seen)
{
    char answer[200];
    kr_get_result_text(&r->c.client.image, KR_CLIENT_COMMAND, answer, sizeof answer);
    snprintf(seen->instead, sizeof seen->instead, "The station refused the job: %.180s.", answer);
}

static bool break_and_wait(struct rehearsal *r, const struct kr_provocation_simulated *p, uint16_t holder,
                           int32_t value, struct kr_alarm_seen *seen)
{
    char answer[200] = "";
    struct commission_job job;
    bool before = p->phase == KR_PROVOKE_BEFORE || p->phase == KR_PROVOKE_AWAY, started = true, broken = true;
    if (before && !say_at_moment(r, p, true, holder, value, answer, &broken))
        return false;
    if (p->phase == KR_PROVOKE_AWAY && p->job != 0 && !commission_acknowledge(&r->c)) /* that the link was lost */
        return false;
    if (p->job != 0 && (!job_of(r, p, holder, &job) || !start(r, &job, &started)))
        return false;
    if (!started) {
        tell_refused(r, seen);
        return true;
    }
    if (!before && !wait_phase(r, p))
        return false;
    broken = before ? broken : say_each(r, p, true, holder, value, answer);
    if (!broken) {
        snprintf(seen->instead, sizeof seen->instead, "The simulator says: %.180s.",
                 answer[0] != '\0' ? answer : r->door.why);
        return true;
    }
    return wait_raised(r, p, seen);
}

static bool try_once(struct rehearsal *r, const struct kr_provocation_simulated *p, int nth, char how[], size_t size,
                     struct kr_alarm_seen *seen)
{
    if (!prepare(r, p))
        return false;
    uint16_t holder = p->item == KR_PROVOKE_FIRST_HOLDER ? first_in_service(r) : roomiest(r);
    int32_t value = value_of(r, p, holder);
    kr_provoke_how(p, value, nth, how, size);
    commission_say("%s by %s.", kr_alarm_info(p->alarm_code)->name, how);
    if (!break_and_wait(r, p, holder, value, seen))
        return false;
    if (seen->raised)
        commission_say("  Seen: %s", seen->sentence);
    else
        commission_say("  It was not seen. %s", seen->instead);
    bool taken_back;
    if (!take_back(r, p, holder, value, &taken_back) || !commission_wait_control(&r->c) || !remedy(r, p, seen) ||
        !commission_alarm_away(&r->c, AWAY_MS, seen))
        return false;
    seen->gone = seen->gone && taken_back;
    return p->remedy != KR_PROVOKE_RELEASE || run_quietly(r, KR_JOB_RELEASE, 1);
}

/* Provokes one alarm. A busy computer may stop a job in another way, so that each alarm has two tries. */
static bool provoke(struct rehearsal *r, const struct kr_provocation_simulated *p, struct kr_step_verdict *verdict)
{
    char how[120];
    struct kr_alarm_seen seen = {.code = p->alarm_code, .simulator = true, .how = how};
    for (int nth = 1; nth <= TRIES && !seen.raised; nth++)
        if (!try_once(r, p, nth, how, sizeof how, &seen))
            return false;
    kr_judge_alarm(&seen, verdict);
    r->n_provoked++;
    r->n_seen = (uint16_t)(r->n_seen + seen.raised);
    return true;
}

/* ---- all of them ----------------------------------------------------------------------------------------------- */

/* A single reference is no pattern. */
static bool has_two_patterns(const struct kr_station_config *s)
{
    return s->geometry.n_rails > 1 && s->carriage[0].references.n > 1 && s->carriage[1].references.n > 1 &&
           s->carriage[0].references.own_switch == s->carriage[1].references.own_switch;
}

static bool has(const struct commission *c, enum kr_provoke_needs needs)
{
    const struct kr_carriage_config *carriage = &c->station->station.carriage[0];
    const struct kr_drivemap *map = &c->station->drive[0].map;
    bool tells_datum = map->referenced_bit != KR_NO_BIT;
    switch (needs) {
    case KR_PROVOKE_ANYTHING: return true;
    case KR_PROVOKE_COMMON_CLAMP: return carriage->clamping == KR_CLAMP_COMMON;
    case KR_PROVOKE_OWN_BRAKES: return carriage->clamping != KR_CLAMP_COMMON;
    case KR_PROVOKE_REFERENCES: return carriage->references.n > 0;
    case KR_PROVOKE_NO_REFERENCES: return carriage->references.n == 0;
    case KR_PROVOKE_REFERENCE_SWITCH: return carriage->references.own_switch;
    case KR_PROVOKE_TWO_PATTERNS: return has_two_patterns(&c->station->station);
    case KR_PROVOKE_EXPECTED: return c->station->drive[0].n_expected > 0;
    case KR_PROVOKE_TWO_PASSES: return kr_scan_goes_both_ways(carriage, false);
    case KR_PROVOKE_DATUM_BIT: return tells_datum;
    case KR_PROVOKE_HOMING_METHOD: return tells_datum && map->address[KR_OBJECT_HOMING_METHOD] != KR_NO_REGISTER;
    case KR_PROVOKE_DRIFT: return tells_datum && carriage->drift_um > 0;
    }
    return false;
}

static bool is_listed(const struct commission *c, uint16_t code)
{
    for (unsigned i = 0; i < KR_N_BY_HAND; i++)
        if (kr_provocation_by_hand(i)->alarm_code == code)
            return c->station->acceptance.alarms >> i & 1u;
    return false;
}

static const struct kr_provocation_simulated *simulated_of(uint16_t code)
{
    for (size_t i = 0; kr_provocation_simulated(i) != NULL; i++)
        if (kr_provocation_simulated(i)->alarm_code == code)
            return kr_provocation_simulated(i);
    return NULL;
}

static const struct kr_provocation_by_hand *by_hand_of(uint16_t code)
{
    for (unsigned i = 0; i < KR_N_BY_HAND; i++)
        if (kr_provocation_by_hand(i)->alarm_code == code)
            return kr_provocation_by_hand(i);
    return NULL;
}

static void tell_other(uint16_t code, struct kr_step_verdict *verdict)
{
    const struct kr_provocation_simulated *p = simulated_of(code);
    const struct kr_not_provoked *neither = kr_not_provoked(code);
    const struct kr_provocation_by_hand *by_hand = by_hand_of(code);
    const char *name = kr_alarm_info(code)->name;
    if (p != NULL)
        kr_figure_add(verdict, name, "not provoked: %s", kr_provoke_needs_text(p->needs));
    else if (neither != NULL)
        kr_figure_add(verdict, name, "not provoked: %s; the program's own test %s provokes it", neither->why,
                      neither->test);
    else if (by_hand != NULL)
        kr_figure_add(verdict, name,
                      "not provoked: it can be provoked at the machine, and acceptance.alarms does not list it; the "
                      "program's own test %s provokes it",
                      by_hand->test);
}

/* Lists the alarms that are provoked neither here nor at the machine, each with the reason. */
static void tell_others(const struct commission *c, struct kr_step_verdict *verdict)
{
    for (size_t i = 0; kr_alarm_info_at(i) != NULL; i++) {
        uint16_t code = (uint16_t)kr_alarm_info_at(i)->code;
        const struct kr_provocation_simulated *p = simulated_of(code);
        if (!is_listed(c, code) && (p == NULL || !has(c, p->needs)))
            tell_other(code, verdict);
    }
}

static bool provoke_all(struct rehearsal *r, struct kr_step_verdict *verdict)
{
    for (size_t i = 0; kr_provocation_simulated(i) != NULL; i++) {
        const struct kr_provocation_simulated *p = kr_provocation_simulated(i);
        if (!is_listed(&r->c, p->alarm_code) && has(&r->c, p->needs) && !provoke(r, p, verdict))
            return false;
    }
    tell_others(&r->c, verdict);
    kr_judge_rehearsal(r->n_provoked, r->n_seen, verdict);
    return true;
}

static bool rehearse(struct commission *c, struct rehearsal *r, struct kr_step_verdict *verdict)
{
    char why[200];
    bool simulated = false, opened = commission_rehearsal_open(c, r, why);
    if (opened && !commission_rehearsal_is_simulated(r, why, &simulated))
        return false;
    if (!simulated) {
        kr_finding_add(
            verdict, "",
            "start kniferail-sim and a second gateway on a copy of the station file, as help commission says",
            "%s Nothing was broken.", why);
        return true;
    }
    commission_say("The gateway at %s:%s moves the simulator's drives, and no machine.", r->host, r->port);
    return provoke_all(r, verdict);
}

bool commission_walk_REHEARSAL(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    struct rehearsal *r = &rehearsal;
    (void)rail;
    memset(r, 0, sizeof *r);
    r->door.fd = -1;
    if (!commission_rehearsal_ask(c, r))
        return false;
    bool walked = rehearse(c, r, verdict);
    commission_rehearsal_close(c, r);
    return walked;
}
