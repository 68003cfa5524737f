/* Alarms that are provoked at the machine, where this does no harm. A person does what the table says. The program
 * waits until the alarm is seen, and then until it is gone again. */
#include "commission_alarms.h"

#include <stdio.h>
#include <string.h>

#define INSTEAD_MS 10000 /* after a stop of this length another cause than this alarm has stopped the job */

/* ---- what stands ----------------------------------------------------------------------------------------------- */

static bool read_alarms(struct commission *c)
{
    if (kr_client_block(&c->client, KR_BLOCK_RUN) && kr_client_block(&c->client, KR_BLOCK_ALARMS) &&
        kr_client_block(&c->client, KR_BLOCK_ALARM_LIMITS))
        return true;
    fprintf(stderr, "kniferail commission: %s\n", c->client.error);
    c->failed = true;
    return false;
}

static bool find(const struct commission *c, uint16_t code, struct kr_alarm *alarm)
{
    for (uint16_t i = 0; i < kr_get_alarms(&c->client.image); i++) {
        *alarm = kr_get_alarm(&c->client.image, i);
        if (alarm->code == code)
            return true;
    }
    return false;
}

bool commission_alarm_stands(struct commission *c, uint16_t code, bool *stands)
{
    struct kr_alarm alarm;
    if (!read_alarms(c))
        return false;
    *stands = find(c, code, &alarm);
    return true;
}

bool commission_alarm_look(struct commission *c, int64_t began_ms, struct kr_alarm_seen *seen)
{
    struct kr_alarm alarm;
    if (!read_alarms(c))
        return false;
    if (!find(c, seen->code, &alarm))
        return true;
    seen->raised = true;
    seen->value = alarm.value;
    seen->raised_ms = (int32_t)(commission_now_ms() - began_ms);
    kr_alarm_text(&alarm, c->client.image.format.length_unit, seen->sentence, sizeof seen->sentence);
    return true;
}

void commission_alarm_instead(struct commission *c, struct kr_alarm_seen *seen)
{
    char text[512];
    if (commission_alarm(c, text, sizeof text) != 0)
        snprintf(seen->instead, sizeof seen->instead, "Another alarm stood in its place: %s", text);
}

bool commission_is_halted(const struct commission *c)
{
    uint16_t state = commission_unit_state(c);
    return state == KR_STATE_HELD || state == KR_STATE_SUSPENDED || state == KR_STATE_ABORTED ||
           state == KR_STATE_STOPPED;
}

/* ---- away again ------------------------------------------------------------------------------------------------ */

bool commission_alarm_away(struct commission *c, int32_t ms, struct kr_alarm_seen *seen)
{
    char line[COMMISSION_LINE_MAX];
    int64_t began = commission_now_ms();
    bool stands = true, given_up = false;
    while (stands && !given_up) {
        if (!commission_acknowledge(c) || !commission_alarm_stands(c, seen->code, &stands) || !commission_look_again(c))
            return false;
        given_up = commission_typed(c, line) || (ms > 0 && commission_now_ms() - began > ms);
        if (c->left)
            return false;
    }
    seen->gone = !stands;
    return true;
}

/* ---- by hand --------------------------------------------------------------------------------------------------- */

/* A job in which the alarm is raised. */
struct background {
    const struct kr_provocation_by_hand *way;
    struct commission_job job; /* not used at rest */
    int direction;             /* direction of the jog */
    int64_t halted_ms;         /* time since which the unit has been stopped; 0: it is not stopped */
    bool over;                 /* the job has ended, and no other one follows */
};

static int way_with_room(const struct commission *c)
{
    const struct kr_carriage_config *carriage = &c->station->station.carriage[0];
    return commission_place_um(c, 0) < carriage->travel_min_um / 2 + carriage->travel_max_um / 2 ? 1 : -1;
}

static bool begin(struct commission *c, struct background *b)
{
    if (b->way->situation == KR_PROVOKE_AT_REST)
        return true;
    if (b->way->situation == KR_PROVOKE_WHILE_JOGGING && !commission_wait_pressed(c, 0))
        return false;
    b->halted_ms = 0;
    b->direction = way_with_room(c);
    return commission_start(c, &b->job) && commission_look(c);
}

static const char *name_of(uint16_t code)
{
    return kr_alarm_info(code)->name;
}

static void say_now(const struct background *b)
{
    commission_say("NOW: %s. The program waits for the alarm.", b->way->act);
}

/* A person is not always quick enough. No carriage moves again before somebody has answered: a word, and not Enter,
 * which gives an alarm up and may be typed just when the job ends. */
static bool repeat_if_asked(struct commission *c, struct background *b)
{
    bool yes;
    if (!commission_ask_yes(c, &yes,
                            "Carriage 1 has ended its job before %s was seen, and it stands. Type no to give this "
                            "alarm up. If you type yes, the carriage moves again: nobody is in the zone, and a hand is "
                            "at the emergency stop. Is it to move again?",
                            name_of(b->way->alarm_code)))
        return false;
    b->over = !yes;
    if (b->over)
        return true;
    if (!begin(c, b))
        return false;
    say_now(b);
    return true;
}

/* Keeps the job going. When it has ended, the next one begins only if the person says so. */
static bool go_on(struct commission *c, struct background *b)
{
    if (b->way->situation == KR_PROVOKE_AT_REST)
        return true;
    if (b->way->situation == KR_PROVOKE_WHILE_JOGGING && commission_unit_state(c) == KR_STATE_EXECUTE)
        return commission_hold(c, b->direction);
    if (!commission_is_halted(c))
        b->halted_ms = 0;
    else if (b->halted_ms == 0)
        b->halted_ms = commission_now_ms();
    if (commission_unit_state(c) != KR_STATE_COMPLETE)
        return true;
    if (b->way->situation != KR_PROVOKE_BEFORE_SCAN)
        return repeat_if_asked(c, b);
    b->over = true;
    return true;
}

static bool is_instead(const struct background *b)
{
    return b->halted_ms != 0 && commission_now_ms() - b->halted_ms > INSTEAD_MS;
}

/* Waits until the alarm is seen, something else has stopped the job, the job is over, or the person gives up. */
static bool wait_raised(struct commission *c, struct background *b, struct kr_alarm_seen *seen)
{
    char line[COMMISSION_LINE_MAX];
    int64_t began = commission_now_ms();
    bool given_up = false;
    while (!seen->raised && !given_up && !b->over && !is_instead(b)) {
        if (!commission_look_again(c) || !commission_alarm_look(c, began, seen))
            return false;
        if (!seen->raised && !go_on(c, b))
            return false;
        given_up = commission_typed(c, line);
        if (c->left)
            return false;
    }
    if (!seen->raised)
        commission_alarm_instead(c, seen);
    return true;
}

static void say_caution(const struct kr_provocation_by_hand *p)
{
    commission_say("\n%s. CAUTION. %s", name_of(p->alarm_code), p->caution);
}

static bool ask_ready(struct commission *c, const struct kr_provocation_by_hand *p)
{
    static const char *const goes_on[] = {[KR_PROVOKE_AT_REST] = "Nothing moves.",
                                          [KR_PROVOKE_WHILE_SCANNING] =
                                              "Carriage 1 scans meanwhile, empty and at reduced speed.",
                                          [KR_PROVOKE_WHILE_JOGGING] = "Carriage 1 is jogged meanwhile."};
    say_caution(p);
    return commission_ask_enter(
        c, "%s To be done: %s. Press Enter when everybody is ready; Enter once more gives this alarm up.",
        goes_on[p->situation], p->act);
}

/* Waits until the alarm is gone after it was taken back. */
static bool wait_gone(struct commission *c, struct kr_alarm_seen *seen)
{
    if (!commission_alarm_away(c, 0, seen))
        return false;
    commission_say("  %s", seen->gone ? "Gone." : "It still stands.");
    return true;
}

static bool provoke_meanwhile(struct commission *c, struct background *b, struct kr_alarm_seen *seen)
{
    if (!ask_ready(c, b->way) || !commission_confirm_control(c) || !begin(c, b))
        return false;
    say_now(b);
    if (!wait_raised(c, b, seen))
        return false;
    if (!seen->raised)
        return true;
    commission_say("  Seen: %s.", seen->sentence);
    commission_say(
        "Now take it back: %s. The program acknowledges, and waits until the alarm is gone; Enter gives that up.",
        b->way->undo);
    return wait_gone(c, seen);
}

/* ---- by hand, with hands on the rail --------------------------------------------------------------------------- */

/* Stops the unit, and waits until a person says that everything is locked out. */
static bool wait_locked_out(struct commission *c, const char *what)
{
    bool yes = false;
    if (!commission_wait_control(c) || !commission_stop(c))
        return false;
    commission_say("Carriage 1 stands, and no job runs. The next thing to be done at the rail: %s. Lock out and tag "
                   "out drives, knife drives and air first.",
                   what);
    while (!yes) {
        if (!commission_ask_yes(c, &yes,
                                "Are the drives, the knife drives and the air locked out, and was it checked that all "
                                "of them are gone?"))
            return false;
        if (!yes)
            commission_say("Nobody reaches in before that is so. Type leave to end the program.");
    }
    return true;
}

static bool act_locked_out(struct commission *c, const char *what)
{
    return commission_ask_enter(c, "Now, with everything locked out: %s. Press Enter when it is done.", what) &&
           commission_ask_enter(c, "Take hands and tools out of the machine, close the guards, and see that nobody is "
                                   "in the zone; only then take the locks off, and give drives and air back. Press "
                                   "Enter when it is so.");
}

static bool scan_once(struct commission *c, struct background *b, struct kr_alarm_seen *seen)
{
    if (!commission_ask_enter(c, "Carriage 1 makes one scan next, empty and at reduced speed. Nobody is in the zone, "
                                 "the guards are closed, and a hand is at the emergency stop. Press Enter, and the "
                                 "carriage moves; Enter once more gives this alarm up.") ||
        !begin(c, b) || !wait_raised(c, b, seen))
        return false;
    if (seen->raised)
        commission_say("  Seen: %s.", seen->sentence);
    else
        commission_say("  %s was not seen.", name_of(seen->code));
    return true;
}

static bool take_away(struct commission *c, const struct background *b, struct kr_alarm_seen *seen)
{
    if (!wait_locked_out(c, b->way->undo) || !act_locked_out(c, b->way->undo))
        return false;
    if (!seen->raised)
        return true;
    commission_say("The program acknowledges, and waits until the alarm is gone; Enter gives that up.");
    return wait_gone(c, seen);
}

/* What was set is taken away, too, if the alarm was not seen. */
static bool provoke_before_scan(struct commission *c, struct background *b, struct kr_alarm_seen *seen)
{
    say_caution(b->way);
    if (!wait_locked_out(c, b->way->act))
        return false;
    if (act_locked_out(c, b->way->act) && scan_once(c, b, seen) && take_away(c, b, seen))
        return true;
    commission_say("What was set for %s may still be on the rail. See that the carriage stands. Lock out drives, knife "
                   "drives and air, and check that all of them are gone, before anybody looks for it. Take it away "
                   "before anything moves again.",
                   name_of(seen->code));
    return false;
}

static bool provoke(struct commission *c, const struct kr_provocation_by_hand *p, struct kr_step_verdict *verdict)
{
    struct kr_alarm_seen seen = {.code = p->alarm_code, .how = p->brief};
    struct background b = {
        .way = p,
        .job = {.job = p->situation == KR_PROVOKE_WHILE_JOGGING ? KR_JOB_JOG : KR_JOB_SCAN, .rail_number = 1}};
    bool whole =
        p->situation == KR_PROVOKE_BEFORE_SCAN ? provoke_before_scan(c, &b, &seen) : provoke_meanwhile(c, &b, &seen);
    if (!whole)
        return false;
    kr_judge_alarm(&seen, verdict);
    return commission_wait_control(c) && commission_stop(c);
}

bool commission_walk_ALARMS(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    (void)rail;
    if (c->station->acceptance.alarms == 0)
        kr_figure_add(verdict, "alarms provoked at the machine", "acceptance.alarms lists none");
    for (unsigned i = 0; i < KR_N_BY_HAND; i++)
        if (c->station->acceptance.alarms >> i & 1u && !provoke(c, kr_provocation_by_hand(i), verdict))
            return false;
    return true;
}
