#ifndef KR_MOTION_SIGNALS_H
#define KR_MOTION_SIGNALS_H

#include "rail.h"

/* Whether the input answers the output with which the present phase began. */
bool carriage_fresh(const struct rail *r);

/* Whether all of `on` is there and none of `off`, whatever the age of the proof: for supervision. */
bool carriage_input(const struct rail *r, uint16_t on, uint16_t off);

bool input_proven(const struct rail *r, uint16_t on, uint16_t off); /* both */
bool pin_is_out(const struct rail *r);
bool pin_is_in(const struct rail *r);
bool carriage_clamped(const struct rail *r);
bool carriage_has_datum(const struct rail *r);
bool within_travel(const struct kr_carriage_config *carriage, int32_t at_um); /* and its margin */
bool phase_is_late(const struct rail *r, int32_t limit_ms); /* the present phase has taken that long */

struct kr_speed limited_speed(const struct rail *r,
                              struct kr_speed full); /* to the setup speed, where that is asked for */

#endif
