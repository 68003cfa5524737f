/* The interface of a rail: its task, its cycle, its outputs, and questions about its state. */
#include "kniferail/motion.h"

#include <string.h>

#include "carriage.h"
#include "drive.h"
#include "scan.h"
#include "trip.h"
#include "wind_down.h"

/* ---- tasks ----------------------------------------------------------------------------------------------------- */

void kr_motion_give(struct kr_motion *motion, const struct kr_motion_in *in, enum kr_task task)
{
    struct rail r = {motion, in, NULL};
    if (motion->task == task || motion->phase == KR_CARRIAGE_STOPPING)
        return;
    motion->task = task;
    motion->task_done = false;
    motion->move = 0;
    motion->tries = 0;
    motion->jog = KR_JOG_STANDING;
    if (motion->phase == KR_CARRIAGE_READY)
        carriage_enter(&r, KR_CARRIAGE_READY);
}

void kr_motion_take_back(struct kr_motion *motion)
{
    motion->task = KR_TASK_NONE;
    motion->task_done = false;
}

bool kr_motion_done(const struct kr_motion *motion)
{
    return motion->task_done;
}

/* ---- a cycle --------------------------------------------------------------------------------------------------- */

bool kr_motion_meet(struct kr_motion *motion, const struct kr_motion_in *in)
{
    if (motion->met || !in->axis[0].link)
        return false;
    motion->met = true;
    return wind_down_found_running(&(struct rail){motion, in, NULL});
}

void kr_motion_step(struct kr_motion *motion, const struct kr_motion_in *in, struct kr_motion_out *out)
{
    carriage_step(&(struct rail){motion, in, out});
}

static unsigned device_outputs(const struct kr_motion *m)
{
    switch (m->phase) {
    case KR_CARRIAGE_DOCKING: return KR_DO_PIN_IN;
    case KR_CARRIAGE_FREEING:
    case KR_CARRIAGE_DRAGGING:
    case KR_CARRIAGE_SETTLING: return KR_DO_PIN_IN | KR_DO_BRAKE_OPEN;
    case KR_CARRIAGE_BRAKING: return m->task == KR_TASK_FREE ? 0u : KR_DO_PIN_IN;
    case KR_CARRIAGE_UNDOCKING:
    case KR_CARRIAGE_BACKING:
    case KR_CARRIAGE_ENABLING:
    case KR_CARRIAGE_READY:
    case KR_CARRIAGE_TRAVELLING:
    case KR_CARRIAGE_SCANNING:
    case KR_CARRIAGE_JOGGING:
    case KR_CARRIAGE_FINDING:
    case KR_CARRIAGE_HOMING: return KR_DO_PIN_OUT;
    case KR_CARRIAGE_TRYING: return m->tried;
    case KR_CARRIAGE_STOPPING:
        if (m->wind_down == KR_WIND_DECELERATE && m->docked)
            return m->brake_is_open ? KR_DO_PIN_IN | KR_DO_BRAKE_OPEN : 0u;
        return m->wind_down == KR_WIND_UNDOCK ? KR_DO_PIN_OUT : 0u;
    case KR_CARRIAGE_OFF: break;
    }
    return 0;
}

void kr_motion_outputs(const struct kr_motion *motion, const struct kr_motion_in *in, struct kr_axis_out axis[])
{
    unsigned clamp = motion->clamp_open ? KR_DO_CLAMP_OPEN : 0u;
    memset(axis, 0, in->n_axes * sizeof axis[0]);
    axis[0].serial = in->serial;
    drive_outputs(motion, in, &axis[0]);
    axis[0].outputs = (uint16_t)(device_outputs(motion) | clamp);
    axis[0].probe_function = scan_probe(motion, in->carriage);
}

/* ---- questions ------------------------------------------------------------------------------------------------- */

enum kr_carriage_phase kr_motion_phase(const struct kr_motion *motion)
{
    return motion->phase;
}

uint16_t kr_motion_docked(const struct kr_motion *motion)
{
    return motion->docked;
}

int32_t kr_motion_target_um(const struct kr_motion *motion)
{
    return motion->drive.target_um;
}

bool kr_motion_at_rest(const struct kr_motion *motion)
{
    return motion->phase == KR_CARRIAGE_OFF;
}
