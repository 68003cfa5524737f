/* The station, as kniferail commission sees and commands it. It writes the blocks COMMAND and JOG, and never LINE: the
 * PLC, with which this computer shares control, gives heartbeat and permissives. */
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "commission.h"

#define ANSWER_MS 10000 /* longest time until a command is echoed, and until a state changes */

static void pause_ms(int ms)
{
    const struct timespec pause = {.tv_nsec = ms * 1000000L};
    nanosleep(&pause, NULL);
}

static bool fail(struct commission *c, const char *why)
{
    fprintf(stderr, "kniferail commission: %s\n", why);
    c->failed = true;
    return false;
}

/* ---- what the station shows ------------------------------------------------------------------------------------ */

/* Reads all registers before the rail's arrays in one transfer, so that all of it is of one cycle. */
static bool look_at_rail(struct commission *c, uint16_t rail)
{
    uint16_t words =
        (uint16_t)(kr_reg_address(KR_REG_CARRIAGE_SPAN, rail, 0) + 1 - kr_reg_address(KR_REG_RAIL_ROLE, rail, 0));
    return kr_client_row(&c->client, KR_REG_RAIL_ROLE, rail, words);
}

bool commission_look(struct commission *c)
{
    if (commission_interrupted(c))
        return false;
    commission_keep_also_alive(c);
    bool seen = kr_client_block(&c->client, KR_BLOCK_RUN);
    for (uint16_t r = 0; seen && r < c->station->station.geometry.n_rails; r++)
        seen = look_at_rail(c, r);
    return seen || fail(c, c->client.error);
}

bool commission_look_again(struct commission *c)
{
    pause_ms(COMMISSION_POLL_MS);
    return commission_look(c);
}

uint16_t commission_wired_inputs(const struct commission *c, uint16_t rail)
{
    uint16_t mask = 0;
    for (unsigned bit = 0; bit < KR_N_INPUT_SIGNALS; bit++)
        if (c->station->drive[rail].map.input_bit[bit] != KR_NO_BIT && kr_input_signal(bit) != NULL)
            mask = (uint16_t)(mask | 1u << bit);
    return mask;
}

uint16_t commission_inputs(const struct commission *c, uint16_t rail)
{
    return kr_get_u16(&c->client.image, KR_REG_RAIL_INPUTS, rail, 0);
}

uint16_t commission_outputs(const struct commission *c, uint16_t rail)
{
    return kr_get_u16(&c->client.image, KR_REG_RAIL_OUTPUTS, rail, 0);
}

int32_t commission_place_um(const struct commission *c, uint16_t rail)
{
    return kr_get_um(&c->client.image, KR_REG_CARRIAGE_POSITION, rail, 0);
}

uint16_t commission_unit_state(const struct commission *c)
{
    return kr_get_u16(&c->client.image, KR_REG_UNIT_STATE, 0, 0);
}

bool commission_status(const struct commission *c, uint16_t status_bit)
{
    return (kr_get_u16(&c->client.image, KR_REG_STATUS, 0, 0) & status_bit) != 0;
}

/* Returns the oldest alarm that stops something, if there is one, because a notice may have come before it. */
static struct kr_alarm foremost_alarm(const struct kr_image *image)
{
    for (uint16_t i = 0; i < kr_get_alarms(image); i++) {
        struct kr_alarm alarm = kr_get_alarm(image, i);
        const struct kr_alarm_info *info = kr_alarm_info(alarm.code);
        if (info != NULL && info->reaction != KR_REACT_NONE)
            return alarm;
    }
    return kr_get_alarm(image, 0);
}

uint16_t commission_alarm(struct commission *c, char *text, size_t size)
{
    snprintf(text, size, "no alarm stands");
    if (!kr_client_block(&c->client, KR_BLOCK_ALARMS) || !kr_client_block(&c->client, KR_BLOCK_ALARM_LIMITS) ||
        !kr_client_block(&c->client, KR_BLOCK_RUN) || kr_get_alarms(&c->client.image) == 0)
        return 0;
    struct kr_alarm alarm = foremost_alarm(&c->client.image);
    const struct kr_alarm_info *info = kr_alarm_info(alarm.code);
    char sentence[256];
    kr_alarm_text(&alarm, c->client.image.format.length_unit, sentence, sizeof sentence);
    snprintf(text, size, "%s: %s. %s", info ? info->name : "an unknown alarm", sentence, info ? info->remedy : "");
    return alarm.code;
}

/* ---- control --------------------------------------------------------------------------------------------------- */

static const char *why_no_command(const struct kr_image *image)
{
    if (kr_get_u16(image, KR_REG_OWN_ROLE, 0, 0) != KR_OWN_ROLE_MAINTAIN)
        return "This computer's address may not maintain: face.rules of the station file gives it that right.";
    if (kr_get_u16(image, KR_REG_CONTROL_HELD, 0, 0) == KR_CONTROL_FREE)
        return "Nobody is in control. The PLC takes control and writes heartbeat and permissives; this program never "
               "gives a permissive. Against the simulator alone, and never on a machine, plc.py --pretend of the "
               "source tree does that, and says what it pretends.";
    if (kr_get_u16(image, KR_REG_OWN_CONTROL, 0, 0) != 1)
        return "The PLC is in control alone. Put its address and this computer's into one of face.groups of the "
               "station file, for as long as the machine is commissioned: they share control then.";
    if ((kr_get_u16(image, KR_REG_STATUS, 0, 0) & KR_STATUS_HEARTBEAT_FRESH) == 0)
        return "The PLC's heartbeat stands still.";
    return NULL;
}

/* *waited tells whether the station took no commands at first. */
static bool wait_control(struct commission *c, bool *waited)
{
    const char *told = NULL;
    char line[COMMISSION_LINE_MAX];
    for (;;) {
        if (!commission_look_again(c) || !kr_client_block(&c->client, KR_BLOCK_ABOUT))
            return c->failed ? false : fail(c, c->client.error);
        const char *why = why_no_command(&c->client.image);
        if (why == NULL)
            return true;
        if (told != why)
            commission_say("%s The program waits for it.", why);
        *waited = true;
        told = why;
        (void)commission_typed(c, line);
        if (c->left)
            return false;
    }
}

bool commission_wait_control(struct commission *c)
{
    bool waited = false;
    return wait_control(c, &waited);
}

bool commission_confirm_control(struct commission *c)
{
    for (;;) {
        bool waited = false;
        if (!wait_control(c, &waited))
            return false;
        if (!waited)
            return true;
        if (!commission_ask_enter(c, "The PLC is heard again. See that nobody is in the zone. Press Enter, and what "
                                     "was asked for moves."))
            return false;
    }
}

/* ---- commands -------------------------------------------------------------------------------------------------- */

#define FIRST_WORD(reg) (kr_reg_address(reg, 0, 0) - kr_reg_address(KR_REG_COMMAND_SESSION, 0, 0))

static uint16_t next_number(const struct commission *c)
{
    uint16_t last = kr_get_u16(&c->client.image, KR_REG_COMMAND_ECHO, 0, 0);
    return last == UINT16_MAX ? 1 : (uint16_t)(last + 1);
}

static void put_long(uint16_t word[2], uint32_t value, bool low_first)
{
    word[low_first ? 0 : 1] = (uint16_t)(value & 0xFFFFu);
    word[low_first ? 1 : 0] = (uint16_t)(value >> 16);
}

static bool write_command(struct commission *c, enum kr_command command, const struct commission_job *job,
                          uint16_t number)
{
    uint16_t word[16] = {0};
    const struct kr_format *format = &c->client.image.format;
    uint32_t count = (uint32_t)kr_count_from_nm(INT64_C(1000) * job->position_um, format->length_unit);
    word[FIRST_WORD(KR_REG_COMMAND_SESSION)] = kr_get_u16(&c->client.image, KR_REG_SESSION, 0, 0);
    word[FIRST_WORD(KR_REG_COMMAND)] = (uint16_t)command;
    word[FIRST_WORD(KR_REG_COMMAND_JOB)] = (uint16_t)job->job;
    word[FIRST_WORD(KR_REG_COMMAND_RAIL)] = job->rail_number;
    word[FIRST_WORD(KR_REG_COMMAND_HOLDER)] = job->holder_number;
    word[FIRST_WORD(KR_REG_COMMAND_SPEED)] = job->production ? KR_SPEED_PRODUCTION : KR_SPEED_REDUCED;
    put_long(&word[FIRST_WORD(KR_REG_COMMAND_POSITION)], count, format->low_word_first);
    put_long(&word[FIRST_WORD(KR_REG_COMMAND_ORDER)], job->order, format->low_word_first);
    word[FIRST_WORD(KR_REG_COMMAND_NUMBER)] = number;
    word[FIRST_WORD(KR_REG_COMMAND_OUTPUT)] = job->output;
    uint16_t n = (uint16_t)(FIRST_WORD(KR_REG_COMMAND_ORDER) + 2);
    return kr_client_write(&c->client, kr_reg_address(KR_REG_COMMAND_SESSION, 0, 0), word, n) ||
           fail(c, c->client.error);
}

static bool give(struct commission *c, enum kr_command command, const struct commission_job *job, enum kr_code *code)
{
    if (!commission_look(c))
        return false;
    uint16_t number = next_number(c);
    if (!write_command(c, command, job, number))
        return false;
    for (int64_t until = commission_now_ms() + ANSWER_MS; commission_now_ms() < until;) {
        if (!commission_look_again(c))
            return false;
        if (kr_get_u16(&c->client.image, KR_REG_COMMAND_ECHO, 0, 0) == number) {
            *code = (enum kr_code)kr_get_u16(&c->client.image, KR_REG_COMMAND_RESULT, 0, 0);
            return true;
        }
    }
    return fail(c, "the station does not answer a command");
}

bool commission_command(struct commission *c, enum kr_command command, enum kr_code *code)
{
    const struct commission_job none = {.job = (enum kr_job)0};
    return give(c, command, &none, code);
}

/* Returns the command that leads from a state towards Stopped, or from Stopped to Idle; 0: there is none, or the unit
 * is already there. */
static enum kr_command command_towards(uint16_t state, bool idle)
{
    switch (state) {
    case KR_STATE_STOPPED:
    case KR_STATE_COMPLETE: return idle ? KR_COMMAND_RESET : state == KR_STATE_COMPLETE ? KR_COMMAND_STOP : 0;
    case KR_STATE_ABORTED: return KR_COMMAND_CLEAR;
    case KR_STATE_IDLE: return idle ? 0 : KR_COMMAND_STOP;
    case KR_STATE_EXECUTE:
    case KR_STATE_HELD:
    case KR_STATE_SUSPENDED: return KR_COMMAND_STOP;
    default: return 0;
    }
}

/* Leads the unit to a state. If this returns false and neither left nor failed is set, the unit does not get there, and
 * the alarm says why. */
static bool lead_to(struct commission *c, uint16_t goal)
{
    for (int64_t until = commission_now_ms() + ANSWER_MS; commission_now_ms() < until;) {
        enum kr_code code;
        if (!commission_look_again(c))
            return false;
        uint16_t state = commission_unit_state(c);
        if (state == goal)
            return true;
        enum kr_command command = command_towards(state, goal == KR_STATE_IDLE);
        if (command != 0 && !commission_command(c, command, &code))
            return false;
    }
    return false;
}

bool commission_stop(struct commission *c)
{
    c->started = false;
    return lead_to(c, KR_STATE_STOPPED) || (c->failed ? false : fail(c, "the unit does not come to Stopped"));
}

bool commission_acknowledge(struct commission *c)
{
    c->started = false;
    return (lead_to(c, KR_STATE_STOPPED) && lead_to(c, KR_STATE_IDLE)) || (!c->failed && !c->left);
}

void commission_rest(struct commission *c)
{
    /* The signal that came has been handled, but the job still has to be stopped. */
    commission_catch_signals();
    if (c->started && !c->failed)
        (void)commission_stop(c);
}

bool commission_start_once(struct commission *c, const struct commission_job *job, bool *started)
{
    char sentence[512];
    enum kr_code code = KR_OK;
    *started = false;
    if (!lead_to(c, KR_STATE_IDLE)) {
        if (c->failed)
            return false;
        commission_alarm(c, sentence, sizeof sentence);
        commission_say("The unit does not come to Idle: %s", sentence);
        return true;
    }
    if (!give(c, KR_COMMAND_START, job, &code))
        return false;
    *started = c->started = code == KR_OK;
    /* As long as outputs are only tried, nobody knows what a job would switch. */
    c->worked = c->worked || (*started && job->job != KR_JOB_TRY);
    if (*started)
        return true;
    kr_get_result_text(&c->client.image, KR_CLIENT_COMMAND, sentence, sizeof sentence);
    commission_say("The station refuses to start: %s. %s", sentence, kr_code_remedy(code));
    return true;
}

bool commission_job_has_ended(const struct commission *c)
{
    uint16_t state = commission_unit_state(c);
    return state == KR_STATE_COMPLETE || state == KR_STATE_HELD || state == KR_STATE_SUSPENDED ||
           state == KR_STATE_ABORTED || state == KR_STATE_STOPPED || state == KR_STATE_IDLE;
}

bool commission_hold(struct commission *c, int direction)
{
    const uint16_t word[2] = {++c->refresh, (uint16_t)direction};
    return kr_client_write(&c->client, kr_reg_address(KR_REG_JOG_REFRESH, 0, 0), word, 2) || fail(c, c->client.error);
}

bool commission_wait_link(struct commission *c, uint16_t rail, bool *linked)
{
    char line[COMMISSION_LINE_MAX];
    if (!commission_look(c))
        return false;
    for (bool told = false;; told = true) {
        *linked = kr_get_u16(&c->client.image, KR_REG_RAIL_LINK, rail, 0) != 0;
        if (*linked)
            return true;
        if (!told)
            commission_say("The drive of rail %u does not answer. The program waits for it; press Enter to give up.",
                           rail + 1u);
        if (!commission_look_again(c))
            return false;
        if (commission_typed(c, line) || c->left)
            return !c->left;
    }
}

bool commission_wait_pressed(struct commission *c, uint16_t rail)
{
    char line[COMMISSION_LINE_MAX];
    commission_say("Press the hold-to-run device and keep it pressed. The program waits for the input jog_enable.");
    for (;;) {
        if (!commission_look_again(c))
            return false;
        if (commission_inputs(c, rail) & KR_DI_JOG_ENABLE)
            return true;
        (void)commission_typed(c, line);
        if (c->left)
            return false;
    }
}
