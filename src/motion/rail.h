/* Private to src/motion: the argument of its functions, one rail during one call. */
#ifndef KR_MOTION_RAIL_H
#define KR_MOTION_RAIL_H

#include "kniferail/motion.h"

struct rail {
    struct kr_motion *m;           /* the rail's state */
    const struct kr_motion_in *in; /* its input */
    struct kr_motion_out *out;     /* its events; NULL if the call reports none */
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

/* The two conversions through the frame. Every position that a drive reports, edges of a scan included, is converted by
 * the first one; every target that it gets is converted by the second one. Jumps, drift, rest and travel are checked in
 * the drive's own positions. */
static inline int32_t place_by_um(const struct rail *r, int32_t position_um)
{
    return kr_frame_place_um(&r->in->carriage->frame, position_um);
}

static inline int32_t position_for_um(const struct rail *r, int32_t place_um)
{
    return kr_frame_position_um(&r->in->carriage->frame, place_um);
}

static inline int32_t carriage_place_um(const struct rail *r)
{
    return place_by_um(r, axis_of(r)->position_um);
}

/* Returns the flags that a switch met in a pass, in their sequence. */
static inline struct kr_hit *scan_hits(struct kr_scan *scan, enum kr_switch_of of, uint8_t pass)
{
    return of == KR_SWITCH_OF_HOLDERS ? scan->hit[pass] : scan->reference_hit[pass];
}

#endif
