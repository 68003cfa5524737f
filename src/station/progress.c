/* How long a job will take, and how far it is. */
#include "state.h"

static int64_t scan_us(const struct kr_station *s, uint16_t r)
{
    const struct kr_rail_geometry *rail = &s->config.geometry.rail[r];
    struct kr_speed speed = {s->config.carriage[r].scan_speed_um_per_s, rail->empty.a_um_per_s2};
    int passes = kr_scan_goes_both_ways(&s->config.carriage[r], s->job.reduced) ? 2 : 1;
    int32_t from_um, to_um;
    kr_scan_range(rail, &s->config.carriage[r], &from_um, &to_um);
    return passes * kr_move_time_us((int64_t)to_um - from_um, job_speed(s, r, speed)) +
           kr_move_time_us(rail->max_um - rail->min_um, job_speed(s, r, rail->empty)) / 2;
}

static int64_t travel_us(const struct kr_station *s, uint16_t r)
{
    int64_t away_um = (int64_t)s->in.axis[r].position_um - s->config.carriage[r].park_um;
    struct kr_speed speed = job_speed(s, r, s->config.geometry.rail[r].empty);
    return kr_move_time_us(away_um < 0 ? -away_um : away_um, speed);
}

/* The slowest rail's time, or the sum where rails move one after the other. */
static int64_t on_rails_us(const struct kr_station *s, int64_t (*of)(const struct kr_station *, uint16_t))
{
    int64_t all_us = 0;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        int64_t us = of(s, r);
        if (!s->config.geometry.rails_together)
            all_us += us;
        else if (us > all_us)
            all_us = us;
    }
    return all_us;
}

static int64_t rest_us(int64_t whole_us, int64_t gone_us)
{
    return gone_us < whole_us ? whole_us - gone_us : 0;
}

int64_t job_left_us(const struct kr_station *s)
{
    int64_t gone_us = 1000 * (s->now_ms - s->job.phase_ms);
    int64_t scan = on_rails_us(s, scan_us), travel = on_rails_us(s, travel_us);
    int64_t verify = s->job.kind == KR_JOB_CHANGEOVER || s->job.kind == KR_JOB_VERIFY ? scan : 0;
    int64_t moves = s->job.planned_us;
    bool looks =
        moves != 0 || s->job.kind == KR_JOB_CHANGEOVER; /* an order set up again has no time planned yet */
    switch (s->job.phase) {
    case KR_PHASE_FREE: return moves + verify + travel + (looks && scan_is_due(s) ? scan : 0);
    case KR_PHASE_SCAN: return rest_us(scan, gone_us) + moves + verify + travel;
    case KR_PHASE_PLAN:
        return moves + verify + travel; /* as if something moved: what is shown as done never goes back */
    case KR_PHASE_UNCLAMP: return s->plan.time_us + verify + travel;
    case KR_PHASE_MOVE: return rest_us(s->plan.time_us, gone_us) + verify + travel;
    case KR_PHASE_CLAMP: return verify + travel;
    case KR_PHASE_VERIFY: return rest_us(scan, gone_us) + travel;
    case KR_PHASE_REFERENCE:
    case KR_PHASE_TRAVEL: return travel;
    case KR_PHASE_JOG: /* lasts as long as a person wants */
    case KR_PHASE_NONE: break;
    }
    return 0;
}

/* What is left may grow, by a correction or an interruption; what is shown as done never goes back. */
void job_progress(struct kr_station *s)
{
    int64_t gone_us = 1000 * (s->now_ms - s->job.began_ms), left_us = job_left_us(s);
    if (s->state == KR_STATE_COMPLETE)
        s->job.percent = 100;
    if (s->state != KR_STATE_EXECUTE || gone_us + left_us <= 0)
        return;
    int64_t percent = 100 * gone_us / (gone_us + left_us);
    percent = percent < 99 ? percent : 99;
    if (percent > s->job.percent)
        s->job.percent = (uint16_t)percent;
}
