#include "map_words.h"

#include <string.h>

const char *kr_word_area(enum kr_area area)
{
    static const char *const words[] = {
#define X(name, word) word,
        KR_AREAS(X)
#undef X
    };
    return words[area];
}

const char *kr_word_type(enum kr_reg_type type)
{
    static const char *const words[] = {
#define X(name, iec) #name,
        KR_REG_TYPES(X)
#undef X
    };
    return words[type];
}

const char *kr_word_tag_type(const struct kr_reg_info *reg)
{
    static const char *const words[] = {
#define X(name, iec) iec,
        KR_REG_TYPES(X)
#undef X
    };
    return reg->unit == KR_REGUNIT_MASK ? "WORD" : words[reg->type];
}

const char *kr_word_unit(enum kr_reg_unit unit)
{
    static const char *const words[] = {
#define X(name, word) word,
        KR_REG_UNITS(X)
#undef X
    };
    return words[unit];
}

const char *kr_word_access(enum kr_access access)
{
    static const char *const words[] = {
#define X(name, word) word,
        KR_ACCESSES(X)
#undef X
    };
    return words[access];
}

const char *kr_word_item(enum kr_item_kind item)
{
    static const char *const words[] = {
#define X(name, word) word,
        KR_ITEM_KINDS(X)
#undef X
    };
    return words[item];
}

const char *kr_word_value(enum kr_value_kind value)
{
    static const char *const words[] = {
#define X(name, word) word,
        KR_VALUE_KINDS(X)
#undef X
    };
    return words[value];
}

/* Returns the position of a row among all areas. */
static unsigned long place_of(enum kr_area area, unsigned address)
{
    return (unsigned long)area << 16 | address;
}

bool kr_map_next_row(struct kr_map_row *row, uint16_t rails)
{
    const struct kr_reg_info *r = kr_reg_info(row->reg);
    unsigned long after = r ? place_of(r->area, kr_reg_address(row->reg, row->rail, 0)) : 0, best = 0;
    bool any = r != NULL, found = false;
    for (int reg = KR_REG_NONE + 1; reg < KR_REG_COUNT; reg++) {
        r = kr_reg_info((enum kr_reg)reg);
        uint16_t copies = r->per_rail ? rails : 1;
        for (uint16_t rail = 0; rail < copies; rail++) {
            unsigned long place = place_of(r->area, kr_reg_address((enum kr_reg)reg, rail, 0));
            if ((any && place <= after) || (found && place >= best))
                continue;
            best = place;
            found = true;
            *row = (struct kr_map_row){(enum kr_reg)reg, rail};
        }
    }
    return found;
}

enum kr_block_id kr_map_next_block(enum kr_block_id block)
{
    const struct kr_block_info *b = kr_block_info(block);
    enum kr_block_id next = KR_BLOCK_COUNT;
    unsigned long after = b ? place_of(b->area, b->first) : 0, best = 0;
    for (int id = 0; id < KR_BLOCK_COUNT; id++) {
        const struct kr_block_info *other = kr_block_info((enum kr_block_id)id);
        unsigned long place = place_of(other->area, other->first);
        if ((b != NULL && place <= after) || (next != KR_BLOCK_COUNT && place >= best))
            continue;
        best = place;
        next = (enum kr_block_id)id;
    }
    return next;
}

const struct kr_block_info *kr_map_block_of(enum kr_area area, unsigned address)
{
    for (int id = 0; id < KR_BLOCK_COUNT; id++) {
        const struct kr_block_info *b = kr_block_info((enum kr_block_id)id);
        if (b->area == area && address >= b->first && address < (unsigned)b->first + b->words)
            return b;
    }
    return NULL;
}

int kr_map_copies(bool per_rail)
{
    return per_rail ? KR_RAILS_MAX : 1;
}

const char *kr_map_set_of(const char *reg)
{
    static const struct {
        const char *reg, *set;
    } others[] = {{"PERMISSIVES_SEEN", "PERMISSIVES"},   {"PERMISSIVES_MISSING", "PERMISSIVES"},
                  {"PERMISSIVES_NEEDED", "PERMISSIVES"}, {"JOB", "COMMAND_JOB"},
                  {"VERDICT_KIND", "REQUEST_KIND"},      {"EDITED_KIND", "EDIT_KIND"}};
    const struct kr_named_number *n;
    for (size_t i = 0; (n = kr_named_number(i)) != NULL; i++)
        if (strcmp(n->set, reg) == 0)
            return n->set;
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++)
        if (strcmp(others[i].reg, reg) == 0)
            return others[i].set;
    return NULL;
}

bool kr_map_set_is_bits(const char *set)
{
    for (int reg = KR_REG_NONE + 1; reg < KR_REG_COUNT; reg++) {
        const struct kr_reg_info *r = kr_reg_info((enum kr_reg)reg);
        if (strcmp(r->name, set) == 0)
            return r->unit == KR_REGUNIT_MASK;
    }
    return false;
}

#define STATUSWORD "6041h"
#define ERROR_CODE "603Fh"

const char *kr_map_alarm_value_of(const struct kr_alarm_info *alarm)
{
    switch (alarm->code) {
    case KR_ALARM_PERMISSIVE_LOST: return "PERMISSIVES";
    case KR_ALARM_RETURNED_OTHERWISE: return "RAIL_INPUTS";
    case KR_ALARM_PLAN_REFUSED: return "results";
    case KR_ALARM_DRIVE_FAULT:
    case KR_ALARM_ENCODER_BLAMED: return ERROR_CODE;
    case KR_ALARM_DRIVE_NOT_ENABLED:
    case KR_ALARM_DRIVE_DROPPED_OUT:
    case KR_ALARM_HOMING_FAILED:
    case KR_ALARM_DRIVE_NOT_OFF: return STATUSWORD;
    default: return NULL;
    }
}

const char *kr_map_result_value_of(const struct kr_code_info *result)
{
    switch (result->code) {
    case KR_UNKNOWN_KIND: return "REQUEST_KIND";
    case KR_UNKNOWN_COMMAND: return "COMMAND";
    case KR_UNKNOWN_JOB: return "COMMAND_JOB";
    case KR_NOT_IN_THIS_STATE: return "UNIT_STATE";
    case KR_PERMISSIVE_MISSING: return "PERMISSIVES";
    case KR_ALARM_STANDS: return "alarms";
    case KR_CRASH_STANDS: return "CRASH";
    case KR_ALIGNMENT: return "ALIGNMENT";
    case KR_EDGE_FLAGS: return "EDGE_FLAGS";
    case KR_UNKNOWN_SPEED:
    case KR_PRODUCTION_SPEED: return "COMMAND_SPEED";
    case KR_UNKNOWN_OUTPUT: return "RAIL_OUTPUTS";
    default: return NULL;
    }
}

const char *kr_map_sentence_word(const char **text)
{
    const char *at = *text;
    const char *word = at[0] != '%'   ? NULL
                       : at[1] == 'i' ? "item"
                       : at[1] == 'v' ? "value"
                       : at[1] == 'l' ? "limit"
                                      : NULL;
    *text += word ? 2 : 1;
    return word;
}
