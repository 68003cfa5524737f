/* Judges inputs while somebody makes them come and go by hand. */
#include <stdio.h>
#include <string.h>

#include "kniferail/commission.h"
#include "signals.h"

const char *inputs_text(uint16_t mask, char *text, size_t size)
{
    size_t used = 0;
    snprintf(text, size, "none");
    for (unsigned bit = 0; bit < KR_N_INPUT_SIGNALS && used < size; bit++)
        if ((mask >> bit & 1) != 0 && kr_input_signal(bit) != NULL)
            used += (size_t)snprintf(text + used, size - used, "%s%s", used ? ", " : "", kr_input_signal(bit));
    return text;
}

void kr_input_watch_begin(struct kr_input_watch *watch, uint16_t mask, uint16_t inputs)
{
    *watch = (struct kr_input_watch){.mask = mask, .before = inputs};
}

/* An input has come once it was seen different from before, and has gone once it is as before again. */
bool kr_input_watch_step(struct kr_input_watch *watch, uint16_t inputs)
{
    uint16_t changed = (uint16_t)(inputs ^ watch->before);
    watch->went = (uint16_t)(watch->went | (watch->came & ~changed & watch->mask));
    watch->came = (uint16_t)(watch->came | (changed & watch->mask));
    watch->others = (uint16_t)(watch->others | (changed & ~watch->mask));
    return watch->came == watch->mask && watch->went == watch->mask;
}

static void setting_of(uint16_t mask, char setting[48])
{
    char name[32];
    for (unsigned bit = 0; bit < KR_N_INPUT_SIGNALS; bit++)
        if (mask >> bit & 1) {
            snprintf(setting, 48, "drive.inputs.%s", inputs_text((uint16_t)(1u << bit), name, sizeof name));
            return;
        }
    snprintf(setting, 48, "drive.inputs");
}

const char *kr_link_setting(const struct kr_drive_link *a, const struct kr_drive_link *b)
{
    if (a->serial != b->serial)
        return "drive.line";
    if (a->serial && strcmp(a->device, b->device) != 0)
        return "drive.device";
    if (!a->serial && strcmp(a->address, b->address) != 0)
        return "drive.address";
    return !a->serial && a->port != b->port ? "drive.port" : "drive.unit_id";
}

void kr_judge_input(const struct kr_input_watch *watch, struct kr_step_verdict *verdict)
{
    char names[120], others[200], setting[48], change[KR_CHANGE_MAX];
    uint16_t missing = watch->mask & (uint16_t) ~(watch->came & watch->went);
    inputs_text(watch->mask, names, sizeof names);
    if (missing != 0 && watch->other_rail != 0) {
        snprintf(change, sizeof change,
                 "that of rail %u's drive, and the other way round; or exchange the cables of the two drives",
                 watch->other_rail);
        kr_finding_add(verdict, watch->link_setting, change,
                       "Input %s was not seen to come and go at this rail's drive, and was seen at rail %u's drive: "
                       "drives or cables are exchanged.",
                       names, watch->other_rail);
    } else if (missing != 0) {
        setting_of(missing, setting);
        inputs_text(missing, names, sizeof names);
        inputs_text(watch->others, others, sizeof others);
        kr_finding_add(
            verdict, setting,
            "the bit to which it is wired; but first look, with drives and air locked out, at its sensor and cable",
            "Input %s was not seen to come and go; what else changed meanwhile: %s.", names, others);
    } else if (watch->others != 0) {
        setting_of(watch->others, setting);
        kr_finding_add(verdict, setting, "a bit of its own; or, if somebody touched it, let the step be made again",
                       "Input %s came and went, and with it changed %s.", names,
                       inputs_text(watch->others, others, sizeof others));
    } else {
        kr_figure_add(verdict, names, "seen to come and go, and nothing else with it");
    }
}

void kr_judge_limit(const struct kr_limit_seen *seen, struct kr_step_verdict *verdict)
{
    const char *side = seen->side > 0 ? "drive" : "operator";
    char name[80];
    snprintf(name, sizeof name, "limit input at the %s side", side);
    if (!seen->has_input)
        kr_figure_add(verdict, name, "there is none, by the word of a person");
    else if (seen->input_seen)
        kr_figure_add(verdict, name, "seen at the drive to come and go by hand, by the word of a person");
    else
        kr_finding_add(verdict, "",
                       "with drives and air locked out, look at the switch and its cable; then at the drive's own "
                       "assignment of this input (60FDh)",
                       "The limit input at the %s side was not seen at the drive when it was made to come and go by "
                       "hand.",
                       side);
}

void kr_judge_rest(uint16_t wired, uint16_t inputs, bool flag, struct kr_step_verdict *verdict)
{
    const struct {
        uint16_t on, off;
        const char *what;
    } row[] = {{KR_DI_PIN_OUT, KR_DI_PIN_IN, "the pin is out"},
               {KR_DI_BRAKE_CLOSED, KR_DI_BRAKE_OPEN, "the brake is closed"},
               {KR_DI_CLAMP_CLOSED, KR_DI_CLAMP_OPEN, "the clamp is closed"},
               {flag ? KR_DI_FLAG : 0, flag ? 0 : KR_DI_FLAG,
                flag ? "a flag is before the switch" : "no flag is before the switch"},
               {0, KR_DI_LIMIT_LOW | KR_DI_LIMIT_HIGH, "the carriage is at no limit switch"}};
    char on[48], off[48], setting[48];
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        uint16_t not_on = (uint16_t)(row[i].on & wired & ~inputs), not_off = row[i].off & wired & inputs;
        if (((row[i].on | row[i].off) & wired) == 0)
            continue;
        if (!not_on && !not_off) {
            kr_figure_add(verdict, row[i].what, "inputs at 1: %s; inputs at 0: %s",
                          inputs_text(row[i].on & wired, on, sizeof on),
                          inputs_text(row[i].off & wired, off, sizeof off));
            continue;
        }
        setting_of(not_on ? not_on : not_off, setting);
        kr_finding_add(verdict, setting, "its own bit; or add the input to drive.inverted_inputs, or take it out there",
                       "A person says that %s, and the inputs say otherwise: 0 is %s, 1 is %s.", row[i].what,
                       inputs_text(not_on, on, sizeof on), inputs_text(not_off, off, sizeof off));
    }
}
