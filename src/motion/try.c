/* Tries one output at commissioning: the pin, the brake or the clamp. Somebody holds the hold-to-run device and repeats
 * the request, and the drive is off. The output may release or push holders, so that their positions are unknown from
 * then on. That is stored before the output comes on. */
#include "try.h"

#include "knowledge.h"
#include "signals.h"
#include "trip.h"

/* A drive that is off can move nothing while a pin goes in or a brake opens. */
static bool drive_is_off(const struct rail *r)
{
    enum kr_drive_state state = kr_drive_state_of(axis_of(r)->statusword);
    return state != KR_DRIVE_OPERATION_ENABLED && state != KR_DRIVE_QUICK_STOP_ACTIVE &&
           state != KR_DRIVE_FAULT_REACTION_ACTIVE && state != KR_DRIVE_UNKNOWN;
}

void try_begin(const struct rail *r)
{
    places_demote(r, r->in->try_output == KR_DO_PIN_OUT ? KR_REMEMBERED : KR_UNKNOWN);
    knowledge_touch(r);
    r->m->docking_generation = knowledge_of(r)->generation;
    r->m->tried = 0;
    carriage_enter(r, KR_CARRIAGE_TRYING);
}

void try_step(const struct rail *r)
{
    bool is_stored = (int32_t)(r->in->stored - r->m->docking_generation) >= 0;
    if (!drive_is_off(r))
        carriage_trip(r, KR_ALARM_DRIVE_NOT_OFF, 0, axis_of(r)->statusword, 0);
    else
        r->m->tried = is_stored && r->in->jog_wanted == 1 ? r->in->try_output : 0;
}
