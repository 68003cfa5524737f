/* A rig for the simulated machine: one or two rails, and a master's simplest actions with a drive. */
#ifndef SIM_RIG_H
#define SIM_RIG_H

#include <check.h>

#include "sim/machine.h"

struct sim_rig {
    struct sim_config config;
    struct sim_machine m;
    struct kr_axis_out out[KR_RAILS_MAX];
    struct kr_axis_in in[KR_RAILS_MAX];
    int32_t period_us;
};

/* Fills in rails with holders (20 mm bodies) every 100 mm from 500 mm on, without any error of measurement or
 * placement: no backlash, slip, jitter or scatter. Change the config if needed, then call sim_rig_start(). */
void sim_rig_defaults(struct sim_rig *r, uint16_t n_rails, uint16_t n_holders);
void sim_rig_start(struct sim_rig *r);

void sim_rig_cycle(struct sim_rig *r);
void sim_rig_run_ms(struct sim_rig *r, int32_t ms);

/* Each gives up after limit_ms of machine time, and returns whether the condition was met. */
bool sim_rig_run_until_inputs(struct sim_rig *r, uint16_t rail, uint16_t inputs, int32_t limit_ms);
bool sim_rig_run_until_state(struct sim_rig *r, uint16_t rail, enum kr_drive_state state, int32_t limit_ms);
bool sim_rig_run_until_status(struct sim_rig *r, uint16_t rail, uint16_t bits, uint16_t value, int32_t limit_ms);
bool sim_rig_enable(struct sim_rig *r, uint16_t rail, int8_t mode);
/* Sends the set-point by the handshake, and does not wait for the move. */
bool sim_rig_setpoint(struct sim_rig *r, uint16_t rail, int32_t target_um);
bool sim_rig_move(struct sim_rig *r, uint16_t rail, int32_t target_um); /* also waits for target reached */
bool sim_rig_dock(struct sim_rig *r, uint16_t rail);                    /* pin in, brake open */
bool sim_rig_undock(struct sim_rig *r, uint16_t rail);                  /* brake closed, pin out */

int32_t sim_rig_holder_um(const struct sim_rig *r, uint16_t holder); /* a holder of rail 0 */

#endif
