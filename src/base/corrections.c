#include "kniferail/corrections.h"

static int32_t saturated(int64_t um)
{
    return (int32_t)(um > INT32_MAX ? INT32_MAX : um < INT32_MIN ? INT32_MIN : um);
}

int32_t kr_flag_by_pass_um(int32_t rise_place_um, int32_t fall_place_um, int32_t switch_offset_um)
{
    int64_t half_um = ((int64_t)fall_place_um - rise_place_um) / 2;
    return saturated(rise_place_um + half_um + switch_offset_um);
}

int32_t kr_flag_both_ways_um(int32_t growing_um, int32_t falling_um)
{
    return saturated(growing_um + ((int64_t)falling_um - growing_um) / 2);
}

int32_t kr_flag_one_way_um(int32_t growing_um, int32_t bias_um)
{
    return saturated((int64_t)growing_um - bias_um);
}

int64_t kr_passes_apart_um(int32_t growing_um, int32_t falling_um, int32_t bias_um)
{
    return (int64_t)growing_um - falling_um - 2LL * bias_um;
}

int32_t kr_flag_less_residual_um(int32_t flag_um, int32_t off_um)
{
    return saturated((int64_t)flag_um - off_um);
}

int32_t kr_edge_um(int32_t holder_um, int32_t edge_offset_um)
{
    return saturated((int64_t)holder_um + edge_offset_um);
}

int32_t kr_holder_um(int32_t edge_um, int32_t edge_offset_um)
{
    return saturated((int64_t)edge_um - edge_offset_um);
}

int32_t kr_switch_position_um(const struct kr_frame *frame, int32_t place_um, int32_t switch_offset_um)
{
    return kr_frame_position_um(frame, saturated((int64_t)place_um - switch_offset_um));
}
