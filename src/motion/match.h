#ifndef KR_MOTION_MATCH_H
#define KR_MOTION_MATCH_H

#include "rail.h"

/* Two measurements of the width of one flag, whose configured width is flag_um. */
bool widths_agree(int32_t a_um, int32_t b_um, int32_t flag_um);

/* True if every holder was found, and nothing else: then they are measured. Else the rail has tripped, and what was seen
 * is remembered. Flags come in growing order. */
bool match_hits(const struct rail *r, const struct kr_hit hit[], uint16_t n_hits);

#endif
