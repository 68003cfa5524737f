/* Small functions for whole numbers. Private to src/plan. */
#ifndef KNIFERAIL_PLAN_INTEGERS_H
#define KNIFERAIL_PLAN_INTEGERS_H

#include <stdint.h>

/* Rounds towards minus infinity; by > 0. */
static inline int64_t floor_div(int64_t value, int64_t by)
{
    int64_t q = value / by;
    return value % by < 0 ? q - 1 : q;
}

/* Rounds towards plus infinity; by > 0. */
static inline int64_t ceil_div(int64_t value, int64_t by)
{
    int64_t q = value / by;
    return value % by > 0 ? q + 1 : q;
}

static inline int32_t clamp_i32(int64_t value)
{
    if (value > INT32_MAX)
        return INT32_MAX;
    if (value < INT32_MIN)
        return INT32_MIN;
    return (int32_t)value;
}

static inline int64_t min_i64(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static inline int max_int(int a, int b)
{
    return a > b ? a : b;
}

static inline int64_t max_i64(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

static inline int64_t abs_i64(int64_t a)
{
    return a < 0 ? -a : a;
}

#endif
