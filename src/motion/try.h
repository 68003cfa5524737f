#ifndef KR_MOTION_TRY_H
#define KR_MOTION_TRY_H

#include "rail.h"

void try_begin(const struct rail *r); /* the drive must be off */
void try_step(const struct rail *r);

#endif
