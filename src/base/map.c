#include "kniferail/map.h"

#include <string.h>

#include "kniferail/axis.h"

/* Every 32-bit element stands at an even address, and no row runs past the end of its area. */
#define KR_WORDS_U16   1
#define KR_WORDS_I16   1
#define KR_WORDS_U32   2
#define KR_WORDS_I32   2
#define KR_WORDS_TEXT  1
#define KR_END_HOLDING KR_MAP_HOLDING_WORDS
#define KR_END_INPUT   KR_MAP_INPUT_WORDS
#define REG(name, area, address, type, n, unit, access, meaning) \
    _Static_assert((address) % KR_WORDS_##type == 0, #name " stands at an odd address"); \
    _Static_assert((address) + (n)*KR_WORDS_##type <= KR_END_##area, #name " runs past the end");
#define RAIL(name, offset, type, n, unit, meaning) \
    _Static_assert((offset) % KR_WORDS_##type == 0, #name " stands at an odd address"); \
    _Static_assert((offset) % KR_MAP_RAIL_STRIDE + (n)*KR_WORDS_##type <= KR_MAP_RAIL_STRIDE, \
                   #name " runs into the next rail");
#define BLOCK(name, area, first, words, access, trigger, depth, meaning) \
    _Static_assert((first) + (words) <= KR_END_##area, "block " #name " runs past the end"); \
    _Static_assert((depth) == 0 || (words) <= KR_MAP_BLOCK_WORDS_MAX, "block " #name " is too long to hand over");
#include "kniferail/regmap.def"

static const struct kr_reg_info regs[KR_REG_COUNT] = {
#define REG(name, area, address, type, n, unit, access, meaning) \
    [KR_REG_##name] = {#name, KR_AREA_##area, address, KR_TYPE_##type, n, KR_REGUNIT_##unit, KR_ACCESS_##access, \
                       false, meaning},
#define RAIL(name, offset, type, n, unit, meaning) \
    [KR_REG_##name] = { \
        #name, KR_AREA_INPUT, KR_MAP_RAIL_FIRST + (offset), KR_TYPE_##type, n, KR_REGUNIT_##unit, KR_ACCESS_READ, \
        true,  meaning},
#include "kniferail/regmap.def"
};

static const struct kr_block_info blocks[KR_BLOCK_COUNT] = {
#define BLOCK(name, area, first, words, access, trigger, depth, meaning) \
    [KR_BLOCK_##name] = {#name, KR_AREA_##area, first, words, KR_ACCESS_##access, KR_REG_##trigger, depth, meaning},
#include "kniferail/regmap.def"
};

static const struct kr_bits_info bits[] = {
#define BITS(name, area, address, bits, word, meaning) \
    {#name, KR_AREA_##area, address, bits, KR_REG_##word, false, meaning},
#define RAIL_BITS(name, offset, bits, word, meaning) \
    {#name, KR_AREA_DISCRETE, KR_MAP_RAIL_BITS_FIRST + (offset), bits, KR_REG_##word, true, meaning},
#include "kniferail/regmap.def"
};

static const struct kr_room_info rooms[] = {
#define ROOM(area, first, words, meaning) {KR_AREA_##area, first, words, meaning},
#include "kniferail/regmap.def"
};

static const struct kr_map_change_info changes[] = {
#define CHANGE(kind, name, what) {#kind, #name, what},
#include "kniferail/regmap.def"
};

const struct kr_reg_info *kr_reg_info(enum kr_reg reg)
{
    return reg > KR_REG_NONE && reg < KR_REG_COUNT ? &regs[reg] : NULL;
}

const struct kr_block_info *kr_block_info(enum kr_block_id block)
{
    return (int)block >= 0 && block < KR_BLOCK_COUNT ? &blocks[block] : NULL;
}

const struct kr_bits_info *kr_bits_info(size_t index)
{
    return index < sizeof bits / sizeof bits[0] ? &bits[index] : NULL;
}

const struct kr_room_info *kr_room_info(size_t index)
{
    return index < sizeof rooms / sizeof rooms[0] ? &rooms[index] : NULL;
}

const struct kr_map_change_info *kr_map_change_info(size_t index)
{
    return index < sizeof changes / sizeof changes[0] ? &changes[index] : NULL;
}

uint16_t kr_reg_words(enum kr_reg_type type)
{
    return type == KR_TYPE_U32 || type == KR_TYPE_I32 ? 2 : 1;
}

uint16_t kr_reg_address(enum kr_reg reg, uint16_t rail, uint16_t index)
{
    const struct kr_reg_info *info = &regs[reg];
    unsigned offset = (unsigned)index * kr_reg_words(info->type);
    if (info->per_rail)
        offset += (unsigned)rail * KR_MAP_RAIL_STRIDE;
    return (uint16_t)(info->address + offset);
}

/* Formatting is off, because it would indent each list further than the list before. */
/* clang-format off */
static const struct kr_named_number numbers[] = {
#define X(name, number, text) {"PERMISSIVES", #name, number, text, NULL},
    KR_PERMISSIVES(X)
#undef X
#define X(name, number, text) {"STATUS", #name, number, text, NULL},
    KR_STATUS_BITS(X)
#undef X
#define X(name, number, text) {"LINE_STATUS", #name, number, text, NULL},
    KR_LINE_BITS(X)
#undef X
#define X(name, number, text) {"LINE_DOUBTS", #name, number, text, NULL},
    KR_LINE_DOUBTS(X)
#undef X
#define X(name, number, text) {"UNIT_STATE", #name, number, text, NULL},
    KR_UNIT_STATES(X)
#undef X
#define X(name, number, text) {"COMMAND", #name, number, text, NULL},
    KR_COMMANDS(X)
#undef X
#define X(name, number, text) {"HALT", #name, number, text, NULL},
    KR_HALTS(X)
#undef X
#define X(name, number, text) {"COMMAND_JOB", #name, number, text, NULL},
    KR_JOBS(X)
#undef X
#define X(name, number, text) {"COMMAND_SPEED", #name, number, text, NULL},
    KR_SPEEDS(X)
#undef X
#define X(name, number, text) {"REQUEST_KIND", #name, number, text, NULL},
    KR_REQUEST_KINDS(X)
#undef X
#define X(name, number, text) {"EDIT_KIND", #name, number, text, NULL},
    KR_EDIT_KINDS(X)
#undef X
#define X(name, number, word, text) {"EDIT_KNIFE_TO", #name, number, text, word},
    KR_KNIFE_PLACES(X)
#undef X
#define X(name, number, word, text) {"EDIT_KNIFE_CAUSE", #name, number, text, word},
    KR_KNIFE_CAUSES(X)
#undef X
#define X(name, number, word, text) {"EDIT_KNIFE_FRAGMENTS", #name, number, text, word},
    KR_KNIFE_FRAGMENTS(X)
#undef X
#define X(name, number, word, text) {"FRAME_ORIGIN", #name, number, text, word},
        KR_FRAME_ORIGINS(X)
#undef X
#define X(name, bit, text) {"EDIT_KNIFE_GIVEN", #name, bit, text, NULL},
    KR_KNIFE_GIVENS(X)
#undef X
#define X(name, number, text) {"PHASE", #name, number, text, NULL},
    KR_PHASES(X)
#undef X
#define X(name, number, text) {"DRIVE_REFUSED", #name, number, text, NULL},
    KR_REFUSALS(X)
#undef X
#define X(name, number, text) {"CARRIAGE_PHASE", #name, number, text, NULL},
    KR_CARRIAGE_PHASES(X)
#undef X
#define X(name, number, text) {"ODD_REASON", #name, number, text, NULL},
    KR_ODD_REASONS(X)
#undef X
#define X(name, number, word, text) {"LENGTH_UNIT", #name, number, text, word},
    KR_LENGTH_UNITS(X)
#undef X
#define X(name, number, word, text) {"WORD_ORDER", #name, number, text, word},
    KR_WORD_ORDERS(X)
#undef X
#define X(name, number, word, text) {"ALIGNMENT", #name, number, text, word},
    KR_ALIGNMENTS(X)
#undef X
#define X(name, number, word, text) {"EDGE_FLAGS", #name, number, text, word},
    KR_EDGE_FLAG_BITS(X)
#undef X
#define X(name, number, word, text) {"ACCESS_REQUEST", #name, number, text, word},
    KR_ACCESS_REQUESTS(X)
#undef X
#define X(name, number, word, text) {"OWN_ROLE", #name, number, text, word},
    KR_OWN_ROLES(X)
#undef X
#define X(name, number, word, text) {"CONTROL_HELD", #name, number, text, word},
    KR_CONTROLS(X)
#undef X
#define X(name, number, word, text) {"RECORD_RESULT", #name, number, text, word},
    KR_OUTCOMES(X)
#undef X
#define X(name, number, word, text) {"LAST_RUN_END", #name, number, text, word},
    KR_RUN_ENDS(X)
#undef X
#define X(name, number, word, text) {"RAIL_ROLE", #name, number, text, word},
    KR_ROLES(X)
#undef X
#define X(name, number, text) {"CRASH", #name, number, text, NULL},
    KR_CRASHES(X)
#undef X
#define X(name, number, word, text) {"HOLDER_EDGE", #name, number, text, word},
    KR_EDGES(X)
#undef X
#define X(name, number, word, text) {"HOLDER_KNOWN", #name, number, text, word},
    KR_KNOWNS(X)
#undef X
#define X(name, number, setting, word, text) {"HOLDER_STATE", #name, number, text, word},
    KR_HOLDER_STATES(X)
#undef X
#define X(name, bit, word, text) {"RAIL_INPUTS", #name, bit, text, NULL},
    KR_AXIS_INPUTS(X)
#undef X
#define X(name, bit, word, text) {"RAIL_OUTPUTS", #name, bit, text, NULL},
    KR_AXIS_OUTPUTS(X)
#undef X
};
/* clang-format on */

const struct kr_named_number *kr_named_number(size_t index)
{
    return index < sizeof numbers / sizeof numbers[0] ? &numbers[index] : NULL;
}

int kr_halt_strength(uint16_t command)
{
    switch (command) {
    case KR_COMMAND_SUSPEND: return 1;
    case KR_COMMAND_HOLD: return 2;
    case KR_COMMAND_STOP: return 3;
    case KR_COMMAND_ABORT: return 4;
    default: return 0;
    }
}

const struct kr_named_number *kr_named(const char *set, int number)
{
    for (size_t i = 0; set != NULL && i < sizeof numbers / sizeof numbers[0]; i++)
        if (numbers[i].number == number && strcmp(numbers[i].set, set) == 0)
            return &numbers[i];
    return NULL;
}

const char *kr_number_word(const char *set, int number)
{
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++)
        if (numbers[i].word != NULL && numbers[i].number == number && strcmp(numbers[i].set, set) == 0)
            return numbers[i].word;
    return "?";
}
