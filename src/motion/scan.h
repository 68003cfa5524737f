#ifndef KR_MOTION_SCAN_H
#define KR_MOTION_SCAN_H

#include "rail.h"

void scan_begin(const struct rail *r);
void scan_step(const struct rail *r);
uint16_t scan_probe(const struct kr_motion *m); /* the touch probe function that the scan wants */

#endif
