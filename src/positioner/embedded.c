/* The simulated machine as a positioner, in the same process and in virtual time. */
#include "kniferail/positioner.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "sim/machine.h"

static void exchange(void *self, const struct kr_axis_out out[], int64_t dt_us, struct kr_axis_in in[])
{
    sim_machine_step(self, out, dt_us, in);
}

bool kr_positioner_simulated(const struct sim_config *config, struct kr_positioner *positioner, char *error,
                             size_t error_size)
{
    struct sim_machine *machine = malloc(sizeof *machine);
    if (machine == NULL) {
        snprintf(error, error_size, "no memory for the simulated machine");
        return false;
    }
    struct sim_mistake mistake = sim_machine_init(machine, config);
    if (mistake.what != NULL) {
        snprintf(error, error_size,
                 "simulated machine: %s of rail %u, holder %u is %" PRId64 "; %" PRId64 " to %" PRId64 " is possible",
                 mistake.what, mistake.rail, mistake.holder, mistake.value, mistake.least, mistake.most);
        free(machine);
        return false;
    }
    *positioner = (struct kr_positioner){.exchange = exchange, .close = free, .self = machine, .virtual_time = true};
    return true;
}
