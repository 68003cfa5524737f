#include "sim/server.h"

#include <signal.h>
#include <stdio.h>
#include <string.h>

/* ---- the clock ----------------------------------------------------------------------------------------- */

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
            printf("script: %s of rail %u %s\n", sim_fault_info(row->fault)->name, row->rail + 1u,
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

/* In steps of a millisecond, so that a script's fault strikes at its own time also after a pause. */
void sim_server_catch_up(struct sim_server *server)
{
    uint64_t due_us = (uv_hrtime() - server->started_ns) / 1000;
    while (server->run_us + SIM_SUBSTEP_US <= due_us) {
        sim_machine_run(&server->machine, SIM_SUBSTEP_US);
        server->run_us += SIM_SUBSTEP_US;
        run_script(server);
    }
}

static void on_tick(uv_timer_t *tick)
{
    sim_server_catch_up(tick->data);
}

static void on_signal(uv_signal_t *handle, int number)
{
    (void)number;
    sim_server_stop(handle->data);
}

/* ---- init ---------------------------------------------------------------------------------------------- */

int sim_server_rail(const struct sim_link *link, uint8_t unit_id)
{
    for (uint16_t i = 0; i < link->n_rails; i++)
        if (link->server->drive[link->rail[i]].link.unit_id == unit_id)
            return link->rail[i];
    return -1;
}

static void put_on_link(struct sim_server *server, uint16_t rail)
{
    const struct kr_drive_link *wanted = &server->drive[rail].link;
    uint16_t i = 0;
    while (i < server->n_links && !kr_drive_same_link(server->link[i].drive_link, wanted))
        i++;
    struct sim_link *link = &server->link[i];
    if (i == server->n_links) {
        *link = (struct sim_link){.server = server, .drive_link = wanted, .master_fd = -1, .slave_fd = -1};
        server->n_links++;
    }
    link->rail[link->n_rails++] = rail;
}

bool sim_server_init(struct sim_server *server, uv_loop_t *loop, const struct sim_config *config,
                     const struct kr_drive drive[], char *error, size_t size)
{
    memset(server, 0, sizeof *server);
    server->loop = loop;
    struct sim_mistake m = sim_machine_init(&server->machine, config);
    if (m.what) {
        snprintf(error, size, "the machine: %s of rail %u, holder %u: %lld; %lld to %lld is possible", m.what,
                 (unsigned)m.rail, (unsigned)m.holder, (long long)m.value, (long long)m.least,
                 (long long)m.most);
        return false;
    }
    sim_slave_init(&server->slave, &server->machine);
    for (uint16_t r = 0; r < config->n_rails; r++) {
        struct kr_drivemap_mistake d = kr_drivemap_check(&drive[r].map);
        if (d.what) {
            snprintf(error, size, "the drive of rail %d: %s is %d", r + 1, d.what, d.value);
            return false;
        }
        server->drive[r] = drive[r];
        server->slave.drive[r].map = drive[r].map;
        put_on_link(server, r);
    }
    return true;
}

/* ---- start and end ------------------------------------------------------------------------------------- */

static bool heed(struct sim_server *server, uv_signal_t *handle, int number)
{
    handle->data = server;
    return uv_signal_init(server->loop, handle) == 0 && uv_signal_start(handle, on_signal, number) == 0;
}

bool sim_server_start(struct sim_server *server, char *error, size_t size)
{
    signal(SIGPIPE, SIG_IGN); /* a master may go away while it has answers to come */
    server->started_ns = uv_hrtime();
    server->tick.data = server;
    if (uv_timer_init(server->loop, &server->tick) != 0 ||
        uv_timer_start(&server->tick, on_tick, SIM_TICK_MS, SIM_TICK_MS) != 0 ||
        !heed(server, &server->interrupt, SIGINT) || !heed(server, &server->terminate, SIGTERM)) {
        snprintf(error, size, "the event loop could not be set up");
        return false;
    }
    return true;
}

void sim_server_stop(struct sim_server *server)
{
    if (server->stopping)
        return;
    server->stopping = true;
    uv_close((uv_handle_t *)&server->tick, NULL);
    uv_close((uv_handle_t *)&server->interrupt, NULL);
    uv_close((uv_handle_t *)&server->terminate, NULL);
    for (uint16_t i = 0; i < server->n_links; i++) {
        struct sim_link *link = &server->link[i];
        if (link->open && link->drive_link->serial)
            sim_server_close_line(link);
        else if (link->open)
            uv_close((uv_handle_t *)&link->handle.tcp, NULL);
        link->open = false;
    }
    sim_server_close_connections(server);
    sim_server_close_consoles(server);
}
