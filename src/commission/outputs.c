/* Judges the inputs while one output is on. */
#include <stdio.h>

#include "kniferail/commission.h"
#include "signals.h"

/* The inputs that have to come, and to go, while an output is on. */
struct answer {
    uint16_t come, fall;
};

static struct answer answer_of(const struct kr_output_seen *seen)
{
    switch (seen->output) {
    case KR_DO_PIN_IN: return (struct answer){seen->over_holder ? KR_DI_PIN_IN : 0, KR_DI_PIN_OUT};
    case KR_DO_PIN_OUT: return (struct answer){KR_DI_PIN_OUT, KR_DI_PIN_IN};
    case KR_DO_BRAKE_OPEN: return (struct answer){KR_DI_BRAKE_OPEN, KR_DI_BRAKE_CLOSED};
    case KR_DO_CLAMP_OPEN: return (struct answer){KR_DI_CLAMP_OPEN, KR_DI_CLAMP_CLOSED};
    default: return (struct answer){0, 0};
    }
}

static const char *output_name(uint16_t output)
{
    for (unsigned bit = 0; bit < KR_N_OUTPUT_SIGNALS; bit++)
        if (output == 1u << bit)
            return kr_output_signal(bit);
    return "?";
}

#define CARRIAGE_INPUTS \
    (KR_DI_PIN_IN | KR_DI_PIN_OUT | KR_DI_BRAKE_OPEN | KR_DI_BRAKE_CLOSED | KR_DI_CLAMP_OPEN | KR_DI_CLAMP_CLOSED)

/* Reports a wrong output: either nothing moved, or something else did. */
static void tell_wrong(const struct kr_output_seen *seen, uint16_t missing, uint16_t strangers,
                       struct kr_step_verdict *verdict)
{
    char setting[48], which[120], others[120];
    snprintf(setting, sizeof setting, "drive.outputs.%s", output_name(seen->output));
    inputs_text(missing, which, sizeof which);
    inputs_text(strangers, others, sizeof others);
    if (strangers != 0)
        kr_finding_add(verdict, setting,
                       "the bit to which its valve is wired; else the bits of the inputs that are named",
                       "Output %s was on, and inputs changed that do not belong to it: %s. Not as they should be: %s.",
                       output_name(seen->output), others, which);
    else
        kr_finding_add(
            verdict, "",
            "look whether there is air; with drives and air locked out, look at valve and cable, and for a part that "
            "is stuck; then at drive.outputs and drive.inputs",
            "Output %s was on, and inputs are not as they should be then: %s.", output_name(seen->output), which);
}

void kr_judge_output(const struct kr_output_seen *seen, struct kr_step_verdict *verdict)
{
    char name[48], inputs[200];
    struct answer answer = answer_of(seen);
    uint16_t missing = (uint16_t)(((answer.come & ~seen->after) | (answer.fall & seen->after)) & seen->wired);
    uint16_t own = answer.come | answer.fall | (seen->output == KR_DO_PIN_IN ? KR_DI_PIN_IN : 0);
    uint16_t strangers = (uint16_t)((seen->before ^ seen->after) & CARRIAGE_INPUTS & ~own);
    snprintf(name, sizeof name, "output %s", output_name(seen->output));
    if (seen->alarm[0] != '\0' && (!seen->came_on || missing != 0 || strangers != 0)) {
        kr_finding_add(verdict, "", "do what the alarm's remedy says, and let the step be made again",
                       "The try of output %s ended with an alarm: %.180s", output_name(seen->output), seen->alarm);
    } else if (!seen->came_on) {
        kr_finding_add(verdict, "", "give the permissives, press the hold-to-run device, and try again",
                       "Output %s did not come on.", output_name(seen->output));
    } else if (missing != 0 || strangers != 0) {
        tell_wrong(seen, missing, strangers, verdict);
    } else if (!seen->person_saw) {
        kr_finding_add(verdict, "",
                       "look which valve is wired to the output, and which sensor to the inputs; then at drive.outputs "
                       "and drive.inputs",
                       "The inputs follow output %s, and a person saw something else move, or nothing.",
                       output_name(seen->output));
    } else {
        kr_figure_add(verdict, name, "inputs at 1 while it was on: %s; a person saw it move, and nothing else",
                      inputs_text(seen->after & CARRIAGE_INPUTS, inputs, sizeof inputs));
        if (seen->output == KR_DO_PIN_IN && !seen->over_holder)
            kr_figure_add(verdict, "input pin_in", "not seen yet: the carriage stood over no holder");
    }
}
