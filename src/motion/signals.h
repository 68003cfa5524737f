#ifndef KR_MOTION_SIGNALS_H
#define KR_MOTION_SIGNALS_H

#include "rail.h"

/* Tells whether the input answers the output with which the present phase began. */
bool carriage_fresh(const struct rail *r);

/* Tells whether all inputs of `on` are on and all of `off` are off, however old the image is. It is for supervision. */
bool carriage_input(const struct rail *r, uint16_t on, uint16_t off);

/* carriage_fresh() and carriage_input(). */
bool input_proven(const struct rail *r, uint16_t on, uint16_t off);
bool pin_is_out(const struct rail *r);
bool pin_is_in(const struct rail *r);
bool carriage_clamped(const struct rail *r);
bool carriage_has_datum(const struct rail *r);
/* Within the travel and its margin. */
bool within_travel(const struct kr_carriage_config *carriage, int32_t at_um);
bool phase_is_late(const struct rail *r, int32_t limit_ms); /* the present phase has lasted this long */

/* Limits a speed to the setup speed if the caller asks for reduced speed. */
struct kr_speed limited_speed(const struct rail *r, struct kr_speed full);

#endif
