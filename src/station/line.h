#ifndef KR_STATION_LINE_H
#define KR_STATION_LINE_H

#include "state.h"

/* To the line, and to whoever reads: each is 0 in any doubt. */
uint16_t line_status(const struct kr_station *s);

/* Orders as they are shown. While a Start or a verdict is being stored, as it was before: a master never sees what a
 * power cut could take back. */
struct orders_shown orders_shown(const struct kr_station *s);

#endif
