/* Random numbers that depend on their purpose, not on the time at which they are drawn. The same event of the same
 * machine draws the same value, however time is divided into steps, and whatever else happened before. */
#ifndef KNIFERAIL_SIM_DRAW_H
#define KNIFERAIL_SIM_DRAW_H

#include <stdint.h>

enum sim_draw_what {
    SIM_DRAW_EDGE_DELAY = 1,
    SIM_DRAW_BOUNCE,
    SIM_DRAW_SLIP,
    SIM_DRAW_CLAMP_SHIFT,
    SIM_DRAW_CREEP,
    SIM_DRAW_HOME,
};

/* nth: the number of the event, counted for each purpose and item (the third release of this holder, ...). */
struct sim_draw {
    uint64_t seed;
    enum sim_draw_what what;
    uint32_t rail, item, nth;
};

uint64_t sim_draw_bits(struct sim_draw draw);
double sim_draw_unit(struct sim_draw draw);       /* 0 <= value < 1 */
double sim_draw_either_way(struct sim_draw draw); /* -1 <= value < 1 */

#endif
