#include "station_host.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "build_id.h"
#include "clock.h"
#include "last_run.h"
#include "log.h"

/* ---- one step --------------------------------------------------------------------------------------------- */

static void take_answer(struct station_host *host)
{
    if (host->answer.ticket == 0)
        return;
    host->in.plan = host->answer;
    host->answer.ticket = 0;
}

/* Clears the inputs that are events rather than states, because they belong to only one step. */
static void forget_events(struct station_host *host)
{
    host->in.request.present = host->in.command.present = host->in.edit.present = false;
    host->in.halt = 0;
    host->in.plan.ticket = 0;
    host->in.wall_dt_us = 0;
}

static void step(struct station_host *host, int32_t dt_us)
{
    host->in.dt_us = dt_us;
    host->positioner.exchange(host->positioner.self, host->out.axis, dt_us, host->in.axis);
    host->in.committed_serial = host->commits.committed_serial;
    host->in.book_failed = host->commits.failed;
    host->in.book_gone = host->committer->seen == KR_BOOK_GONE;
    host->in.book_disk_full = host->committer->seen == KR_BOOK_DISK_FULL;
    host->in.knife = host->commits.knife;
    take_answer(host);
    kr_station_step(host->station, &host->in, &host->out);
    traces_step(host->traces, &host->trace, &host->in, &host->out);
    story_log_step(&host->story, &host->in, &host->trace.seen);
    host->commits.failure_seen = true;
    if (host->in.halt != 0)
        station_log_halt(&host->log, host->in.halt, host->halt_origin, &host->out.halt);
    forget_events(host);
    station_log_step(&host->log, host->station, &host->commits);
    const struct kr_book_changeover *ended =
        recorder_step(&host->recorder, host->station, &host->config.station.geometry, &host->image, dt_us);
    if (ended != NULL) {
        committer_changeover(&host->commits, ended);
        host->record_ended_s = ended->ended_utc_ms / 1000;
    }
    plans_ask(&host->plans, host->out.plan_ticket, host->station);
    committer_knife(&host->commits, host->out.knife_ticket, host->out.knife_name);
    committer_step(host->committer);
}

void station_host_publish(struct station_host *host)
{
    kr_station_image(host->station, &host->image);
    kr_image_set_32(&host->image, KR_REG_BUILD_ID, 0, 0, host->build);
    kr_image_set_32(&host->image, KR_REG_FILE_DIGEST, 0, 0, host->file_digest);
    kr_image_set_32(&host->image, KR_REG_RECORD_ENDED, 0, 0, (uint32_t)host->record_ended_s);
    last_run_show(&host->last_run, host->run_began_utc_ms, &host->image);
    struct kr_face_state state = {.request_busy = host->out.request_busy,
                                  .edit_busy = host->out.edit_busy,
                                  .drop_control = host->out.drop_control,
                                  .moving = host->out.moving,
                                  .control_generation = host->generation};
    kr_face_publish(host->face, host->index, &host->image, &state);
    station_log_image(&host->log, &host->image, (uint64_t)clock_us() / 1000);
}

/* ---- faster than the clock -------------------------------------------------------------------------------- */

/* For a machine that runs N times as fast as the clock, plans and the disk must not seem N times as slow. So machine
 * time stops while the pool works for this station. The cycle itself never stops: its first step is always made. */
static bool waits_for_pool(const struct station_host *host)
{
    return host->plans.busy || committer_pending(host->committer, &host->commits);
}

/* The factor is not guaranteed: the steps of a cycle may take four fifths of its period, for all stations together. The
 * rest of the time is for the face. */
static bool has_time(const struct station_host *host)
{
    return clock_us() - host->began_us < host->period_us * 4LL / 5 / host->n_stations;
}

static void run_steps(struct station_host *host, int32_t first_dt_us)
{
    int32_t dt_us = first_dt_us;
    while (host->steps_left > 0 && (host->steps_done == 0 || (has_time(host) && !waits_for_pool(host)))) {
        host->steps_left--;
        host->steps_done++;
        step(host, dt_us);
        dt_us = host->period_us;
    }
    station_host_publish(host);
}

/* The pool has answered. With a speed factor, the remaining steps of this cycle may be made at once. */
static void go_on(struct station_host *host)
{
    if (host->steps_left > 0 && has_time(host) && !waits_for_pool(host))
        run_steps(host, host->period_us);
}

static void on_plan(void *arg, const struct kr_plan_answer *answer)
{
    struct station_host *host = arg;
    host->answer = *answer;
    go_on(host);
}

static void on_commit(void *arg)
{
    go_on(arg);
}

/* ---- the cycle -------------------------------------------------------------------------------------------- */

static void take_from_face(struct station_host *host)
{
    struct kr_face_take take;
    kr_face_take(host->face, host->index, &take);
    host->in.request = take.request;
    host->in.command = take.command;
    host->in.edit = take.edit;
    snprintf(host->in.edit_origin, sizeof host->in.edit_origin, "%s", take.edit_origin);
    kr_station_in_line(&host->in, take.line, host->config.station.format);
    kr_station_in_jog(&host->in, take.jog);
    host->in.halt = take.halt;
    memcpy(host->halt_origin, take.halt_origin, sizeof host->halt_origin);
    host->in.controlled = take.control_held;
    host->in.control_generation = take.control_generation;
    host->generation = take.control_generation;
    station_log_command(&host->log, &take.command, take.command_origin);
    if (take.command.present)
        recorder_command(&host->recorder, take.command_origin);
    if (take.request.present)
        station_log_request(&host->log, take.request_origin);
    if (take.edit.present)
        station_log_edit(&host->log, take.edit_origin);
}

void station_host_cycle(struct station_host *host, uint32_t cycles, uint32_t overruns, bool shut_down)
{
    int64_t now_us = clock_us(), gone_us = now_us - host->began_us;
    host->began_us = now_us;
    take_from_face(host);
    int32_t wall_dt_us = gone_us < INT32_MAX ? (int32_t)gone_us : INT32_MAX;
    bool late = host->in.overruns != overruns; /* then this computer has no time for further steps */
    host->in.wall_dt_us = wall_dt_us;
    host->in.cycles = cycles;
    host->in.overruns = overruns;
    host->in.shut_down = shut_down;
    host->steps_left = host->positioner.virtual_time && !late ? host->speed_factor : 1;
    host->steps_done = 0;
    /* A real machine moves on while a cycle is late, even by a millisecond: at 1 m/s that is 1 mm. A simulated machine
     * waits. */
    run_steps(host, host->positioner.virtual_time ? host->period_us : wall_dt_us);
}

/* ---- life ------------------------------------------------------------------------------------------------- */

static void open_commits(struct station_host *host, uint16_t session)
{
    struct station_commits *commits = &host->commits;
    const struct kr_geometry *geometry = &host->config.station.geometry;
    snprintf(commits->name, sizeof commits->name, "%s", host->config.station.name);
    commits->station = host->station;
    commits->session = session;
    commits->on_commit = on_commit;
    commits->arg = host;
    commits->entry.length_unit = host->config.station.format.length_unit;
    for (uint16_t r = 0; r < geometry->n_rails; r++)
        commits->entry.n_holders[r] = geometry->rail[r].n_holders;
}

static void on_link(void *arg, uint16_t rail_number, const char *line)
{
    const struct station_host *host = arg;
    log_line(LOG_NOTICE, "%s: rail %u: %s", host->config.station.name, rail_number, line);
}

static bool open_positioner(struct station_host *host, char *error, size_t error_size)
{
    const struct kr_config_station *config = &host->config;
    switch (config->positioner) {
    case KR_POSITIONER_SIMULATED:
        return kr_positioner_simulated(&config->simulated, &host->positioner, error, error_size);
    case KR_POSITIONER_MODBUS:
        return kr_positioner_modbus(config->station.geometry.n_rails, config->drive,
                                    (struct kr_positioner_note){on_link, host}, &host->positioner, error, error_size);
    }
    snprintf(error, error_size, "this positioner does not exist");
    return false;
}

bool station_host_open(struct station_host *host, struct planner *planner, uint16_t index,
                       const struct kr_config_station *config, uint16_t n_stations, int32_t speed_factor,
                       uint16_t session, const struct kr_durable *durable, char *error, size_t error_size)
{
    memset(host, 0, sizeof *host);
    host->index = index;
    host->n_stations = n_stations;
    host->config = *config;
    host->period_us = config->station.period_us;
    host->speed_factor = speed_factor;
    host->build = build_id_number();
    host->station = malloc(kr_station_size());
    if (host->station == NULL) {
        snprintf(error, error_size, "out of memory");
        return false;
    }
    plans_open(&host->plans, planner, on_plan, host);
    if (!open_positioner(host, error, error_size))
        return false;
    kr_station_init(host->station, &config->station, session, durable);
    open_commits(host, session);
    host->commits.committed_serial = durable->serial;
    recorder_open(&host->recorder, host->station);
    station_log_open(&host->log, host->config.station.name, host->station, config->station.format);
    story_log_open(&host->story, &host->config.station);
    host->began_us = clock_us();
    return true;
}

void station_host_close(struct station_host *host)
{
    story_log_switch(&host->story, false);
    if (host->positioner.close != NULL)
        host->positioner.close(host->positioner.self);
    traces_free(&host->trace);
    free(host->station);
    host->station = NULL;
}
