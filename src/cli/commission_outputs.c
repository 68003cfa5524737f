/* Outputs one by one: a job tries one output while the hold-to-run device is pressed. */
#include <stdio.h>

#include "commission.h"

#define TRY_MS  4000 /* longest time that a pin or a clamp has to move */
#define LOOK_MS 2000 /* an output is on at least for so long, so that a person sees what moves */

/* Holds the output on until the inputs show that it did what it should and a person could see it, or TRY_MS have
 * passed. Says meanwhile which inputs change. */
static bool hold_output(struct commission *c, uint16_t rail, struct kr_output_seen *seen)
{
    struct kr_output_seen so_far = *seen;
    uint16_t last = seen->before;
    int64_t on_ms = 0;
    for (int64_t until = commission_now_ms() + TRY_MS; commission_now_ms() < until;) {
        static struct kr_step_verdict verdict;
        if (!commission_hold(c, 1) || !commission_look_again(c))
            return false;
        if (commission_unit_state(c) != KR_STATE_EXECUTE) {
            if (commission_alarm(c, so_far.alarm, sizeof so_far.alarm) == 0)
                so_far.alarm[0] = '\0';
            break;
        }
        bool on = (commission_outputs(c, rail) & seen->output) != 0;
        commission_say_inputs(last, commission_inputs(c, rail));
        last = commission_inputs(c, rail);
        on_ms = !on ? 0 : on_ms == 0 ? commission_now_ms() : on_ms;
        so_far.came_on = so_far.came_on || on;
        if (on)
            so_far.after = commission_inputs(c, rail);
        verdict = (struct kr_step_verdict){.n_findings = 0};
        so_far.person_saw = true;
        kr_judge_output(&so_far, &verdict);
        if (kr_step_passes(&verdict) && on && commission_now_ms() - on_ms >= LOOK_MS)
            break;
    }
    *seen = so_far;
    return commission_hold(c, 0);
}

static bool try_output(struct commission *c, uint16_t rail, uint16_t output, bool over_holder,
                       struct kr_step_verdict *verdict)
{
    struct kr_output_seen seen = {
        .output = output, .wired = commission_wired_inputs(c, rail), .over_holder = over_holder};
    const struct commission_job job = {.job = KR_JOB_TRY, .rail_number = (uint16_t)(rail + 1), .output = output};
    unsigned bit = 0;
    while (1u << bit != output)
        bit++;
    if (!commission_ask_enter(c, "Output %s of rail %u comes on next. Nobody's hands are near. Press Enter.",
                              kr_output_signal(bit), rail + 1u) ||
        !commission_wait_pressed(c, rail) || !commission_start(c, &job) || !commission_look(c))
        return false;
    seen.before = seen.after = commission_inputs(c, rail);
    if (!hold_output(c, rail, &seen) || !commission_stop(c))
        return false;
    if (!commission_ask_yes(c, &seen.person_saw,
                            "Did the part that output %s controls move, and did nothing else move?",
                            kr_output_signal(bit)))
        return false;
    kr_judge_output(&seen, verdict);
    return true;
}

static bool try_outputs(struct commission *c, uint16_t rail, bool over_holder, struct kr_step_verdict *verdict)
{
    const struct kr_drivemap *map = &c->station->drive[rail].map;
    bool common = c->station->station.carriage[rail].clamping == KR_CLAMP_COMMON;
    for (unsigned bit = 0; bit < KR_N_OUTPUT_SIGNALS; bit++) {
        uint16_t output = (uint16_t)(1u << bit);
        if (map->output_bit[bit] == KR_NO_BIT || (output == KR_DO_CLAMP_OPEN && !common))
            continue;
        if (!try_output(c, rail, output, over_holder, verdict))
            return false;
        if (!kr_step_passes(verdict))
            return true;
    }
    return true;
}

bool commission_walk_OUTPUTS(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    bool over_holder;
    if (!commission_ask_yes(c, &over_holder, "Does carriage %u stand over a holder, so that its pin can go in?",
                            rail + 1u) ||
        !commission_ask_enter(c,
                              "The outputs need the air of rail %u and the control voltage: take the lock off the air "
                              "alone. The drives' power stays locked out, and nobody's hands are near. Press Enter.",
                              rail + 1u) ||
        !try_outputs(c, rail, over_holder, verdict))
        return false;
    commission_say("Every output is off. Lock out the air again before hands come near. For the steps that follow give "
                   "air and the drives' power back, with nobody in the zone.");
    return true;
}
