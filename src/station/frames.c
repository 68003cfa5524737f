#include "frames.h"

bool frames_own_kind(uint16_t kind)
{
    return kind == KR_EDIT_FRAME || kind == KR_EDIT_FRAME_BACK;
}

static int32_t um(const struct kr_snapshot *block, enum kr_reg reg, uint16_t index, struct kr_format format)
{
    return kr_um_from_nm(kr_snapshot_nm(block, KR_BLOCK_EDIT, reg, index, format));
}

/* Too many points are refused by their number. */
void frames_decode(const struct kr_snapshot *block, struct kr_format format, struct kr_frame *asked)
{
    *asked = (struct kr_frame){.offset_um = um(block, KR_REG_EDIT_FRAME_OFFSET, 0, format),
                               .scale_ppb = kr_snapshot_i32(block, KR_BLOCK_EDIT, KR_REG_EDIT_FRAME_SCALE, 0, format),
                               .n_points = kr_snapshot_u16(block, KR_BLOCK_EDIT, KR_REG_EDIT_FRAME_POINTS, 0)};
    for (uint16_t i = 0; i < asked->n_points && i < KR_FRAME_POINTS_MAX; i++)
        asked->point[i] = (struct kr_frame_point){um(block, KR_REG_EDIT_WIDTH, (uint16_t)(2 * i), format),
                                                  um(block, KR_REG_EDIT_WIDTH, (uint16_t)(2 * i + 1), format)};
}

/* ---- judgement ------------------------------------------------------------------------------------------------- */

static struct kr_result no(enum kr_code code, const struct kr_edit *edit, int32_t value, int32_t limit)
{
    return (struct kr_result){code, edit->rail, 0, value, limit};
}

static const struct kr_result yes = {.code = KR_OK};

static bool is_beyond(int32_t value, int32_t most)
{
    return value > most || value < -most;
}

/* Returns the first point, from 1, that the table must not have; 0: all points are right. */
static uint16_t bad_point(const struct kr_frame *frame)
{
    for (uint16_t i = 0; i < frame->n_points; i++)
        if (is_beyond(frame->point[i].error_um, KR_FRAME_ERROR_MAX_UM))
            return (uint16_t)(i + 1);
    return kr_frame_bad_point(frame);
}

static struct kr_result judge_values(const struct kr_edit *edit, const struct kr_frame *asked)
{
    int32_t offset_um = asked->offset_um, scale_ppb = asked->scale_ppb;
    if (is_beyond(offset_um, KR_FRAME_OFFSET_MAX_UM))
        return no(KR_FRAME_OFFSET, edit, offset_um, offset_um < 0 ? -KR_FRAME_OFFSET_MAX_UM : KR_FRAME_OFFSET_MAX_UM);
    if (is_beyond(scale_ppb, KR_FRAME_SCALE_MAX_PPB))
        return no(KR_FRAME_SCALE, edit, scale_ppb, scale_ppb < 0 ? -KR_FRAME_SCALE_MAX_PPB : KR_FRAME_SCALE_MAX_PPB);
    if (asked->n_points > KR_FRAME_POINTS_MAX)
        return no(KR_FRAME_POINTS, edit, asked->n_points, KR_FRAME_POINTS_MAX);
    uint16_t bad = bad_point(asked);
    return bad != 0 ? no(KR_FRAME_POINT, edit, bad, 0) : yes;
}

struct kr_result frames_judge_reach(const struct kr_edit *edit, const struct kr_rail_geometry *rail,
                                    const struct kr_carriage_config *carriage)
{
    int32_t position_um, limit_um;
    return kr_carriage_reaches(rail, carriage, &position_um, &limit_um)
               ? yes
               : no(KR_FRAME_TRAVEL, edit, position_um, limit_um);
}

struct kr_result frames_judge(const struct kr_edit *edit, const struct kr_frame *asked,
                              const struct kr_rail_geometry *rail, const struct kr_carriage_config *told,
                              const struct kr_durable *durable)
{
    uint16_t r = (uint16_t)(edit->rail - 1);
    bool back = edit->kind == KR_EDIT_FRAME_BACK;
    if (back && durable->frame_origin[r] != KR_FRAME_FROM_PERSON)
        return no(KR_NO_FRAME_BEFORE, edit, 0, 0);
    struct kr_result result = back ? yes : judge_values(edit, asked);
    struct kr_carriage_config carriage = *told;
    carriage.frame = back ? durable->frame_before[r] : *asked;
    return result.code == KR_OK ? frames_judge_reach(edit, rail, &carriage) : result;
}

/* ---- execution ------------------------------------------------------------------------------------------------- */

/* The correction of the scale by references is part of the frame in force, and is restored with it. */
static struct kr_frame with_scale(struct kr_frame frame, int32_t found_scale_ppb)
{
    int64_t scale_ppb = (int64_t)frame.scale_ppb + found_scale_ppb, most_ppb = KR_FRAME_SCALE_MAX_PPB;
    frame.scale_ppb = (int32_t)(scale_ppb > most_ppb ? most_ppb : scale_ppb < -most_ppb ? -most_ppb : scale_ppb);
    return frame;
}

void frames_take(struct frames *frames, const struct kr_edit *edit, struct kr_durable *durable)
{
    uint16_t r = (uint16_t)(edit->rail - 1);
    frames->was = durable_frame(durable, r);
    frames->found_scale_ppb = durable->references[r].correction.scale_ppb;
    struct frame_kept is = {
        .origin = KR_FRAME_FROM_PERSON,
        .frame = edit->kind == KR_EDIT_FRAME ? frames->asked : frames->was.before,
        .before = with_scale(frames->was.frame, frames->found_scale_ppb),
    };
    durable_set_frame(durable, r, &is);
}

void frames_withdraw(const struct frames *frames, const struct kr_edit *edit, struct kr_durable *durable)
{
    durable_set_frame(durable, (uint16_t)(edit->rail - 1), &frames->was);
}

bool frames_fit(const struct kr_station_config *config, const struct kr_durable *durable)
{
    for (uint16_t r = 0; r < config->geometry.n_rails; r++) {
        struct kr_edit edit = {.rail = (uint16_t)(r + 1)};
        struct kr_carriage_config carriage = config->carriage[r];
        carriage.frame = durable->frame[r];
        carriage.switch_offset_um = durable->of_switch[r].offset_um;
        if (frames_judge_reach(&edit, &config->geometry.rail[r], &carriage).code != KR_OK)
            return false;
    }
    return true;
}
