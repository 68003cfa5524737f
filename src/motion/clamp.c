/* The common clamp of a rail (air shaft), which holds all of its holders. The fact that it may be open is stored before
 * it opens. Its closing must be proven, because it shifts holders a little. */
#include "clamp.h"

#include "knowledge.h"
#include "signals.h"
#include "trip.h"

void kr_motion_unclamp_due(struct kr_motion *motion, const struct kr_motion_in *in)
{
    struct rail r = {motion, in, NULL};
    if (knowledge_of(&r)->clamp_open)
        return;
    knowledge_of(&r)->clamp_open = true;
    knowledge_touch(&r);
    motion->clamp_generation = knowledge_of(&r)->generation;
}

bool kr_motion_clamp(struct kr_motion *motion, const struct kr_motion_in *in, bool open)
{
    struct rail r = {motion, in, NULL};
    bool is_stored = (int32_t)(in->stored - motion->clamp_generation) >= 0;
    if (open && !(knowledge_of(&r)->clamp_open && is_stored))
        return false;
    motion->clamp_open = open;
    motion->clamp_since_ms = now_ms(&r);
    motion->proof = in->serial;
    return true;
}

bool kr_motion_clamp_proven(struct kr_motion *motion, const struct kr_motion_in *in, struct kr_motion_out *out)
{
    struct rail r = {motion, in, out};
    bool open = motion->clamp_open;
    int32_t limit_ms = in->carriage->clamp_limit_ms;
    if (input_proven(&r, open ? KR_DI_CLAMP_OPEN : KR_DI_CLAMP_CLOSED, open ? KR_DI_CLAMP_CLOSED : KR_DI_CLAMP_OPEN))
        return true;
    if (now_ms(&r) - motion->clamp_since_ms >= limit_ms)
        carriage_trip(&r, open ? KR_ALARM_CLAMP_NOT_OPEN : KR_ALARM_CLAMP_NOT_CLOSED, 0, limit_ms, 0);
    return false;
}

void kr_motion_clamp_watch(struct kr_motion *motion, const struct kr_motion_in *in, struct kr_motion_out *out)
{
    struct rail r = {motion, in, out};
    if (motion->clamp_open && axis_of(&r)->link && !carriage_input(&r, KR_DI_CLAMP_OPEN, KR_DI_CLAMP_CLOSED))
        carriage_trip(&r, KR_ALARM_CLAMP_LOST, 0, 0, 0);
}

void kr_motion_clamped_again(struct kr_motion *motion, const struct kr_motion_in *in)
{
    struct rail r = {motion, in, NULL};
    places_demote(&r, KR_PLACED); /* clamping shifts holders a little */
    knowledge_of(&r)->clamp_open = false;
    knowledge_touch(&r);
}

/* The clamp closes as soon as nothing moves. Holders that it did not hold may have shifted by then. */
void clamp_again(const struct rail *r)
{
    if (!r->m->clamp_open && !knowledge_of(r)->clamp_open)
        return;
    r->m->clamp_open = false;
    knowledge_of(r)->clamp_open = false;
    places_demote(r, KR_UNKNOWN);
    knowledge_touch(r);
}
