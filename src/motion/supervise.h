#ifndef KR_MOTION_SUPERVISE_H
#define KR_MOTION_SUPERVISE_H

#include "rail.h"

/* Checks the conditions that must hold all the time that a carriage works. */
void supervise_step(const struct rail *r);

#endif
