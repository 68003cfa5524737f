#include "switches.h"

#include "frames.h"

bool switches_own_kind(uint16_t kind)
{
    return kind == KR_EDIT_SWITCH || kind == KR_EDIT_SWITCH_BACK;
}

void switches_decode(const struct kr_snapshot *block, struct kr_format format, struct kr_switch *asked)
{
    *asked = (struct kr_switch){
        .offset_um = kr_um_from_nm(kr_snapshot_nm(block, KR_BLOCK_EDIT, KR_REG_EDIT_SWITCH_OFFSET, 0, format)),
        .bias_um = kr_um_from_nm(kr_snapshot_nm(block, KR_BLOCK_EDIT, KR_REG_EDIT_SCAN_BIAS, 0, format))};
}

static bool is_beyond(int32_t value_um, int32_t most_um)
{
    return value_um > most_um || value_um < -most_um;
}

static struct kr_result beyond(enum kr_code code, const struct kr_edit *edit, int32_t value_um, int32_t most_um)
{
    return (struct kr_result){code, edit->rail, 0, value_um, value_um < 0 ? -most_um : most_um};
}

struct kr_result switches_judge(const struct kr_edit *edit, const struct kr_switch *asked,
                                const struct kr_rail_geometry *rail, const struct kr_carriage_config *told,
                                const struct kr_durable *durable)
{
    uint16_t r = (uint16_t)(edit->rail - 1);
    bool back = edit->kind == KR_EDIT_SWITCH_BACK;
    const struct kr_switch *is = back ? &durable->switch_before[r] : asked;
    if (back && durable->switch_origin[r] != KR_FRAME_FROM_PERSON)
        return (struct kr_result){.code = KR_NO_SWITCH_BEFORE, .rail = edit->rail};
    if (is_beyond(is->offset_um, KR_SWITCH_OFFSET_MAX_UM))
        return beyond(KR_SWITCH_OFFSET, edit, is->offset_um, KR_SWITCH_OFFSET_MAX_UM);
    if (is_beyond(is->bias_um, KR_SCAN_BIAS_MAX_UM))
        return beyond(KR_SCAN_BIAS, edit, is->bias_um, KR_SCAN_BIAS_MAX_UM);
    struct kr_carriage_config carriage = *told;
    carriage.switch_offset_um = is->offset_um;
    return frames_judge_reach(edit, rail, &carriage);
}

/* The correction of the offset is part of the switch in force, and is restored with it. */
static struct kr_switch with_found(struct kr_switch is, int32_t found_um)
{
    int64_t offset_um = (int64_t)is.offset_um + found_um, most_um = KR_SWITCH_OFFSET_MAX_UM;
    is.offset_um = (int32_t)(offset_um > most_um ? most_um : offset_um < -most_um ? -most_um : offset_um);
    return is;
}

void switches_take(struct switches *switches, const struct kr_edit *edit, struct kr_durable *durable)
{
    uint16_t r = (uint16_t)(edit->rail - 1);
    switches->was = durable_switch(durable, r);
    switches->found_um = durable->references[r].correction.switch_um;
    struct switch_kept is = {
        .origin = KR_FRAME_FROM_PERSON,
        .is = edit->kind == KR_EDIT_SWITCH ? switches->asked : switches->was.before,
        .before = with_found(switches->was.is, switches->found_um),
    };
    durable_set_switch(durable, r, &is);
}

void switches_withdraw(const struct switches *switches, const struct kr_edit *edit, struct kr_durable *durable)
{
    durable_set_switch(durable, (uint16_t)(edit->rail - 1), &switches->was);
}
