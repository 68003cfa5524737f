#include "sim/server.h"

#include <signal.h>
#include <stdio.h>
#include <string.h>

/* ---- init ---------------------------------------------------------------------------------------------- */

static void put_on_link(struct sim_server *server, uint16_t rail)
{
    const struct kr_drive_link *wanted = &server->drive[rail].link;
    uint16_t i = 0;
    while (i < server->n_links && !kr_drive_same_link(server->link[i].drive_link, wanted))
        i++;
    struct sim_link *link = &server->link[i];
    if (i == server->n_links) {
        *link =
            (struct sim_link){.server = server, .drive_link = wanted, .master_fd = -1, .slave_fd = -1, .due_fd = -1};
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
                 (unsigned)m.rail, (unsigned)m.holder, (long long)m.value, (long long)m.least, (long long)m.most);
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
        server->slave.drive[r].n_expected = drive[r].n_expected;
        memcpy(server->slave.drive[r].expected, drive[r].expected, sizeof drive[r].expected);
        put_on_link(server, r);
    }
    return true;
}

/* ---- start and end ------------------------------------------------------------------------------------- */

static void on_tick(uv_timer_t *tick)
{
    struct sim_server *server = tick->data;
    if (server->quit_asked)
        sim_server_stop(server);
    else
        sim_server_catch_up(server);
}

static void on_signal(uv_signal_t *handle, int number)
{
    (void)number;
    sim_server_stop(handle->data);
}

static bool heed(struct sim_server *server, uv_signal_t *handle, int number)
{
    handle->data = server;
    return uv_signal_init(server->loop, handle) == 0 && uv_signal_start(handle, on_signal, number) == 0;
}

bool sim_server_start(struct sim_server *server, char *error, size_t size)
{
    signal(SIGPIPE, SIG_IGN); /* a master may disconnect before it has read its answers */
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
