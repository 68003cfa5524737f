/* One rail with its drive, mechanics, switch and wire. Private to the machine. */
#ifndef KNIFERAIL_SIM_AXIS_H
#define KNIFERAIL_SIM_AXIS_H

#include "sim/machine.h"

void sim_axis_init(struct sim_axis *a, const struct sim_rail_config *config);
void sim_axis_step(struct sim_axis *a, const struct sim_rail_config *config, uint16_t inputs, struct sim_moment moment,
                   struct sim_incidents *incidents);
/* Hand a drive its outputs, and take its inputs. Neither passes while the link is lost. */
void sim_axis_write(struct sim_axis *a, const struct kr_axis_out *out);
void sim_axis_read(const struct sim_axis *a, const struct sim_rail_config *config, uint16_t inputs, int64_t now_us,
                   struct kr_axis_in *in);

/* Do the same at the master's end of the wire, where answers may be slow. */
void sim_axis_ask(struct sim_axis *a, int64_t now_us, const struct kr_axis_out *out);
void sim_axis_hear(const struct sim_axis *a, const struct sim_rail_config *config, uint16_t inputs, int64_t now_us,
                   struct kr_axis_in *in);

static inline bool sim_axis_broken(const struct sim_axis *a, enum sim_fault fault)
{
    return (a->broken >> fault & 1u) != 0;
}

#endif
