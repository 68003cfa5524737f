/* Inputs by hand. */
#include <stdio.h>

#include "commission.h"

/* What a carriage without a common clamp does not have is not asked for, nor a permissive that the PLC gives. */
static uint16_t asked_inputs(const struct commission *c, uint16_t rail)
{
    const struct kr_station_config *s = &c->station->station;
    uint16_t mask = commission_wired_inputs(c, rail), clamp = KR_DI_CLAMP_OPEN | KR_DI_CLAMP_CLOSED;
    if (s->carriage[rail].clamping != KR_CLAMP_COMMON)
        mask = mask & (uint16_t)~clamp;
    for (unsigned bit = 0; bit < 5; bit++)
        if ((s->drive_inputs >> bit & 1) == 0)
            mask = mask & (uint16_t) ~(KR_DI_LINE_STOPPED << bit);
    return mask;
}

/* A device that is let go meanwhile would be taken for a wire that is exchanged. */
static bool wait_let_go(struct commission *c, uint16_t rail)
{
    char line[COMMISSION_LINE_MAX];
    if (!commission_look(c))
        return false;
    if ((commission_inputs(c, rail) & KR_DI_JOG_ENABLE) == 0)
        return true;
    commission_say("Let go of the hold-to-run device; press Enter if nobody presses it.");
    while (commission_look_again(c))
        if ((commission_inputs(c, rail) & KR_DI_JOG_ENABLE) == 0 || commission_typed(c, line) || c->left)
            return !c->left;
    return false;
}

void commission_say_changes(uint16_t last, uint16_t now, const struct commission_signals *of)
{
    for (unsigned bit = 0; bit < of->n; bit++)
        if ((now ^ last) >> bit & 1 && of->name(bit) != NULL)
            commission_say("  %s%s %u%s", of->before, of->name(bit), now >> bit & 1u, of->behind);
}

void commission_say_inputs(uint16_t last, uint16_t now)
{
    static const struct commission_signals inputs = {KR_N_INPUT_SIGNALS, kr_input_signal, "", ""};
    commission_say_changes(last, now, &inputs);
}

/* The same inputs at the drives of the other rails, where they come and go if drives are exchanged. */
struct elsewhere {
    struct kr_input_watch watch[KR_RAILS_MAX];
    uint16_t last[KR_RAILS_MAX];
};

static void elsewhere_begin(const struct commission *c, uint16_t mask, struct elsewhere *e)
{
    for (uint16_t r = 0; r < c->station->station.geometry.n_rails; r++) {
        e->last[r] = commission_inputs(c, r);
        kr_input_watch_begin(&e->watch[r], mask, e->last[r]);
    }
}

/* Takes the inputs of the other rails, and says what has changed of those that are watched. */
static void elsewhere_step(const struct commission *c, uint16_t rail, struct elsewhere *e, struct kr_input_watch *own)
{
    char where[32];
    const struct commission_signals inputs = {KR_N_INPUT_SIGNALS, kr_input_signal, "", where};
    for (uint16_t r = 0; r < c->station->station.geometry.n_rails; r++) {
        uint16_t now = commission_inputs(c, r);
        if (r == rail)
            continue;
        snprintf(where, sizeof where, " at rail %u's drive", r + 1u);
        commission_say_changes((uint16_t)((e->last[r] & own->mask) | (now & ~own->mask)), now, &inputs);
        e->last[r] = now;
        if (kr_input_watch_step(&e->watch[r], now) && own->other_rail == 0) {
            own->other_rail = (uint16_t)(r + 1);
            own->link_setting = kr_link_setting(&c->station->drive[rail].link, &c->station->drive[r].link);
        }
    }
}

/* Says what is to be done, then each change by name, until all of the mask came and went, or the person gives up. */
static bool watch_inputs(struct commission *c, uint16_t rail, uint16_t mask, const char *what,
                         struct kr_input_watch *watch)
{
    char line[COMMISSION_LINE_MAX];
    if (!wait_let_go(c, rail))
        return false;
    commission_say("%s The program waits until it has seen the input come and go; press Enter to give up.", what);
    struct elsewhere elsewhere = {.last = {0}};
    uint16_t last = commission_inputs(c, rail);
    kr_input_watch_begin(watch, mask, last);
    elsewhere_begin(c, mask, &elsewhere);
    for (bool done = false; !done;) {
        if (!commission_look_again(c))
            return false;
        uint16_t now = commission_inputs(c, rail);
        commission_say_inputs(last, now);
        last = now;
        elsewhere_step(c, rail, &elsewhere, watch);
        done = kr_input_watch_step(watch, now) || commission_typed(c, line);
        if (c->left)
            return false;
    }
    return true;
}

static bool try_input(struct commission *c, uint16_t rail, uint16_t mask, const char *what,
                      struct kr_step_verdict *verdict)
{
    struct kr_input_watch seen;
    if ((mask & asked_inputs(c, rail)) == 0)
        return true;
    if (!watch_inputs(c, rail, mask & asked_inputs(c, rail), what, &seen))
        return false;
    kr_judge_input(&seen, verdict);
    return true;
}

/* Where the station file names the input, the program reads it; else a person does, at the drive. */
static bool try_limit(struct commission *c, uint16_t rail, int8_t side, struct kr_step_verdict *verdict)
{
    const char *text = side > 0 ? "drive" : "operator";
    uint16_t input = side > 0 ? KR_DI_LIMIT_HIGH : KR_DI_LIMIT_LOW;
    struct kr_limit_seen seen = {.side = side};
    char what[120];
    if ((asked_inputs(c, rail) & input) != 0) {
        snprintf(what, sizeof what, "Strike the limit switch at the %s side by hand, and let it go.", text);
        return try_input(c, rail, input, what, verdict);
    }
    if (!commission_ask_yes(c, &seen.has_input, "Does the drive of rail %u have a limit input at the %s side?",
                            rail + 1u, text))
        return false;
    if (seen.has_input &&
        !commission_ask_yes(c, &seen.input_seen,
                            "The drives' power and the air stay locked out. Make the limit switch at the %s side come "
                            "and go by hand, and look at the inputs that the drive itself shows. Did it come and go "
                            "there?",
                            text))
        return false;
    kr_judge_limit(&seen, verdict);
    return true;
}

static bool try_by_hand(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    bool yes;
    if (!commission_ask_yes(c, &yes, "Can the pin be moved by hand while the air is out?"))
        return false;
    if (yes)
        return try_input(c, rail, KR_DI_PIN_IN | KR_DI_PIN_OUT,
                         "Move the pin in until its input is seen, and out again.", verdict);
    kr_figure_add(verdict, "pin_in, pin_out", "not moved by hand: the step of the outputs tries them under air");
    return true;
}

/* The names of the permissives and of the inputs that can give them. */
static bool try_permissives(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    for (unsigned bit = 8; bit < 13; bit++) {
        char what[120];
        snprintf(what, sizeof what, "Make the input %s change and change back, by what it is wired to.",
                 kr_input_signal(bit));
        if (!try_input(c, rail, (uint16_t)(1u << bit), what, verdict))
            return false;
    }
    return true;
}

bool commission_walk_INPUTS(struct commission *c, uint16_t rail, struct kr_step_verdict *verdict)
{
    bool yes, flag, linked;
    if (!commission_wait_link(c, rail, &linked))
        return false;
    if (!linked) {
        kr_finding_add(verdict, "", "let the step \"The drive and its parameters\" be made again: it says why",
                       "The drive does not answer, so that its inputs are not seen.");
        return true;
    }
    if (!commission_ask_yes(c, &yes,
                            "Are the drives' power and the air locked out, and was it checked that both are gone?"))
        return false;
    if (!yes) {
        kr_finding_add(verdict, "", "lock out and tag out both first", "Power or air is not locked out.");
        return true;
    }
    if (!commission_ask_enter(c,
                              "Look at rail %u: the pin is out, brake and clamp are closed%s. Press Enter when it is "
                              "so.",
                              rail + 1u,
                              asked_inputs(c, rail) & (KR_DI_LIMIT_LOW | KR_DI_LIMIT_HIGH)
                                  ? ", and the carriage is at no limit switch"
                                  : "") ||
        !commission_ask_yes(c, &flag, "Is a flag before the proximity switch?") || !commission_look(c))
        return false;
    kr_judge_rest(asked_inputs(c, rail), commission_inputs(c, rail), flag, verdict);
    return try_input(c, rail, KR_DI_FLAG,
                     "If no flag is before the proximity switch, hold a piece of steel before it, and take it away "
                     "again. If a flag is before it, push the carriage by hand off the flag, and back.",
                     verdict) &&
           try_by_hand(c, rail, verdict) &&
           try_input(c, rail, KR_DI_JOG_ENABLE, "Press the hold-to-run device, and let it go.", verdict) &&
           try_limit(c, rail, -1, verdict) && try_limit(c, rail, 1, verdict) && try_permissives(c, rail, verdict);
}
