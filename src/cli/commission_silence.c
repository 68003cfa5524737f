/* A silent link, at which the drive has to stop by itself: trials with a cable, and with a gateway that falls
 * silent. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commission_moves.h"

/* Way by which the holder is moved, so that the carriage has a way to go and to come back. */
#define WAY_UM   2000
#define GONE_UM  5000   /* after this way the carriage surely travels, and the program calls for the cut */
#define TRIAL_MS 120000 /* longest time until the carriage travels, and until the link goes */
#define BACK_MS  600000 /* longest time until somebody has connected the drive again */
#define STILL_MS 500    /* the carriage stands if its place has not changed for this time */
#define PLAY_UM  500    /* following error, backlash, the settling of the last millimetre */

static const struct trial {
    enum kr_silence how;
    bool production, back;
} trials[] = {
    {KR_SILENCE_CABLE, false, false},  {KR_SILENCE_CABLE, false, true},    {KR_SILENCE_CABLE, true, false},
    {KR_SILENCE_CABLE, true, true},    {KR_SILENCE_GATEWAY, false, false}, {KR_SILENCE_GATEWAY, false, true},
    {KR_SILENCE_GATEWAY, true, false}, {KR_SILENCE_GATEWAY, true, true},   {KR_SILENCE_FAR, false, false},
    {KR_SILENCE_FAR, false, true},     {KR_SILENCE_FAR, true, false},      {KR_SILENCE_FAR, true, true},
};
#define N_TRIALS (sizeof trials / sizeof trials[0])

static const char *how_to(enum kr_silence how)
{
    switch (how) {
    case KR_SILENCE_CABLE: return "pulls this drive's network cable at the drive";
    case KR_SILENCE_GATEWAY:
        return "makes the gateway silent while every cable stays in: suspends its process (kill -STOP with its process "
               "number), and lets it go on when this program asks for it (kill -CONT)";
    case KR_SILENCE_FAR: return "pulls the gateway's own cable at the network switch";
    }
    return "";
}

/* ---- one trial ------------------------------------------------------------------------------------------------- */

/* One reading of the gateway. The gateway itself may be silent: then nothing is read, and the session does not fail. */
struct glimpse {
    bool read, linked;
    uint16_t phase, job_phase, state;
    int32_t place_um;
    int64_t at_ms;
};

static struct glimpse glimpse_of(struct commission *c, uint16_t rail)
{
    const struct kr_image *image = &c->client.image;
    struct glimpse g = {.read = kr_client_block(&c->client, KR_BLOCK_RUN) &&
                                kr_client_row(&c->client, KR_REG_CARRIAGE_POSITION, rail, 1) &&
                                kr_client_row(&c->client, KR_REG_CARRIAGE_PHASE, rail, 1) &&
                                kr_client_row(&c->client, KR_REG_RAIL_LINK, rail, 1)};
    if (!g.read)
        return g;
    g.linked = kr_get_u16(image, KR_REG_RAIL_LINK, rail, 0) != 0;
    g.phase = kr_get_u16(image, KR_REG_CARRIAGE_PHASE, rail, 0);
    g.job_phase = kr_get_u16(image, KR_REG_PHASE, 0, 0);
    g.state = commission_unit_state(c);
    g.place_um = commission_place_um(c, rail);
    g.at_ms = commission_now_ms();
    return g;
}

/* The last two readings of different places show where the carriage was, and how old that may be, because without
 * answers the gateway goes on showing the last place. */
struct watch {
    int8_t direction;
    uint16_t job_phase; /* phase of the job in which the carriage travels */
    bool called;        /* the program has called for the cut */
    bool went;          /* the link is gone, or the gateway is silent */
    int32_t begin_um;   /* where the way began */
    struct glimpse last, before;
};

static void call_for_cut(struct watch *w, struct glimpse now)
{
    bool travels = now.phase == KR_CARRIAGE_TRAVELLING && now.job_phase == w->job_phase;
    if (!travels)
        w->begin_um = now.place_um;
    if (w->called || !travels || w->direction * (now.place_um - w->begin_um) < GONE_UM)
        return;
    w->called = true;
    commission_say("CUT NOW.");
}

static bool is_at_holder(uint16_t phase)
{
    return phase == KR_CARRIAGE_DOCKING || phase == KR_CARRIAGE_FREEING || phase == KR_CARRIAGE_DRAGGING;
}

/* Watches until the link is gone, or the job has ended without that. */
static bool watch_until_silent(struct commission *c, uint16_t rail, struct watch *w)
{
    char line[COMMISSION_LINE_MAX];
    for (int64_t until = commission_now_ms() + TRIAL_MS; commission_now_ms() < until;) {
        struct glimpse now = glimpse_of(c, rail);
        if (!now.read || !now.linked) {
            w->went = w->last.read;
            return true;
        }
        if (now.state == KR_STATE_COMPLETE || now.state == KR_STATE_HELD || now.state == KR_STATE_ABORTED)
            return true;
        /* Nobody has cut: the carriage would dock, and drag the holder at the speed of the trial. */
        if (w->job_phase == KR_PHASE_MOVE && is_at_holder(now.phase))
            return true;
        call_for_cut(w, now);
        if (now.place_um != w->last.place_um || !w->last.read) {
            w->before = w->last;
            w->last = now;
        }
        (void)commission_typed(c, line);
        if (c->left)
            return false;
    }
    return true;
}

static bool stands(struct commission *c, uint16_t rail, int32_t *place_um)
{
    int64_t since = commission_now_ms(), until = since + BACK_MS;
    *place_um = commission_place_um(c, rail);
    while (commission_now_ms() < until && commission_now_ms() - since < STILL_MS) {
        if (!commission_look_again(c))
            return false;
        if (abs(commission_place_um(c, rail) - *place_um) > 10) {
            *place_um = commission_place_um(c, rail);
            since = commission_now_ms();
        }
    }
    return true;
}

/* Waits until station and drive answer again, and the carriage stands. */
static bool connected(struct commission *c, uint16_t rail, int32_t *place_um)
{
    char line[COMMISSION_LINE_MAX];
    for (int64_t until = commission_now_ms() + BACK_MS; commission_now_ms() < until;) {
        struct glimpse now = glimpse_of(c, rail);
        if (now.read && now.linked)
            return stands(c, rail, place_um);
        if (!now.read) {
            kr_client_close(&c->client);
            /* The client says so when the gateway answers again. */
            (void)kr_client_open(&c->client, &c->address);
        }
        (void)commission_typed(c, line);
        if (c->left)
            return false;
    }
    fprintf(stderr, "kniferail commission: the drive of rail %u does not come back\n", rail + 1u);
    c->failed = true;
    return false;
}

static bool ask_time(struct commission *c, struct kr_silence_seen *seen)
{
    char answer[COMMISSION_LINE_MAX];
    do {
        if (!commission_ask_text(
                c, answer,
                "How many milliseconds passed from the cut until the drive began to stop? Type the number, with "
                "\"trace\" behind it if the drive's own trace says so; 0 if nobody measured it. On the way out or on "
                "the way back somebody has to measure it."))
            return false;
    } while (!kr_silence_time_read(answer, seen));
    return true;
}

/* Runs one trial on the way out to the holder, or on the way back. */
static bool run_trial(struct commission *c, uint16_t rail, const struct trial *t, const struct commission_job *job,
                      int8_t out, struct kr_silence_seen *seen)
{
    struct watch w = {.direction = (int8_t)(t->back ? -out : out),
                      .job_phase = t->back ? KR_PHASE_TRAVEL : KR_PHASE_MOVE};
    if (!commission_start(c, job) || !watch_until_silent(c, rail, &w))
        return false;
    seen->from_um = w.last.place_um;
    seen->moved = w.called && w.went;
    seen->cycles_ms = (int32_t)(w.last.at_ms - w.before.at_ms) + 3 * c->config.period_ms;
    if (!w.went)
        return true;
    commission_say("The link is gone. Wait until the carriage stands, then connect again, or let the gateway go on; "
                   "the program goes on when the drive answers.");
    return connected(c, rail, &seen->stood_um) && ask_time(c, seen);
}

/* ---- the trials of a rail -------------------------------------------------------------------------------------- */

/* Returns the holder in service that is furthest from where the carriage rests, and has room to be moved: without that
 * the carriage would not go to it. */
static uint16_t furthest(const struct commission *c, uint16_t rail)
{
    const struct kr_station_config *station = &c->station->station;
    uint16_t best = 0;
    int32_t most_um = -1;
    for (uint16_t h = 0; h < station->geometry.rail[rail].n_holders; h++) {
        int32_t way_um = abs(commission_holder_um(c, rail, h) - station->carriage[rail].park_um);
        bool has_room = commission_room_um(c, rail, h, WAY_UM) != commission_holder_um(c, rail, h);
        if (commission_holder_serves(c, rail, h) && has_room && way_um > most_um) {
            best = h;
            most_um = way_um;
        }
    }
    return best;
}

static struct kr_speed speed_of(const struct commission *c, uint16_t rail, bool production)
{
    const struct kr_station_config *station = &c->station->station;
    struct kr_speed speed = station->geometry.rail[rail].empty;
    return production ? speed : kr_setup_speed(&station->carriage[rail], speed, true);
}

/* Brings the carriage to its place of rest by a scan. A trial on the way out needs the whole way, and after an earlier
 * trial the carriage may stand in the middle. */
static bool rest_first(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    const struct kr_carriage_config *carriage = &c->station->station.carriage[rail];
    const struct commission_job scan = {.job = KR_JOB_SCAN, .rail_number = (uint16_t)(rail + 1)};
    struct kr_job_seen seen = {.complete = false};
    bool again = true;
    if (!commission_look(c))
        return false;
    if (abs(commission_place_um(c, rail) - carriage->park_um) <= carriage->park_window_um)
        return true;
    while (!seen.complete && again) {
        if (!commission_ask_enter(c,
                                  "Carriage %u does not stand where it rests: a scan at reduced speed brings it there. "
                                  "Nobody is in the zone. Press Enter.",
                                  rail + 1u) ||
            !commission_job_run(c, &scan, &seen) || !commission_stop(c))
            return false;
        if (!seen.complete &&
            !commission_ask_yes(c, &again, "The scan did not end Complete. %s Try the scan again?", seen.alarm))
            return false;
    }
    if (!seen.complete)
        kr_finding_add(verdict, "", "mend what the alarm names, then let the step be made again",
                       "The scan before the trial did not end Complete. %s", seen.alarm);
    return true;
}

/* Waits until the carriage sets out on its way back, or the job has ended. */
static bool watch_until_back(struct commission *c, bool *sets_out)
{
    char line[COMMISSION_LINE_MAX];
    *sets_out = false;
    for (int64_t until = commission_now_ms() + TRIAL_MS; commission_now_ms() < until && !*sets_out;) {
        if (!commission_look_again(c))
            return false;
        uint16_t state = commission_unit_state(c);
        if (state == KR_STATE_COMPLETE || state == KR_STATE_HELD || state == KR_STATE_ABORTED)
            return true;
        *sets_out = kr_get_u16(&c->client.image, KR_REG_PHASE, 0, 0) == KR_PHASE_TRAVEL;
        (void)commission_typed(c, line);
        if (c->left)
            return false;
    }
    return true;
}

/* Brings the carriage beside a holder, from where it can set out on a way back at production speed. A job has one
 * speed, so that a job at production speed must not drag anything here: nobody has seen this machine drag a holder yet.
 * The holder is moved at setup speed, and the job is stopped as soon as the carriage sets out on its way back. Then
 * *job leaves the holder where it is. */
static bool stand_beside(struct commission *c, uint16_t rail, struct commission_job *job,
                         struct kr_step_verdict *verdict)
{
    struct commission_job move = *job;
    char alarm[KR_ALARM_WORDS_MAX];
    bool sets_out;
    move.production = false;
    if (!commission_ask_enter(c,
                              "Carriage %u goes to holder %u next, docks onto it, moves it by up to %s at setup speed, "
                              "and stops beside it. Nobody is in the zone. Press Enter.",
                              rail + 1u, job->holder_number, COMMISSION_SAID(c, KR_SAID_LENGTH, 0, WAY_UM / 1e3)) ||
        !commission_start(c, &move) || !watch_until_back(c, &sets_out))
        return false;
    if (!sets_out) {
        commission_alarm(c, alarm, sizeof alarm);
        kr_finding_add(verdict, "", "mend what the alarm names, then let the step be made again",
                       "The carriage did not get beside the holder before the trial. %s", alarm);
    }
    if (!commission_stop(c) || !commission_holders(c, rail))
        return false;
    job->position_um = commission_holder_um(c, rail, (uint16_t)(job->holder_number - 1));
    return true;
}

/* Which kinds of trial, at which speed, somebody has measured a time of. */
struct timed {
    bool is[KR_SILENCE_FAR + 1][2];
};

static const char *speed_text(const struct commission *c, struct kr_speed speed, char text[KR_SAID_MAX])
{
    if (commission_in_inches(c))
        return kr_said(KR_LENGTH_INCH, KR_SAID_LENGTH | KR_SAID_SPEED, 0, speed.v_um_per_s / 1e3, text);
    snprintf(text, KR_SAID_MAX, "%.3f m/s", speed.v_um_per_s / 1e6);
    return text;
}

/* Says it if a hand is hardly quick enough. *possible: the cut can come in time at all. */
static void say_hand(const struct commission *c, const struct kr_silence_seen *seen, int32_t way_um, bool *possible,
                     struct kr_step_verdict *verdict)
{
    const char *setting = seen->production ? "carriage.empty_speed_mm_per_s" : "carriage.setup_speed_mm_per_s";
    struct kr_silence_hand hand = kr_silence_hand(seen, way_um, GONE_UM);
    char otherwise[240], change[KR_CHANGE_MAX], speed[KR_SAID_MAX], watchdog[64] = "";
    *possible = hand.has_ms > 0;
    if (hand.watchdog_ms > 0)
        snprintf(watchdog, sizeof watchdog, "drive.watchdog_ms at most %" PRId32 ", or ", hand.watchdog_ms);
    snprintf(otherwise, sizeof otherwise, "%s%s at most %s", watchdog, setting,
             COMMISSION_SAID(c, KR_SAID_SETTING | KR_SAID_SPEED, 0, hand.speed_mm_per_s));
    snprintf(change, sizeof change, "set %s", otherwise);
    if (hand.has_ms == 0)
        kr_finding_add(verdict, "", change,
                       "On a way of %s at %s no cut can come in time for a watchdog of %" PRId32
                       " ms: it could stop the carriage only beyond the place to which the carriage is sent.",
                       COMMISSION_SAID(c, KR_SAID_LENGTH, 1, way_um / 1000.0), speed_text(c, seen->speed, speed),
                       seen->limit_ms);
    else if (hand.has_ms < KR_SILENCE_HAND_MS)
        commission_say("This trial needs a quick hand: from the call CUT NOW on it has %.1f s. A cut that comes later "
                       "may show nothing, and then the trial can be made again. With %s a hand has %.0f s.",
                       hand.has_ms / 1e3, otherwise, KR_SILENCE_HAND_MS / 1e3);
}

/* Makes a trial once. */
static bool make_once(struct commission *c, uint16_t rail, const struct trial *t, struct kr_silence_seen *seen,
                      struct kr_step_verdict *verdict)
{
    const struct kr_drive *drive = &c->station->drive[rail];
    bool possible;
    if ((!t->back && !rest_first(c, rail, verdict)) || !commission_holders(c, rail))
        return false;
    if (!kr_step_passes(verdict))
        return true;
    uint16_t holder = furthest(c, rail);
    int32_t park_um = c->station->station.carriage[rail].park_um, at_um = commission_holder_um(c, rail, holder);
    int8_t out = at_um > park_um ? 1 : -1;
    struct commission_job job = {.job = KR_JOB_MOVE,
                                 .rail_number = (uint16_t)(rail + 1),
                                 .holder_number = (uint16_t)(holder + 1),
                                 .position_um = commission_room_um(c, rail, holder, WAY_UM),
                                 .production = t->production};
    if (t->back && t->production && !stand_beside(c, rail, &job, verdict))
        return false;
    if (!kr_step_passes(verdict))
        return true;
    *seen = (struct kr_silence_seen){.how = t->how,
                                     .production = t->production,
                                     .direction = (int8_t)(t->back ? -out : out),
                                     .speed = speed_of(c, rail, t->production),
                                     .limit_ms = drive->watchdog_ms > 0 ? drive->watchdog_ms : drive->link.lost_ms,
                                     .cycles_ms = 3 * c->config.period_ms,
                                     .play_um = PLAY_UM,
                                     .sent_um = t->back ? park_um : at_um};
    say_hand(c, seen, abs(at_um - park_um), &possible, verdict);
    if (!possible)
        return true;
    return commission_ask_enter(
               c,
               "%s %s. This is done from outside the zone, when the program says CUT NOW. A hand is at the emergency "
               "stop. Press Enter, and carriage %u goes at %s speed.",
               t->back ? "On the carriage's way back somebody" : "On the carriage's way out somebody", how_to(t->how),
               rail + 1u, t->production ? "production" : "setup") &&
           run_trial(c, rail, t, &job, out, seen) && commission_stop(c);
}

/* Tells whether the trial has to be made again, as the person says: it shows nothing, or nobody measured a time on the
 * way out nor on this way back. */
static bool ask_again(struct commission *c, const struct trial *t, const struct kr_silence_seen *seen, bool timed,
                      bool *again)
{
    char why[400];
    *again = false;
    if (!kr_silence_shows(seen, c->station->station.format.length_unit, why, sizeof why))
        return commission_ask_yes(c, again, "%s Try this trial again?", why);
    if (t->back && !timed)
        return commission_ask_yes(c, again,
                                  "Nobody has measured the time after a cut of this kind at this speed. Try this trial "
                                  "again, and measure it?");
    return true;
}

static bool make_trial(struct commission *c, uint16_t rail, const struct trial *t, struct timed *timed,
                       struct kr_step_verdict *verdict)
{
    struct kr_silence_seen seen = {.moved = false};
    bool again = true, *is_timed = &timed->is[t->how][t->production];
    while (again) {
        if (!make_once(c, rail, t, &seen, verdict))
            return false;
        if (!kr_step_passes(verdict))
            return true;
        if (!ask_again(c, t, &seen, *is_timed || seen.time_ms > 0, &again))
            return false;
    }
    *is_timed = *is_timed || seen.time_ms > 0; /* of the try that is judged */
    kr_judge_silence(&seen, verdict);
    if (t->back && !*is_timed && kr_step_passes(verdict))
        kr_judge_silence_untimed(&seen, verdict);
    return true;
}

bool commission_walk_SILENCE(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    struct timed timed = {.is = {{false}}};
    for (size_t i = 0; i < N_TRIALS && kr_step_passes(verdict); i++)
        if (!make_trial(c, rail, &trials[i], &timed, verdict))
            return false;
    return true;
}
