/* Judges what a drive does after its link has become silent: how far the carriage goes on, and for how long. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/commission.h"
#include "said.h"

static const char *const how_words[] = {"the drive's cable pulled", "the gateway silent, every cable in",
                                        "the gateway's cable pulled, on the far side of the switch"};

const char *kr_silence_text(enum kr_silence how)
{
    return how_words[how];
}

int32_t kr_silence_way_um(struct kr_speed speed, int32_t ms)
{
    int64_t v = speed.v_um_per_s, a = speed.a_um_per_s2;
    return (int32_t)(v * ms / 1000 + v * v / (2 * a));
}

/* Returns the time that a way takes at full speed until it ends by the ramp. */
static int32_t time_of_way_ms(struct kr_speed speed, int32_t way_um)
{
    int64_t v = speed.v_um_per_s, ramp_um = v * v / (2LL * speed.a_um_per_s2);
    return (int32_t)((way_um - ramp_um) * 1000 / v);
}

struct ways {
    /* Way since the last answer; way left to the target; v t + v^2 / (2 a). */
    int32_t gone_um, left_um, limit_um;
};

static struct ways ways_of(const struct kr_silence_seen *s)
{
    return (struct ways){.gone_um = s->direction * (s->stood_um - s->from_um),
                         .left_um = s->direction * (s->sent_um - s->from_um),
                         .limit_um = kr_silence_way_um(s->speed, s->limit_ms + s->cycles_ms) + s->play_um};
}

/* Tells whether the carriage went all the way to where it was sent. */
static bool arrived(const struct kr_silence_seen *s, struct ways w)
{
    return w.gone_um >= w.left_um - s->play_um;
}

static void name_trial(const struct kr_silence_seen *s, char *name, size_t size)
{
    snprintf(name, size, "%s, %s speed, %s", kr_silence_text(s->how), s->production ? "production" : "setup",
             s->direction > 0 ? "to the drive side" : "to the operator side");
}

/* A carriage that stopped short of its target was stopped, however late the cut came. One that arrived shows that no
 * watchdog stopped it only if the link went while more way was left than a watchdog may take. */
bool kr_silence_shows(const struct kr_silence_seen *seen, enum kr_length_unit unit, char *why, size_t size)
{
    struct ways w = ways_of(seen);
    char which[128];
    name_trial(seen, which, sizeof which);
    if (!seen->moved)
        snprintf(why, size, "%s: the carriage did not travel when the link went, so this trial shows nothing.", which);
    else if (w.left_um <= w.limit_um && arrived(seen, w))
        snprintf(why, size,
                 "%s: only %s were left to where it was sent, a watchdog may take %s to stop it, and it "
                 "arrived: this trial shows nothing.",
                 which, KR_SAID(unit, KR_SAID_LENGTH, 1, w.left_um / 1000.0),
                 KR_SAID(unit, KR_SAID_LENGTH, 1, w.limit_um / 1000.0));
    else
        return true;
    return false;
}

/* ---- the hand -------------------------------------------------------------------------------------------------- */

/* Returns how far a carriage comes from rest in a time, and the time that it takes for a way. */
static double way_from_rest_um(struct kr_speed speed, double s)
{
    double v = speed.v_um_per_s, a = speed.a_um_per_s2, ramp_s = v / a;
    return s < ramp_s ? a * s * s / 2 : v * (s - ramp_s / 2);
}

static double time_from_rest_s(struct kr_speed speed, double um)
{
    double v = speed.v_um_per_s, a = speed.a_um_per_s2, ramp_um = v * v / (2 * a);
    return um < ramp_um ? sqrt(2 * um / a) : v / a + (um - ramp_um) / v;
}

static int32_t hand_has_ms(const struct kr_silence_seen *s, struct kr_speed speed, int32_t way_um, int32_t called_um)
{
    int32_t may_um = kr_silence_way_um(speed, s->limit_ms + s->cycles_ms) + 2 * s->play_um;
    if (way_um - may_um <= called_um)
        return 0;
    return (int32_t)(1000 * (time_from_rest_s(speed, way_um - may_um) - time_from_rest_s(speed, called_um)));
}

struct kr_silence_hand kr_silence_hand(const struct kr_silence_seen *seen, int32_t way_um, int32_t called_um)
{
    struct kr_speed speed = seen->speed;
    struct kr_silence_hand hand = {.has_ms = hand_has_ms(seen, speed, way_um, called_um)};
    double cut_um = way_from_rest_um(speed, time_from_rest_s(speed, called_um) + KR_SILENCE_HAND_MS / 1000.0);
    double room_um = way_um - cut_um - 2.0 * seen->play_um - kr_silence_way_um(speed, seen->cycles_ms);
    hand.watchdog_ms = room_um > 0 ? (int32_t)(1000 * room_um / speed.v_um_per_s) : 0;
    for (speed.v_um_per_s -= speed.v_um_per_s % 1000; speed.v_um_per_s > 0; speed.v_um_per_s -= 1000)
        if (hand_has_ms(seen, speed, way_um, called_um) >= KR_SILENCE_HAND_MS)
            break;
    hand.speed_mm_per_s = speed.v_um_per_s / 1000;
    return hand;
}

/* ---- the time -------------------------------------------------------------------------------------------------- */

/* Goes past a word and the spaces around it, where that word is next. */
static bool take_word(const char **at, const char *word)
{
    const char *p = *at;
    while (*p == ' ')
        p++;
    for (; *word != '\0'; word++)
        if (*p++ != *word)
            return false;
    if (*p != '\0' && *p != ' ')
        return false;
    while (*p == ' ')
        p++;
    *at = p;
    return true;
}

bool kr_silence_time_read(const char *answer, struct kr_silence_seen *seen)
{
    const char *at = answer;
    long ms = 0;
    for (; *at >= '0' && *at <= '9' && ms <= 600000; at++)
        ms = 10 * ms + (*at - '0');
    if (at == answer || ms > 600000 || (*at >= '0' && *at <= '9'))
        return false;
    take_word(&at, "ms");
    bool trace = take_word(&at, "trace");
    if (*at != '\0')
        return false;
    seen->time_ms = (int32_t)ms;
    seen->by_trace = trace && ms > 0;
    return true;
}

void kr_judge_silence_untimed(const struct kr_silence_seen *seen, struct kr_step_verdict *verdict)
{
    kr_finding_add(verdict, "", "let the step be made again, and measure one time by hand or by the drive's own trace",
                   "%s, %s speed: nobody measured the time until the drive began to stop, on neither way.",
                   kr_silence_text(seen->how), seen->production ? "production" : "setup");
}

/* ---- the verdict ----------------------------------------------------------------------------------------------- */

static void judge_way(const struct kr_silence_seen *s, struct ways w, const char *which,
                      struct kr_step_verdict *verdict)
{
    if (w.gone_um < -s->play_um)
        kr_finding_add(verdict, "drive.counts_towards", "the side to which the drive's position grows",
                       "%s: after reconnecting the carriage stands %s behind where it was, against its direction.",
                       which, LENGTH(verdict, 1, -w.gone_um / 1000.0));
    else if (arrived(s, w))
        kr_finding_add(verdict, "",
                       "switch the drive's communication watchdog on, and let it stop the drive; nothing else stops a "
                       "carriage without a link",
                       "%s: the carriage ran on to where it was sent, %s: its watchdog did not stop it.", which,
                       LENGTH(verdict, 1, w.gone_um / 1000.0));
    else if (w.gone_um > w.limit_um)
        kr_finding_add(verdict, "",
                       "set the drive's communication watchdog to at most drive.watchdog_ms; then look at the ramp "
                       "with which it stops",
                       "%s: the carriage went on for %s, about %" PRId32
                       " ms; at most %s are v t + v^2 / 2a with %" PRId32 " ms.",
                       which, LENGTH(verdict, 1, w.gone_um / 1000.0), time_of_way_ms(s->speed, w.gone_um),
                       LENGTH(verdict, 1, w.limit_um / 1000.0), s->limit_ms);
}

static void judge_time(const struct kr_silence_seen *s, const char *which, struct kr_step_verdict *verdict)
{
    if (s->time_ms > s->limit_ms)
        kr_finding_add(verdict, "drive.watchdog_ms",
                       "the drive's own time, where the risk assessment allows it; else shorten the drive's watchdog",
                       "%s: %" PRId32 " ms passed until the drive began to stop, and %" PRId32 " ms are the limit.",
                       which, s->time_ms, s->limit_ms);
}

void kr_judge_silence(const struct kr_silence_seen *seen, struct kr_step_verdict *verdict)
{
    char which[128], time[40] = "not measured", why[400];
    struct ways w = ways_of(seen);
    uint16_t before = verdict->n_findings;
    name_trial(seen, which, sizeof which);
    if (!kr_silence_shows(seen, verdict->length_unit, why, sizeof why)) {
        kr_finding_add(verdict, "", "let the step be made again, and cut sooner after the call", "%s", why);
        return;
    }
    judge_way(seen, w, which, verdict);
    judge_time(seen, which, verdict);
    if (verdict->n_findings != before)
        return;
    if (seen->time_ms > 0)
        snprintf(time, sizeof time, "%" PRId32 " ms by %s", seen->time_ms,
                 seen->by_trace ? "the drive's trace" : "hand");
    kr_figure_add(verdict, which, "%s, at most %s; time %s, at most %" PRId32 " ms",
                  LENGTH(verdict, 1, w.gone_um / 1000.0), LENGTH_SHORT(verdict, 1, w.limit_um / 1000.0), time,
                  seen->limit_ms);
}
