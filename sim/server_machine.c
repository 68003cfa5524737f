/* Runs the machine and its script up to now, and finds the rail to which a frame belongs. */
#include <stdio.h>

#include "sim/server.h"

static void tell_script(const struct sim_script *script, const enum sim_row_state before[])
{
    static const char *const what[] = {[SIM_ROW_WAITS] = "waits",
                                       [SIM_ROW_DUE] = "is due",
                                       [SIM_ROW_STANDS] = "strikes",
                                       [SIM_ROW_OVER] = "is mended",
                                       [SIM_ROW_REFUSED] = "is not possible now"};
    for (uint16_t i = 0; i < script->n; i++) {
        const struct sim_script_row *row = &script->row[i];
        if (row->state != before[i] && row->state != SIM_ROW_DUE)
            printf("script: %s of rail %u %s\n", sim_fault_info(row->fault)->name, row->rail_index + 1u,
                   what[row->state]);
    }
    fflush(stdout);
}

static void run_script(struct sim_server *server)
{
    enum sim_row_state before[SIM_SCRIPT_MAX] = {SIM_ROW_WAITS};
    for (uint16_t i = 0; i < server->script.n; i++)
        before[i] = server->script.row[i].state;
    if (sim_script_step(&server->script, &server->machine) > 0)
        tell_script(&server->script, before);
}

/* Runs in steps of a millisecond, so that the script's faults begin at their times even after a pause. */
void sim_server_catch_up(struct sim_server *server)
{
    uint64_t due_us = (uv_hrtime() - server->started_ns) / 1000;
    while (server->run_us + SIM_SUBSTEP_US <= due_us) {
        sim_machine_run(&server->machine, SIM_SUBSTEP_US);
        server->run_us += SIM_SUBSTEP_US;
        run_script(server);
    }
}

int sim_server_rail(const struct sim_link *link, uint8_t unit_id)
{
    for (uint16_t i = 0; i < link->n_rails; i++)
        if (link->server->drive[link->rail[i]].link.unit_id == unit_id)
            return link->rail[i];
    return -1;
}
