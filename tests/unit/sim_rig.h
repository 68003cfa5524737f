/* A bench for the simulated machine: one or two rails, and the few things that a master does with a drive. */
#ifndef SIM_RIG_H
#define SIM_RIG_H

#include <check.h>

#include "sim/machine.h"

struct rig {
    struct sim_config config;
    struct sim_machine m;
    struct kr_axis_out out[KR_RAILS_MAX];
    struct kr_axis_in in[KR_RAILS_MAX];
    int32_t period_us;
};

/* One rail with class 1 holders (20 mm bodies) every 100 mm from 500 mm on, without any error of measurement or
 * placement: no backlash, slip, jitter, scatter. Change config, then rig_start(). */
void rig_config(struct rig *r, uint16_t n_rails, uint16_t n_holders);
void rig_start(struct rig *r);

void rig_step(struct rig *r);
void rig_run_ms(struct rig *r, int32_t ms);

/* Each gives up after limit_ms of machine time and says whether it came to be. */
bool rig_wait_inputs(struct rig *r, uint16_t rail, uint16_t inputs, int32_t limit_ms);
bool rig_wait_state(struct rig *r, uint16_t rail, enum kr_drive_state state, int32_t limit_ms);
bool rig_wait_status(struct rig *r, uint16_t rail, uint16_t bits, uint16_t value, int32_t limit_ms);
bool rig_enable(struct rig *r, uint16_t rail, int8_t mode);
bool rig_setpoint(struct rig *r, uint16_t rail, int32_t target_um); /* by the handshake; the move goes on */
bool rig_move(struct rig *r, uint16_t rail, int32_t target_um);     /* and waits for target reached */
bool rig_dock(struct rig *r, uint16_t rail);                        /* pin in, brake open */
bool rig_undock(struct rig *r, uint16_t rail);                      /* brake closed, pin out */

int32_t rig_holder_um(const struct rig *r, uint16_t holder); /* rail 0 */

#endif
