#include "map_words.h"

#include <string.h>

const char *kr_word_area(enum kr_area area)
{
    static const char *const words[] = {"coil", "discrete", "holding", "input"};
    return words[area];
}

const char *kr_word_type(enum kr_reg_type type)
{
    static const char *const words[] = {"U16", "I16", "U32", "I32", "TEXT"};
    return words[type];
}

const char *kr_word_tag_type(enum kr_reg_type type)
{
    static const char *const words[] = {"UINT", "INT", "UDINT", "DINT", "WORD"};
    return words[type];
}

const char *kr_word_unit(enum kr_reg_unit unit)
{
    static const char *const words[] = {"", "length", "ms", "s", "ppm", "%", "bits", "by code"};
    return words[unit];
}

const char *kr_word_access(enum kr_access access)
{
    static const char *const words[] = {"read", "control", "maintain", "halt"};
    return words[access];
}

const char *kr_word_item(enum kr_item_kind item)
{
    static const char *const words[] = {"none", "slit", "cut", "holder", "edge", "rail", "parameter"};
    return words[item];
}

const char *kr_word_value(enum kr_value_kind value)
{
    static const char *const words[] = {"none", "length", "count", "ppm", "mask", "code"};
    return words[value];
}

const char *kr_word_reaction(enum kr_reaction reaction)
{
    static const char *const words[] = {"notice", "suspend", "hold", "abort"};
    return words[reaction];
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
