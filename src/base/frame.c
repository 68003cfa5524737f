/* This file alone has the sign, the sequence and the formula of each correction between a drive's position and the
 * frame. */
#include "kniferail/frame.h"

#define PPB_UM_PER_NM 1000000 /* position x scale is in um x ppb; this number of them is one nanometre */

static int32_t saturated(int64_t um)
{
    return (int32_t)(um > INT32_MAX ? INT32_MAX : um < INT32_MIN ? INT32_MIN : um);
}

/* Rounded down, also below 0, so that the quotient never falls while the dividend grows. */
static int64_t floor_of(int64_t dividend, int64_t divisor)
{
    return dividend / divisor - (dividend % divisor < 0 ? 1 : 0);
}

static int64_t error_nm(const struct kr_frame *frame, int64_t position_um)
{
    uint16_t n = frame->n_points, right = 0;
    while (right < n && frame->point[right].at_um <= position_um)
        right++;
    if (n == 0)
        return 0;
    if (right == 0 || right == n)
        return 1000LL * frame->point[right == 0 ? 0 : n - 1].error_um;
    const struct kr_frame_point *a = &frame->point[right - 1], *b = &frame->point[right];
    int64_t rises_nm = 1000LL * ((int64_t)b->error_um - a->error_um);
    return 1000LL * a->error_um + floor_of(rises_nm * (position_um - a->at_um), (int64_t)b->at_um - a->at_um);
}

/* For a position that is one micrometre greater, the place is greater by at least 1000 - 10 - 100 - 2 nm: the limits of
 * scale and table, and two roundings. */
static int64_t place_nm(const struct kr_frame *frame, int32_t drive_um)
{
    int64_t position_um = (int64_t)drive_um + frame->datum_um;
    return 1000LL * frame->offset_um + 1000LL * position_um + floor_of(position_um * frame->scale_ppb, PPB_UM_PER_NM) +
           error_nm(frame, position_um);
}

int32_t kr_frame_place_um(const struct kr_frame *frame, int32_t position_um)
{
    return saturated(floor_of(place_nm(frame, position_um) + 500, 1000));
}

/* As long as the wanted place is more than a micrometre away, the position is changed by the difference. The slope of
 * the conversion differs from 1 by little more than a tenth, which is the table's limit. So each step leaves less than
 * an eighth of the difference, and 32 bits of micrometres take fewer steps than this. */
#define STEPS_MAX 16

static int64_t missing_nm(const struct kr_frame *frame, int64_t wanted_nm, int32_t position_um)
{
    return wanted_nm - place_nm(frame, position_um);
}

static int32_t near_to(const struct kr_frame *frame, int64_t wanted_nm)
{
    int32_t position_um = saturated(wanted_nm / 1000 - frame->offset_um - frame->datum_um);
    for (int i = 0; i < STEPS_MAX; i++) {
        int64_t steps_um = missing_nm(frame, wanted_nm, position_um) / 1000;
        if (steps_um == 0)
            break;
        position_um = saturated(position_um + steps_um);
    }
    return position_um;
}

/* The last position whose place is not beyond the wanted one, or the next position if its place is nearer. */
int32_t kr_frame_position_um(const struct kr_frame *frame, int32_t place_um)
{
    int64_t wanted_nm = 1000LL * place_um;
    int32_t low_um = near_to(frame, wanted_nm);
    while (low_um > INT32_MIN && missing_nm(frame, wanted_nm, low_um) < 0)
        low_um--;
    while (low_um < INT32_MAX && missing_nm(frame, wanted_nm, low_um + 1) >= 0)
        low_um++;
    if (low_um == INT32_MAX)
        return INT32_MAX;
    int64_t before_nm = missing_nm(frame, wanted_nm, low_um), behind_nm = -missing_nm(frame, wanted_nm, low_um + 1);
    return low_um + (behind_nm < before_nm ? 1 : 0);
}

/* ---- temperature ----------------------------------------------------------------------------------------------- */

#define PPB INT64_C(1000000000)

static int64_t nearest(int64_t dividend, int64_t divisor)
{
    return floor_of(2 * dividend + divisor, 2 * divisor);
}

int32_t kr_expanded_um(int32_t um, int32_t expansion_ppb)
{
    return saturated(um + nearest((int64_t)um * expansion_ppb, PPB));
}

struct kr_frame kr_frame_expanded(const struct kr_frame *frame, int32_t expansion_ppb)
{
    struct kr_frame is = *frame;
    int64_t scale_ppb =
        (int64_t)frame->scale_ppb + expansion_ppb + nearest((int64_t)frame->scale_ppb * expansion_ppb, PPB);
    is.scale_ppb = (int32_t)(scale_ppb > KR_FRAME_SCALE_MAX_PPB    ? KR_FRAME_SCALE_MAX_PPB
                             : scale_ppb < -KR_FRAME_SCALE_MAX_PPB ? -KR_FRAME_SCALE_MAX_PPB
                                                                   : scale_ppb);
    is.offset_um = kr_expanded_um(frame->offset_um, expansion_ppb);
    for (uint16_t i = 0; i < is.n_points; i++)
        is.point[i].error_um = kr_expanded_um(frame->point[i].error_um, expansion_ppb);
    return is;
}

int32_t kr_expansion_back_ppb(int32_t expansion_ppb)
{
    return (int32_t)nearest(-expansion_ppb * PPB, PPB + expansion_ppb);
}

int32_t kr_expansion_ppb(int32_t coefficient_ppb, uint16_t temperature_ck)
{
    return (int32_t)nearest((int64_t)coefficient_ppb * (temperature_ck - KR_TEMPERATURE_20_CK), 100);
}

uint16_t kr_frame_bad_point(const struct kr_frame *frame)
{
    for (uint16_t i = 1; i < frame->n_points; i++) {
        const struct kr_frame_point *a = &frame->point[i - 1], *b = &frame->point[i];
        int64_t way_um = (int64_t)b->at_um - a->at_um, rise_um = (int64_t)b->error_um - a->error_um;
        if (way_um <= 0 || (rise_um < 0 ? -rise_um : rise_um) * KR_FRAME_STEEPEST > way_um)
            return (uint16_t)(i + 1);
    }
    return 0;
}
