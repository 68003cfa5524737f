/* The values that each register can have, as far as the map alone defines them. */
#include "map_words.h"

#include <string.h>

#include "kniferail/station.h"

/* Registers whose range follows neither from their type nor from their list. */
static const struct {
    enum kr_reg reg;
    struct kr_map_range range;
} special[] = {
    {KR_REG_LINE_SPEED, {0, 40000, 0}},
    {KR_REG_COMMAND_RAIL, {0, KR_RAILS_MAX, 0}},
    {KR_REG_COMMAND_HOLDER, {0, KR_HOLDERS_MAX, 0}},
    {KR_REG_JOG_DIRECTION, {-1, 1, 0}},
    {KR_REG_ORDER_NUMBER, {1, UINT32_MAX, 0}},
    {KR_REG_SLIT_COUNT, {1, KR_SLITS_MAX, 0}},
    {KR_REG_RECIPE, {0, KR_RECIPES_MAX, 0}},
    {KR_REG_WEB_WIDTH, {1, INT32_MAX, 0}},
    {KR_REG_TOLERANCE, {0, INT32_MAX, 0}},
    {KR_REG_WIDTH_SUM, {0, INT32_MAX, 0}},
    {KR_REG_WIDTH, {0, INT32_MAX, 0}},
    {KR_REG_EDIT_RAIL, {1, KR_RAILS_MAX, 0}},
    {KR_REG_EDIT_HOLDER, {0, KR_HOLDERS_MAX, 0}},
    {KR_REG_EDIT_SIZE, {0, KR_SIZES_MAX, 0}},
    {KR_REG_EDIT_WIDTH_COUNT, {0, KR_SLITS_MAX, 0}},
    {KR_REG_EDIT_FRAME_SCALE, {-KR_FRAME_SCALE_MAX_PPB, KR_FRAME_SCALE_MAX_PPB, 0}},
    {KR_REG_EDIT_FRAME_POINTS, {0, KR_FRAME_POINTS_MAX, 0}},
    {KR_REG_FRAME_POINTS, {0, KR_FRAME_POINTS_MAX, 0}},
    {KR_REG_FRAME_POINTS_BEFORE, {0, KR_FRAME_POINTS_MAX, 0}},
    {KR_REG_WORD_ORDER_PROOF, {KR_MAP_WORD_ORDER_PROOF, KR_MAP_WORD_ORDER_PROOF, 0}},
    {KR_REG_MAP_VERSION, {KR_MAP_VERSION, KR_MAP_VERSION, 0}},
    {KR_REG_REQUEST_BUSY, {0, 1, 0}},
    {KR_REG_EDIT_BUSY, {0, 1, 0}},
    {KR_REG_PROPOSAL_PAIRS, {0, 1, 0}},
    {KR_REG_OWN_CONTROL, {0, 1, 0}},
    {KR_REG_RAIL_LINK, {0, 1, 0}},
    {KR_REG_RAIL_REFERENCED, {0, 1, 0}},
    {KR_REG_RAIL_COUNT, {1, KR_RAILS_MAX, 0}},
    {KR_REG_RAIL_ROLE, {0, UINT16_MAX, UINT16_MAX}}, /* before it was read, no such rail is assumed */
    /* Before it was read, the pin is not assumed to be out. */
    {KR_REG_DOCKED_HOLDER, {0, UINT16_MAX, UINT16_MAX}},
};

static struct kr_map_range of_type(enum kr_reg_type type)
{
    static const struct kr_map_range ranges[] = {
        [KR_TYPE_U16] = {0, UINT16_MAX, 0},  [KR_TYPE_I16] = {INT16_MIN, INT16_MAX, 0},
        [KR_TYPE_U32] = {0, UINT32_MAX, 0},  [KR_TYPE_I32] = {INT32_MIN, INT32_MAX, 0},
        [KR_TYPE_TEXT] = {0, UINT16_MAX, 0},
    };
    return ranges[type];
}

/* 0 is always possible: in a list that begins at 1, it means 'none'. */
static struct kr_map_range of_set(const char *set, bool bits)
{
    struct kr_map_range range = {0, 0, 0};
    const struct kr_named_number *n;
    for (size_t i = 0; (n = kr_named_number(i)) != NULL; i++) {
        if (strcmp(n->set, set) != 0)
            continue;
        if (bits)
            range.most |= (int64_t)1 << n->number;
        else if (n->number > range.most)
            range.most = n->number;
    }
    return range;
}

struct kr_map_range kr_map_range_of(const struct kr_reg_info *reg)
{
    const char *set = kr_map_set_of(reg->name);
    for (size_t i = 0; i < sizeof special / sizeof special[0]; i++)
        if (kr_reg_info(special[i].reg) == reg)
            return special[i].range;
    if (set)
        return of_set(set, reg->unit == KR_REGUNIT_MASK);
    if (reg->unit == KR_REGUNIT_PERCENT)
        return (struct kr_map_range){0, 100, 0};
    return of_type(reg->type);
}
