/* The start of a job, and the guided release of a pin that is not proven out: nothing travels on its rail before. */
#include <stdio.h>

#include "commission.h"

#define ON_ITS_WAY_MS 3000 /* longest time until a pin that is on its way out is proven out */

static const char caution[] =
    "Lock out and tag out drives and air, and check that both are gone, before anybody looks whether the pin is stuck "
    "and whether its sensors work; wear cut-resistant gloves, and cover blades that are near. Then take off the locks, "
    "see that nobody is in the zone, close the guards, and keep a hand at the emergency stop. The guided release "
    "(job 5) is given at reduced speed: it closes the brake and drives the pin out where the carriage stands, and the "
    "carriage does not travel. Local codes and those who are licensed for this work come first.";

static uint16_t docked(const struct commission *c, uint16_t rail)
{
    return kr_get_u16(&c->client.image, KR_REG_DOCKED_HOLDER, rail, 0);
}

bool commission_pin_may_be_in(struct commission *c, uint16_t rail, bool *in)
{
    int64_t until = commission_now_ms() + ON_ITS_WAY_MS;
    do {
        if (!commission_look_again(c))
            return false;
        *in = kr_get_u16(&c->client.image, KR_REG_RAIL_LINK, rail, 0) != 0 && docked(c, rail) != 0;
    } while (*in && commission_now_ms() < until);
    return true;
}

/* Shows the inputs and outputs of the carriage as they change, until the job has ended. */
static bool watch(struct commission *c, uint16_t rail, struct kr_job_seen *seen)
{
    static const struct commission_signals ins = {KR_N_INPUT_SIGNALS, kr_input_signal, "input ", ""},
                                           outs = {KR_N_OUTPUT_SIGNALS, kr_output_signal, "output ", ""};
    char line[COMMISSION_LINE_MAX];
    int64_t began = commission_now_ms();
    uint16_t inputs = commission_inputs(c, rail), outputs = commission_outputs(c, rail);
    do {
        if (!commission_look_again(c))
            return false;
        commission_say_changes(outputs, commission_outputs(c, rail), &outs);
        commission_say_changes(inputs, commission_inputs(c, rail), &ins);
        inputs = commission_inputs(c, rail);
        outputs = commission_outputs(c, rail);
        (void)commission_typed(c, line);
        if (c->left)
            return false;
    } while (!commission_job_has_ended(c));
    seen->complete = commission_unit_state(c) == KR_STATE_COMPLETE;
    seen->took_ms = (int32_t)(commission_now_ms() - began);
    seen->alarm_code = seen->complete ? 0 : commission_alarm(c, seen->alarm, sizeof seen->alarm);
    return !c->failed;
}

static bool give(struct commission *c, uint16_t rail, struct kr_release_seen *seen, bool *started)
{
    const struct commission_job job = {.job = KR_JOB_RELEASE, .rail_number = (uint16_t)(rail + 1)};
    if (!commission_confirm_control(c) || !commission_start_once(c, &job, started))
        return false;
    if (!*started)
        return true;
    if (!watch(c, rail, &seen->job) || !commission_stop(c) || !commission_look(c))
        return false;
    seen->docked_after = docked(c, rail);
    return true;
}

static void say_outcome(const struct kr_release_seen *seen)
{
    static struct kr_step_verdict verdict;
    verdict = (struct kr_step_verdict){.n_findings = 0};
    kr_judge_release(seen, &verdict);
    if (verdict.n_findings > 0)
        commission_say("NOT RELEASED\n  %s\n  To do: %s.", verdict.finding[0].seen, verdict.finding[0].change);
    else
        commission_say("RELEASED\n  %s: %s. Where that holder stands is not known until its rail is scanned.",
                       verdict.figure[0].name, verdict.figure[0].value);
}

bool commission_offer_release(struct commission *c, uint16_t rail)
{
    struct kr_release_seen *seen = &c->release[rail];
    bool started = false;
    *seen = (struct kr_release_seen){.rail_number = (uint16_t)(rail + 1), .docked = docked(c, rail)};
    seen->docked_after = seen->docked;
    commission_say("\nThe pin of carriage %u is not proven out. Nothing travels on rail %u before it is.", rail + 1u,
                   rail + 1u);
    commission_say("CAUTION. %s", caution);
    do {
        if (!commission_ask_yes(c, &seen->wanted,
                                "Carriage %u: was it looked at, is nobody in the zone, and is the pin to be driven out "
                                "now?",
                                rail + 1u))
            return false;
        if (seen->wanted && !give(c, rail, seen, &started))
            return false;
    } while (seen->wanted && !started);
    say_outcome(seen);
    return true;
}

/* What became of a pin because of which the station has just refused a job. */
enum refused {
    STILL_REFUSED,  /* it may be in, or something else is refused */
    WAS_ON_ITS_WAY, /* it has come out by itself */
    LET_GO          /* it has come out after the release was offered, for which people may have gone to it */
};

/* Offers the release if the station has just refused a job because of a rail's pin. */
static bool release_if_needed(struct commission *c, enum refused *pin)
{
    const struct kr_image *image = &c->client.image;
    uint16_t number = kr_get_u16(image, KR_REG_COMMAND_RESULT_RAIL, 0, 0);
    bool in = false;
    *pin = STILL_REFUSED;
    if (kr_get_u16(image, KR_REG_COMMAND_RESULT, 0, 0) != KR_RELEASE_NEEDED || number < 1 ||
        number > c->station->station.geometry.n_rails)
        return true;
    if (!commission_pin_may_be_in(c, (uint16_t)(number - 1), &in))
        return false;
    if (!in) {
        *pin = WAS_ON_ITS_WAY;
        return true;
    }
    if (!commission_offer_release(c, (uint16_t)(number - 1)))
        return false;
    if (c->release[number - 1].docked_after == 0)
        *pin = LET_GO;
    return true;
}

bool commission_start(struct commission *c, const struct commission_job *job)
{
    static const char *const asked[] = {
        [STILL_REFUSED] = "Press Enter to try again, or type leave.",
        [LET_GO] = "The pin is proven out. The job that was refused starts next, and the carriage moves. Nobody is in "
                   "the zone, the guards are closed, and a hand is at the emergency stop. Press Enter."};
    bool started = false;
    enum refused pin;
    while (commission_confirm_control(c) && commission_start_once(c, job, &started) && !started) {
        if (!release_if_needed(c, &pin))
            return false;
        if (pin != WAS_ON_ITS_WAY && !commission_ask_enter(c, "%s", asked[pin]))
            return false;
    }
    return started;
}
