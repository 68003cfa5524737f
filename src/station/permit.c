#include "permit.h"

#include "job_traits.h"

int64_t permit_silent_us(const struct permits *permits, int64_t wall_us)
{
    return wall_us - permits->heartbeat_us;
}

int64_t permit_plc_silent_us(const struct permits *permits, int64_t wall_us)
{
    return permit_silent_us(permits, wall_us) - permits->own_gap_us;
}

static void heartbeat_seen(struct permits *p, uint16_t heartbeat, int64_t wall_us)
{
    p->plc_heartbeat = heartbeat;
    p->heartbeat_us = wall_us;
    p->own_gap_us = 0;
}

static void heartbeat_step(struct permits *p, const struct kr_station_in *in, int64_t wall_us, int32_t limit_ms)
{
    p->control_lost = in->control_generation != p->control_generation;
    /* A gap of this program counts from half of the limit on, because the PLC then has only the other half for
     * itself. */
    if (2LL * in->wall_dt_us >= 1000LL * limit_ms && in->wall_dt_us > p->own_gap_us)
        p->own_gap_us = in->wall_dt_us;
    if (p->control_lost || !in->controlled) {
        p->control_generation = in->control_generation;
        p->heartbeat_seen = false;
        p->gap_us = 0;
        heartbeat_seen(p, in->plc_heartbeat, wall_us);
    } else if (in->plc_heartbeat != p->plc_heartbeat) {
        int64_t gap_us = permit_plc_silent_us(p, wall_us);
        if (p->heartbeat_seen && gap_us > p->gap_us)
            p->gap_us = gap_us;
        p->heartbeat_seen = true;
        p->beats++;
        heartbeat_seen(p, in->plc_heartbeat, wall_us);
    }
    bool in_time = permit_silent_us(p, wall_us) < 1000LL * limit_ms;
    p->heartbeat_fresh = in->controlled && p->heartbeat_seen && in_time;
}

/* A permissive from drive inputs must be on at every rail. */
static uint16_t drive_inputs(const struct kr_station_config *config, const struct kr_axis_in axis[])
{
    uint16_t all = ALL_PERMISSIVES;
    for (uint16_t r = 0; r < config->geometry.n_rails; r++)
        all &= axis[r].link ? (uint16_t)(axis[r].inputs / KR_DI_LINE_STOPPED) : 0;
    return all & config->drive_inputs;
}

void permit_step(struct permits *permits, const struct kr_station_config *config, const struct kr_station_in *in,
                 int64_t wall_us)
{
    heartbeat_step(permits, in, wall_us, config->heartbeat_limit_ms);
    uint16_t given = permits->heartbeat_fresh ? in->permissives & ALL_PERMISSIVES : 0;
    permits->given = (uint16_t)((given & ~config->drive_inputs) | drive_inputs(config, in->axis));
}

uint16_t permit_standing_speed(const struct kr_station_config *config)
{
    int64_t in_tenths = 6LL * config->line_stands_um_per_s / 10000; /* 0.1 m/min is 10000 um in 6 s */
    return (uint16_t)(in_tenths < UINT16_MAX ? in_tenths : UINT16_MAX);
}

bool permit_line_contradicts(const struct permits *permits, const struct kr_station_config *config, uint16_t line_speed)
{
    return config->metres_source == KR_METRES_SPEED && permits->given & KR_PERMIT_LINE_STOPPED &&
           line_speed > permit_standing_speed(config);
}

bool permit_hands_may_reach(const struct permits *permits, const struct kr_station_config *config,
                            const struct kr_axis_in *axis)
{
    bool powered = axis->link && axis->statusword & KR_SW_VOLTAGE_ENABLED;
    return permit_missing(permits, config->access) != 0 || !powered;
}

static uint16_t needed_to_start(const struct kr_station_config *config, uint16_t needs)
{
    uint16_t needed = 0;
    needed |= needs & JOB_NEEDS_SCAN ? config->need_scan : 0;
    needed |= needs & JOB_NEEDS_DRAG ? config->need_drag : 0;
    needed |= needs & JOB_NEEDS_HOME ? config->need_home : 0;
    needed |= needs & JOB_NEEDS_JOG ? config->need_jog : 0;
    return needed;
}

uint16_t permit_needed(const struct kr_station_config *config, enum kr_job job, enum kr_phase phase)
{
    const struct job_traits *traits = job_traits((uint16_t)job);
    if (traits->held_to_run)
        return config->need_jog;
    switch (phase) {
    case KR_PHASE_UNCLAMP:
    case KR_PHASE_MOVE:
    case KR_PHASE_CLAMP: return config->need_drag;
    case KR_PHASE_FIND:
    case KR_PHASE_REFERENCE: return config->need_home;
    case KR_PHASE_SCAN:
    case KR_PHASE_GAUGE:
    case KR_PHASE_PLAN:
    case KR_PHASE_VERIFY:
    case KR_PHASE_TRAVEL:
    case KR_PHASE_FREE: return config->need_scan;
    default: break; /* a phase without a set of its own needs the set for the job's start */
    }
    return needed_to_start(config, traits->needs);
}

uint16_t permit_missing(const struct permits *permits, uint16_t needed)
{
    return (uint16_t)(needed & ~permits->given);
}
