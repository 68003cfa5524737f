#include "kniferail/base.h"

#include <math.h>

int32_t kr_length_unit_nm(enum kr_length_unit unit)
{
    return unit == KR_LENGTH_INCH ? KR_NM_PER_INCH / 10000 : KR_NM_PER_UM;
}

/* Divides by a positive divisor and rounds to the nearest integer, halves up. */
static int64_t divide_nearest(int64_t a, int64_t b)
{
    int64_t twice = 2 * b;
    int64_t shifted = a % twice * 2 + b; /* small: no overflow for any a */
    int64_t whole = a / twice * 2;
    return whole + shifted / twice - (shifted % twice < 0 ? 1 : 0);
}

static int32_t saturate(int64_t value)
{
    if (value > INT32_MAX)
        return INT32_MAX;
    if (value < INT32_MIN)
        return INT32_MIN;
    return (int32_t)value;
}

int32_t kr_um_from_nm(int64_t nm)
{
    return saturate(divide_nearest(nm, KR_NM_PER_UM));
}

int64_t kr_nm_from_count(int32_t count, enum kr_length_unit unit)
{
    return (int64_t)count * kr_length_unit_nm(unit);
}

int32_t kr_count_from_nm(int64_t nm, enum kr_length_unit unit)
{
    return saturate(divide_nearest(nm, kr_length_unit_nm(unit)));
}

int32_t kr_count_from_um(int32_t um, enum kr_length_unit unit)
{
    return kr_count_from_nm((int64_t)um * KR_NM_PER_UM, unit);
}

int32_t kr_ms_from_us(int64_t us)
{
    return saturate(divide_nearest(us, 1000));
}

int64_t kr_move_time_us(int64_t distance_um, struct kr_speed speed)
{
    double d = (double)distance_um, v = speed.v_um_per_s, a = speed.a_um_per_s2;
    double seconds = d * a >= v * v ? d / v + v / a : 2 * sqrt(d / a);
    double us = seconds * 1e6;
    int64_t whole = (int64_t)us;
    return us - (double)whole >= 0.5 ? whole + 1 : whole; /* as llround(), without a call: planning asks this often */
}
