/* Heartbeat, control and permissives. A permissive from the PLC counts only while its heartbeat is fresh; after a start
 * and after a change of control the heartbeat has to be seen changing anew. */
#include "state.h"

static void heartbeat_step(struct kr_station *s)
{
    const struct kr_station_in *in = &s->in;
    s->control_lost = in->control_generation != s->control_generation;
    if (s->control_lost || !in->controlled) {
        s->control_generation = in->control_generation;
        s->heartbeat_seen = false;
        s->heartbeat_us = s->wall_us;
        s->plc_heartbeat = in->plc_heartbeat;
    } else if (in->plc_heartbeat != s->plc_heartbeat) {
        s->plc_heartbeat = in->plc_heartbeat;
        s->heartbeat_seen = true;
        s->heartbeat_us = s->wall_us;
    }
    int64_t limit_us = 1000LL * s->config.heartbeat_limit_ms;
    s->heartbeat_fresh = in->controlled && s->heartbeat_seen && s->wall_us - s->heartbeat_us < limit_us;
}

/* Hard-wired permissives have to be there on every rail's inputs. */
static uint16_t hard_wired(const struct kr_station *s)
{
    uint16_t all = ALL_PERMISSIVES;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        const struct kr_axis_in *axis = &s->in.axis[r];
        all &= axis->link ? (uint16_t)(axis->inputs / KR_DI_LINE_STOPPED) : 0;
    }
    return all & s->config.hard_wired;
}

/* Where hands may have been, a measured position is only remembered. */
static void access_step(struct kr_station *s)
{
    bool open = permit_missing(s, s->config.access) != 0;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        const struct kr_axis_in *axis = &s->in.axis[r];
        bool powered = axis->link && axis->statusword & KR_SW_VOLTAGE_ENABLED;
        if (open || !powered)
            rail_doubt(s, r, KR_REMEMBERED);
    }
}

void permit_step(struct kr_station *s)
{
    heartbeat_step(s);
    uint16_t given = s->heartbeat_fresh ? s->in.permissives & ALL_PERMISSIVES : 0;
    s->permissives = (uint16_t)((given & ~s->config.hard_wired) | hard_wired(s));
    access_step(s);
}

uint16_t permit_needed(const struct kr_station *s, enum kr_job job, enum kr_phase phase)
{
    if (job == KR_JOB_JOG)
        return s->config.need_jog;
    switch (phase) {
    case KR_PHASE_UNCLAMP:
    case KR_PHASE_MOVE:
    case KR_PHASE_CLAMP: return s->config.need_drag;
    case KR_PHASE_REFERENCE: return s->config.need_home;
    case KR_PHASE_SCAN:
    case KR_PHASE_PLAN:
    case KR_PHASE_VERIFY:
    case KR_PHASE_TRAVEL:
    case KR_PHASE_FREE: return s->config.need_scan;
    case KR_PHASE_JOG:
    case KR_PHASE_NONE: break;
    }
    if (job == KR_JOB_HOME)
        return s->config.need_home;
    bool drags = job == KR_JOB_CHANGEOVER || job == KR_JOB_PARK || job == KR_JOB_MOVE;
    return s->config.need_scan | (drags ? s->config.need_drag : 0);
}

uint16_t permit_missing(const struct kr_station *s, uint16_t needed)
{
    return (uint16_t)(needed & ~s->permissives);
}
