#include "command.h"

#include <string.h>

#include "unit.h"

static uint16_t u16(const struct kr_snapshot *block, enum kr_reg reg)
{
    return kr_snapshot_u16(block, KR_BLOCK_COMMAND, reg, 0);
}

/* A stop is accepted at any time, whatever session the PLC uses. */
static bool only_stops(uint16_t command)
{
    return kr_halt_strength(command) > 0;
}

static struct kr_result give(struct kr_station *s, enum kr_command command)
{
    struct start asked = {
        .job = u16(&s->in.command, KR_REG_COMMAND_JOB),
        .rail = u16(&s->in.command, KR_REG_COMMAND_RAIL),
        .holder = u16(&s->in.command, KR_REG_COMMAND_HOLDER),
        .speed = u16(&s->in.command, KR_REG_COMMAND_SPEED),
        .output = u16(&s->in.command, KR_REG_COMMAND_OUTPUT),
        .position_um = kr_um_from_nm(
            kr_snapshot_nm(&s->in.command, KR_BLOCK_COMMAND, KR_REG_COMMAND_POSITION, 0, s->config.format)),
        .order_number =
            (uint32_t)kr_snapshot_i32(&s->in.command, KR_BLOCK_COMMAND, KR_REG_COMMAND_ORDER, 0, s->config.format),
    };
    return unit_command(s, command, &asked);
}

/* A halt comes before any command. Of the commands that waited at that moment, only those that stop count, too. */
void command_step(struct kr_station *s)
{
    s->command.halt = s->in.halt == 0 ? (struct kr_result){.code = KR_OK} : unit_halt(s, s->in.halt);
    const struct kr_snapshot *command = &s->in.command;
    if (!command->present ||
        (s->command.last.present && memcmp(s->command.last.word, command->word, sizeof command->word) == 0))
        return;
    uint16_t session = u16(&s->in.command, KR_REG_COMMAND_SESSION), number = u16(&s->in.command, KR_REG_COMMAND_NUMBER);
    uint16_t code = u16(&s->in.command, KR_REG_COMMAND);
    if (number == 0)
        return; /* 0 is no command */
    bool reused = s->command.last.present && number == s->command.number &&
                  session == kr_snapshot_u16(&s->command.last, KR_BLOCK_COMMAND, KR_REG_COMMAND_SESSION, 0);
    if (session != s->session && !only_stops(code))
        s->command.result = (struct kr_result){.code = KR_STALE_SESSION, .value = session, .limit = s->session};
    else if (reused && !only_stops(code))
        s->command.result = (struct kr_result){.code = KR_NUMBER_REUSED, .value = number};
    else if (command->overtaken && !only_stops(code))
        s->command.result = (struct kr_result){.code = KR_HALTED};
    else if (code < KR_COMMAND_RESET || code > KR_COMMAND_CLEAR)
        s->command.result = (struct kr_result){.code = KR_UNKNOWN_COMMAND, .value = code};
    else
        s->command.result = give(s, (enum kr_command)code);
    s->command.last = *command;
    s->command.number = number;
}
