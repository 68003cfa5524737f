/* A fault script: what breaks when, in what phase of a carriage, for how long. Pure: run it beside the machine. */
#ifndef KNIFERAIL_SIM_SCRIPT_H
#define KNIFERAIL_SIM_SCRIPT_H

#include "sim/machine.h"

#define SIM_SCRIPT_MAX 64

#define SIM_DOCKED_HOLDER (-1) /* whichever holder the pin has hold of when it happens */
#define SIM_FOR_EVER      (-1)

enum sim_row_state { SIM_ROW_WAITS, SIM_ROW_DUE, SIM_ROW_STANDS, SIM_ROW_OVER, SIM_ROW_REFUSED };

struct sim_script_row {
    enum sim_fault fault;
    uint16_t rail_index;
    int32_t holder_index, value; /* holder_index: or SIM_DOCKED_HOLDER */
    uint16_t reference_index;
    bool by_phase; /* else by the machine's time */
    enum sim_phase phase;
    uint32_t nth;     /* entry of that rail into the phase, from 1 */
    int64_t after_us; /* after that entry, or after the start */
    int64_t for_us;   /* or SIM_FOR_EVER */
    /* as it runs */
    enum sim_row_state state;
    int64_t since_us;    /* when it fell due, then when it struck */
    uint16_t item_index; /* holder or reference that it struck */
};

struct sim_script {
    uint16_t n;
    struct sim_script_row row[SIM_SCRIPT_MAX];
};

/* After each sim_machine_run() or sim_machine_step(): strikes and mends what is due. A row that the machine refuses
 * (no holder is docked, ...) becomes SIM_ROW_REFUSED. Returns how many rows have changed their state. */
uint16_t sim_script_step(struct sim_script *script, struct sim_machine *machine);

#endif
