/* Tells the requests of people and programs, and their results. */
#include <stdio.h>
#include <string.h>

#include "telling.h"

static uint16_t of_command(const struct kr_snapshot *block, enum kr_reg reg)
{
    return kr_snapshot_u16(block, KR_BLOCK_COMMAND, reg, 0);
}

static const char *outcome(uint16_t code, char text[TELLING_WORD_MAX])
{
    const struct kr_code_info *info = kr_code_info(code);
    if (code == KR_OK)
        return "accepted";
    snprintf(text, TELLING_WORD_MAX, "refused, code %u %s", code, info != NULL ? info->name : "");
    return text;
}

/* A command is judged in the cycle in which it comes. It is told in that cycle, if its number or its result differs
 * from the last one. */
static void tell_command(const struct kr_story *story, const struct kr_snapshot *command,
                         const struct kr_station_steps *steps)
{
    char what[TELLING_WORD_MAX], job[TELLING_WORD_MAX] = "", code[TELLING_WORD_MAX];
    if (!command->present ||
        (steps->command_number == story->steps.command_number && steps->command_code == story->steps.command_code))
        return;
    uint16_t kind = of_command(command, KR_REG_COMMAND);
    if (kind == KR_COMMAND_START)
        word_of("COMMAND_JOB", of_command(command, KR_REG_COMMAND_JOB), job);
    tell_line(story, 0, true, "command %u, %s%s%s: %s", of_command(command, KR_REG_COMMAND_NUMBER),
              word_of("COMMAND", kind, what), job[0] ? " " : "", job, outcome(steps->command_code, code));
}

static void tell_request(const struct kr_story *story, const struct kr_snapshot *request,
                         const struct kr_station_steps *steps)
{
    char what[TELLING_WORD_MAX], code[TELLING_WORD_MAX];
    if (request->present)
        tell_line(story, 0, false, "request %u, %s", kr_snapshot_u16(request, KR_BLOCK_ORDER, KR_REG_REQUEST_NUMBER, 0),
                  word_of("REQUEST_KIND", kr_snapshot_u16(request, KR_BLOCK_ORDER, KR_REG_REQUEST_KIND, 0), what));
    if (steps->verdict_number != story->steps.verdict_number || steps->verdict_code != story->steps.verdict_code)
        tell_line(story, 0, true, "request %u: %s", steps->verdict_number, outcome(steps->verdict_code, code));
}

static void tell_edit(const struct kr_story *story, const struct kr_station_in *in,
                      const struct kr_station_steps *steps)
{
    char what[TELLING_WORD_MAX], code[TELLING_WORD_MAX];
    if (in->edit.present)
        tell_line(story, 0, false, "maintenance request %u of %.45s, %s",
                  kr_snapshot_u16(&in->edit, KR_BLOCK_EDIT, KR_REG_EDIT_NUMBER, 0), in->edit_origin,
                  word_of("EDIT_KIND", kr_snapshot_u16(&in->edit, KR_BLOCK_EDIT, KR_REG_EDIT_KIND, 0), what));
    if (steps->edit_number != story->steps.edit_number || steps->edit_code != story->steps.edit_code)
        tell_line(story, 0, true, "maintenance request %u: %s", steps->edit_number, outcome(steps->edit_code, code));
}

static void tell_permissives(const struct kr_story *story, uint16_t now)
{
    char word[TELLING_WORD_MAX];
    for (int bit = 0; bit < 16; bit++)
        if ((now ^ story->permissives) >> bit & 1)
            tell_line(story, 0, !(now >> bit & 1), "permissive %s is %s", word_of("PERMISSIVES", bit, word),
                      now >> bit & 1 ? "given" : "gone");
}

void tell_people(struct kr_story *story, const struct kr_station_in *in, const struct kr_station_steps *steps)
{
    char word[TELLING_WORD_MAX];
    if (in->controlled != story->controlled)
        tell_line(story, 0, !in->controlled, in->controlled ? "a client is in control" : "control is lost");
    tell_permissives(story, in->permissives);
    if (in->halt != 0)
        tell_line(story, 0, true, "HALT %u, %s", in->halt, word_of("HALT", in->halt, word));
    tell_command(story, &in->command, steps);
    tell_request(story, &in->request, steps);
    tell_edit(story, in, steps);
    if (in->plan.ticket != 0)
        tell_line(story, 0, false, "the planner answers ticket %u: code %d", in->plan.ticket,
                  (int)in->plan.result.code);
}
