#ifndef KR_MOTION_DRIVE_H
#define KR_MOTION_DRIVE_H

#include "rail.h"

void drive_move(const struct rail *r, int32_t target_um, struct kr_speed speed);
void drive_home(const struct rail *r);
void drive_step(const struct rail *r);
void drive_outputs(const struct kr_motion *m, const struct kr_motion_in *motion_in, struct kr_axis_out *out);

#endif
