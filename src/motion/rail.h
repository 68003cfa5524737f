/* Private to src/motion: what its functions work on, one rail in one call. */
#ifndef KR_MOTION_RAIL_H
#define KR_MOTION_RAIL_H

#include "kniferail/motion.h"

struct rail {
    struct kr_motion *m;           /* the rail's state */
    const struct kr_motion_in *in; /* what came in */
    struct kr_motion_out *out;     /* what is told; NULL where nothing can be */
};

static inline int64_t now_ms(const struct rail *r)
{
    return r->in->now_us / 1000;
}

/* The axis that moves the carriage. */
static inline const struct kr_axis_in *axis_of(const struct rail *r)
{
    return &r->in->axis[0];
}

#endif
