#include "offset_step.h"

struct kr_result offset_step_judge(int32_t most_um, uint16_t rail_number, uint16_t holder_number, int32_t was_um,
                                   int32_t becomes_um)
{
    int64_t step_um = (int64_t)becomes_um - was_um;
    bool far = most_um > 0 && (step_um > most_um || step_um < -(int64_t)most_um);
    return far ? (struct kr_result){KR_OFFSET_STEP, rail_number, holder_number, becomes_um, was_um}
               : (struct kr_result){.code = KR_OK};
}

bool offset_step_meant(const struct kr_edit *before, const struct kr_edit *edit)
{
    return before->result.code == KR_OFFSET_STEP && before->kind == edit->kind && before->rail == edit->rail &&
           before->holder == edit->holder && before->holder_size == edit->holder_size &&
           before->edge_offset_um == edit->edge_offset_um;
}
