#include "timing.h"

#include <string.h>

void kr_motion_time_begin(struct kr_motion *motion)
{
    memset(&motion->timing, 0, sizeof motion->timing);
}

const struct kr_timing *kr_motion_timing(const struct kr_motion *motion)
{
    return &motion->timing;
}

/* ---- docking and undocking ------------------------------------------------------------------------------------- */

void timing_step_begins(const struct rail *r)
{
    r->m->timing.step_since_us = r->in->now_us;
}

void timing_step_fails(const struct rail *r)
{
    r->m->timing.step_since_us = 0;
}

static void count(const struct rail *r, uint16_t *n, int64_t *sum_us)
{
    struct kr_timing *t = &r->m->timing;
    if (t->step_since_us != 0 && *n < UINT16_MAX) {
        (*n)++;
        *sum_us += r->in->now_us - t->step_since_us;
    }
    t->step_since_us = 0;
}

void timing_docked(const struct rail *r)
{
    count(r, &r->m->timing.docks, &r->m->timing.dock_us);
}

void timing_undocked(const struct rail *r)
{
    count(r, &r->m->timing.undocks, &r->m->timing.undock_us);
}

/* ---- ways ------------------------------------------------------------------------------------------------------ */

void timing_way_given(const struct rail *r)
{
    r->m->drive.from_um = r->in->axis[0].position_um;
    r->m->drive.given_us = r->in->now_us;
}

void timing_way_taken(const struct rail *r)
{
    r->m->drive.taken_us = r->in->now_us;
}

/* Counts a finished travel. A jog, a search for references, and a scan that changes its speed do not count, because
 * they get new set-points on the way. */
void timing_way_gone(const struct rail *r)
{
    const struct kr_drive_control *d = &r->m->drive;
    struct kr_timing *t = &r->m->timing;
    int64_t way_um = (int64_t)d->target_um - d->from_um;
    enum kr_carriage_phase phase = r->m->phase;
    bool counts = phase == KR_CARRIAGE_TRAVELLING || phase == KR_CARRIAGE_DRAGGING || phase == KR_CARRIAGE_SCANNING;
    bool changes = phase == KR_CARRIAGE_SCANNING && r->m->scan.predicted;
    if (!counts || changes || d->homing || way_um == 0 || t->ways == UINT16_MAX)
        return;
    t->ways++;
    t->setpoint_us += d->taken_us - d->given_us;
    t->rounding_us += r->in->now_us - d->taken_us - kr_move_time_us(way_um < 0 ? -way_um : way_um, d->speed);
}
