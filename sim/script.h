/* A fault script: which fault begins when, or in which phase of a carriage, and how long it lasts. Pure: run it beside
 * the machine. */
#ifndef KNIFERAIL_SIM_SCRIPT_H
#define KNIFERAIL_SIM_SCRIPT_H

#include "sim/machine.h"

#define SIM_SCRIPT_MAX 64

#define SIM_DOCKED_HOLDER (-1) /* the holder that the pin holds when the fault begins */
#define SIM_FOR_EVER      (-1)

enum sim_row_state { SIM_ROW_WAITS, SIM_ROW_DUE, SIM_ROW_STANDS, SIM_ROW_OVER, SIM_ROW_REFUSED };

struct sim_script_row {
    enum sim_fault fault;
    uint16_t rail_index;
    int32_t holder_index, value; /* holder_index may be SIM_DOCKED_HOLDER */
    uint16_t reference_index;
    bool by_phase; /* the fault depends on a phase; otherwise on the machine's time */
    enum sim_phase phase;
    uint32_t nth;     /* how many times the rail must have entered the phase, from 1 */
    int64_t after_us; /* delay after that entry, or after the start */
    int64_t for_us;   /* duration, or SIM_FOR_EVER */
    /* The state while the script runs: */
    enum sim_row_state state;
    int64_t since_us;    /* when the row became due, then when the fault began */
    uint16_t item_index; /* the holder or reference with the fault */
};

struct sim_script {
    uint16_t n;
    struct sim_script_row row[SIM_SCRIPT_MAX];
};

/* Call it after each sim_machine_run() or sim_machine_step(): begins and ends the faults that are due. A row that the
 * machine refuses (for example because no holder is docked) becomes SIM_ROW_REFUSED. Returns how many rows have changed
 * their state. */
uint16_t sim_script_step(struct sim_script *script, struct sim_machine *machine);

#endif
