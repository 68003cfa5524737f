/* Judges what a drive does after its link has become silent: how far the carriage goes on, and for how long. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "kniferail/commission.h"

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

/* Tells whether the trial shows anything. The link has to go while more way is left than a drive may go on for. */
static bool tells(const struct kr_silence_seen *s, struct ways w, const char *which, struct kr_step_verdict *verdict)
{
    if (!s->moved)
        kr_finding_add(verdict, "", "try again, and cut while the carriage travels",
                       "%s: the carriage did not travel when the link went, so this trial shows nothing.", which);
    else if (w.left_um <= w.limit_um)
        kr_finding_add(verdict, "", "try again, and cut sooner; or choose a longer way",
                       "%s: only %.1f mm were left to where it was sent, and a watchdog may take %.1f mm to stop it: "
                       "this trial shows nothing.",
                       which, w.left_um / 1000.0, w.limit_um / 1000.0);
    else
        return true;
    return false;
}

static void judge_way(const struct kr_silence_seen *s, struct ways w, const char *which,
                      struct kr_step_verdict *verdict)
{
    if (w.gone_um < -s->play_um)
        kr_finding_add(verdict, "drive.counts_towards", "the side to which the drive's position grows",
                       "%s: after reconnecting the carriage stands %.1f mm behind where it was, against its direction.",
                       which, -w.gone_um / 1000.0);
    else if (w.gone_um >= w.left_um - s->play_um)
        kr_finding_add(verdict, "",
                       "switch the drive's communication watchdog on, and let it stop the drive; nothing else stops a "
                       "carriage without a link",
                       "%s: the carriage ran on to where it was sent, %.1f mm: its watchdog did not stop it.", which,
                       w.gone_um / 1000.0);
    else if (w.gone_um > w.limit_um)
        kr_finding_add(verdict, "",
                       "set the drive's communication watchdog to at most drive.watchdog_ms; then look at the ramp "
                       "with which it stops",
                       "%s: the carriage went on for %.1f mm, about %" PRId32
                       " ms; at most %.1f mm are v t + v^2 / 2a with %" PRId32 " ms.",
                       which, w.gone_um / 1000.0, time_of_way_ms(s->speed, w.gone_um), w.limit_um / 1000.0,
                       s->limit_ms);
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
    char which[128], time[40] = "not measured";
    struct ways w = ways_of(seen);
    uint16_t before = verdict->n_findings;
    snprintf(which, sizeof which, "%s, %s speed, %s", kr_silence_text(seen->how),
             seen->production ? "production" : "setup",
             seen->direction > 0 ? "to the drive side" : "to the operator side");
    if (!tells(seen, w, which, verdict))
        return;
    judge_way(seen, w, which, verdict);
    judge_time(seen, which, verdict);
    if (verdict->n_findings != before)
        return;
    if (seen->time_ms > 0)
        snprintf(time, sizeof time, "%" PRId32 " ms by %s", seen->time_ms,
                 seen->by_trace ? "the drive's trace" : "hand");
    kr_figure_add(verdict, which, "%.1f mm, at most %.1f; time %s, at most %" PRId32 " ms", w.gone_um / 1000.0,
                  w.limit_um / 1000.0, time, seen->limit_ms);
}
