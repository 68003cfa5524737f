#include "progress.h"

#include "job_traits.h"
#include "rails.h"

static int64_t travel_us(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage, bool reduced,
                         int32_t at_um)
{
    return kr_way_time_us(rail, (int64_t)at_um - carriage->park_um, kr_setup_speed(carriage, rail->empty, reduced));
}

/* The time of one scan of all rails, and of one travel to their park positions: that of the slowest rail, or the sum if
 * rails move one after the other. */
struct times {
    int64_t scan_us, travel_us;
    int64_t verify_us; /* a scan behind the moves: by then all places are known */
};

static int64_t together_us(int64_t so_far_us, int64_t us, bool together)
{
    if (!together)
        return so_far_us + us;
    return us > so_far_us ? us : so_far_us;
}

/* As the holders stand now: what moves still shift hardly changes a scan's time. */
static void take_flags(struct kr_scan_flags *flags, const struct kr_holder_data holder[], uint16_t n)
{
    flags->n = 0;
    for (uint16_t i = 0; i < n; i++)
        if (kr_holder_on_rail(holder[i].state))
            flags->at_um[flags->n++] = holder[i].position_um;
}

/* flags_known: bit r is set if the flags of rail r are known well enough for a fast scan. */
static struct times times_of(const struct kr_station_config *config, const struct kr_durable *durable,
                             const struct kr_axis_in axis[], uint16_t flags_known, bool reduced)
{
    struct times t = {0};
    bool together = config->geometry.rails_together;
    for (uint16_t r = 0; r < config->geometry.n_rails; r++) {
        const struct kr_rail_geometry *rail = &config->geometry.rail[r];
        const struct kr_carriage_config *carriage = &config->carriage[r];
        int32_t at_um = kr_frame_place_um(&carriage->frame, axis[r].position_um);
        t.travel_us = together_us(t.travel_us, travel_us(rail, carriage, reduced, at_um), together);
        struct kr_scan_flags flags;
        take_flags(&flags, durable->holder[r], rail->n_holders);
        int32_t from_um = at_um;
        flags.known = flags_known >> r & 1u;
        int64_t scan_us = kr_scan_time_us(rail, carriage, reduced, &flags, &from_um);
        flags.known = true;
        int64_t verify_us = kr_scan_time_us(rail, carriage, reduced, &flags, &at_um);
        t.scan_us = together_us(t.scan_us, scan_us, together);
        t.verify_us = together_us(t.verify_us, verify_us, together);
    }
    return t;
}

static int64_t rest_us(int64_t whole_us, int64_t gone_us)
{
    return gone_us < whole_us ? whole_us - gone_us : 0;
}

int64_t job_left_us(const struct kr_station *s)
{
    int64_t gone_us = 1000 * (s->clock.now_ms - s->job.phase_ms);
    struct times times = times_of(&s->config, &s->durable, s->in.axis, rails_flags_known(s), s->job.reduced);
    int64_t scan = times.scan_us, travel = times.travel_us;
    const struct job_traits *traits = job_traits(s->job.kind);
    int64_t verify = job_verifies(traits) ? times.verify_us : 0;
    int64_t moves = s->job.planned_us;
    bool looks =
        /* An order that is set up again has no planned time yet. */
        moves != 0 || traits->plan == JOB_PLAN_ORDER;
    switch (s->job.phase) {
    case KR_PHASE_FREE:
        return moves + verify + travel +
               (looks && scan_is_due(&s->config, &s->durable, job_rails(&s->job, &s->config)) ? scan : 0);
    case KR_PHASE_SCAN: return rest_us(scan, gone_us) + moves + verify + travel;
    case KR_PHASE_PLAN:
        return moves + verify + travel; /* as if something moved, so that the progress never goes back */
    case KR_PHASE_UNCLAMP: return s->planning.plan.time_us + verify + travel;
    case KR_PHASE_MOVE: return rest_us(s->planning.plan.time_us, gone_us) + verify + travel;
    case KR_PHASE_CLAMP: return verify + travel;
    case KR_PHASE_VERIFY: return rest_us(scan, gone_us) + travel;
    case KR_PHASE_FIND: return scan + travel; /* without the way to the references, which is unknown */
    case KR_PHASE_REFERENCE:
    case KR_PHASE_TRAVEL: return travel;
    default: return 0; /* a jog has no planned time, and a phase with an unknown time shows none */
    }
}

/* The remaining time may grow by a correction or an interruption, but the progress never goes back. */
void job_progress(struct kr_station *s)
{
    int64_t gone_us = 1000 * (s->clock.now_ms - s->job.began_ms), left_us = job_left_us(s);
    if (s->unit.state == KR_STATE_COMPLETE)
        s->job.percent = 100;
    if (s->unit.state != KR_STATE_EXECUTE || gone_us + left_us <= 0)
        return;
    int64_t percent = 100 * gone_us / (gone_us + left_us);
    percent = percent < 99 ? percent : 99;
    if (percent > s->job.percent)
        s->job.percent = (uint16_t)percent;
}
