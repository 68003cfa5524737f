#include "unit_state.h"

bool unit_in_job(enum kr_unit_state state)
{
    switch (state) {
    case KR_STATE_STARTING:
    case KR_STATE_EXECUTE:
    case KR_STATE_COMPLETING:
    case KR_STATE_HOLDING:
    case KR_STATE_HELD:
    case KR_STATE_UNHOLDING:
    case KR_STATE_SUSPENDING:
    case KR_STATE_SUSPENDED:
    case KR_STATE_UNSUSPENDING: return true;
    case KR_STATE_CLEARING:
    case KR_STATE_STOPPED:
    case KR_STATE_IDLE:
    case KR_STATE_STOPPING:
    case KR_STATE_ABORTING:
    case KR_STATE_ABORTED:
    case KR_STATE_RESETTING:
    case KR_STATE_COMPLETE: break;
    }
    return false;
}

bool unit_is_idle(enum kr_unit_state state)
{
    return state == KR_STATE_STOPPED || state == KR_STATE_IDLE;
}
