#include "unit.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "clock.h"
#include "log.h"

/* ---- one step --------------------------------------------------------------------------------------------- */

static void take_answer(struct unit *unit)
{
    if (unit->answer.ticket == 0)
        return;
    unit->in.plan = unit->answer;
    unit->answer.ticket = 0;
}

/* What is an event, not a level, belongs to one step only. */
static void forget_events(struct unit *unit)
{
    unit->in.request.present = unit->in.command.present = unit->in.edit.present = false;
    unit->in.plan.ticket = 0;
    unit->in.wall_dt_us = 0;
}

static void step(struct unit *unit, int32_t dt_us)
{
    unit->in.dt_us = dt_us;
    unit->positioner.exchange(unit->positioner.self, unit->out.axis, dt_us, unit->in.axis);
    unit->in.committed_serial = unit->kept.committed_serial;
    unit->in.book_failed = unit->kept.failed;
    take_answer(unit);
    kr_station_step(unit->station, &unit->in, &unit->out);
    unit->kept.failure_seen = true;
    forget_events(unit);
    story_step(&unit->story, unit->station, &unit->kept);
    const struct kr_book_changeover *ended =
        recorder_step(&unit->recorder, unit->station, &unit->config.station.geometry, dt_us);
    if (ended != NULL)
        keeper_changeover(&unit->kept, ended);
    plans_ask(&unit->plans, unit->out.plan_ticket, unit->station);
    keeper_step(unit->keeper);
}

void unit_publish(struct unit *unit)
{
    kr_station_image(unit->station, &unit->image);
    struct kr_face_state state = {.request_busy = unit->out.request_busy,
                                  .edit_busy = unit->out.edit_busy,
                                  .drop_control = unit->out.drop_control,
                                  .moving = unit->out.moving,
                                  .control_generation = unit->generation};
    kr_face_publish(unit->face, unit->index, &unit->image, &state);
    story_image(&unit->story, &unit->image);
}

/* ---- faster than the clock -------------------------------------------------------------------------------- */

/* A machine that runs N times as fast must not find plans and the disk N times as slow: machine time stands still
 * while the pool works for this station. The cycle itself never stands still: its first step is always made. */
static bool waits_for_pool(const struct unit *unit)
{
    return unit->plans.busy || keeper_pending(unit->keeper, &unit->kept);
}

/* The factor is a wish: the steps of a cycle may take four fifths of its period, all stations together; the rest belongs
 * to the face. */
static bool has_time(const struct unit *unit)
{
    return clock_us() - unit->began_us < unit->period_us * 4LL / 5 / unit->n_stations;
}

static void run_steps(struct unit *unit, int32_t first_dt_us)
{
    int32_t dt_us = first_dt_us;
    while (unit->steps_left > 0 && (unit->steps_done == 0 || (has_time(unit) && !waits_for_pool(unit)))) {
        unit->steps_left--;
        unit->steps_done++;
        step(unit, dt_us);
        dt_us = unit->period_us;
    }
    unit_publish(unit);
}

/* The pool has answered: with a speed factor the rest of this cycle's steps may go on at once. */
static void go_on(struct unit *unit)
{
    if (unit->steps_left > 0 && has_time(unit) && !waits_for_pool(unit))
        run_steps(unit, unit->period_us);
}

static void on_plan(void *arg, const struct kr_plan_answer *answer)
{
    struct unit *unit = arg;
    unit->answer = *answer;
    go_on(unit);
}

static void on_commit(void *arg)
{
    go_on(arg);
}

/* ---- the cycle -------------------------------------------------------------------------------------------- */

static uint16_t line_word(const struct kr_face_take *take, enum kr_reg reg)
{
    return take->line[kr_reg_address(reg, 0, 0) - kr_block_info(KR_BLOCK_LINE)->first];
}

static uint32_t line_double_word(const struct unit *unit, const struct kr_face_take *take, enum kr_reg reg)
{
    const uint16_t *word = &take->line[kr_reg_address(reg, 0, 0) - kr_block_info(KR_BLOCK_LINE)->first];
    bool low_first = unit->config.station.format.low_word_first;
    return (uint32_t)word[low_first ? 1 : 0] << 16 | word[low_first ? 0 : 1];
}

static uint16_t jog_word(const struct kr_face_take *take, enum kr_reg reg)
{
    return take->jog[kr_reg_address(reg, 0, 0) - kr_block_info(KR_BLOCK_JOG)->first];
}

static void take_from_face(struct unit *unit)
{
    struct kr_face_take take;
    kr_face_take(unit->face, unit->index, &take);
    unit->in.request = take.request;
    unit->in.command = take.command;
    unit->in.edit = take.edit;
    snprintf(unit->in.edit_origin, sizeof unit->in.edit_origin, "%s", take.edit_origin);
    unit->in.plc_heartbeat = line_word(&take, KR_REG_PLC_HEARTBEAT);
    unit->in.permissives = line_word(&take, KR_REG_PERMISSIVES);
    unit->in.line_metres = line_double_word(unit, &take, KR_REG_LINE_METRES);
    unit->in.line_speed = line_word(&take, KR_REG_LINE_SPEED);
    unit->in.jog_refresh = jog_word(&take, KR_REG_JOG_REFRESH);
    unit->in.jog_direction = (int16_t)jog_word(&take, KR_REG_JOG_DIRECTION);
    unit->in.controlled = take.control_held;
    unit->in.control_generation = take.control_generation;
    unit->generation = take.control_generation;
    story_command(&unit->story, &take.command);
}

void unit_cycle(struct unit *unit, uint32_t cycles, uint32_t overruns, bool shut_down)
{
    int64_t now_us = clock_us(), gone_us = now_us - unit->began_us;
    unit->began_us = now_us;
    take_from_face(unit);
    int32_t wall_dt_us = gone_us < INT32_MAX ? (int32_t)gone_us : INT32_MAX;
    bool late = unit->in.overruns != overruns; /* then this machine has no time to give away */
    unit->in.wall_dt_us = wall_dt_us;
    unit->in.cycles = cycles;
    unit->in.overruns = overruns;
    unit->in.shut_down = shut_down;
    unit->steps_left = unit->positioner.virtual_time && !late ? unit->speed_factor : 1;
    unit->steps_done = 0;
    /* A real machine moves on while a cycle is late, if only by a millisecond: at 1 m/s that is 1 mm. A simulated one
     * waits. */
    run_steps(unit, unit->positioner.virtual_time ? unit->period_us : wall_dt_us);
}

/* ---- life ------------------------------------------------------------------------------------------------- */

static void open_kept(struct unit *unit, uint16_t session)
{
    struct kept_station *kept = &unit->kept;
    const struct kr_geometry *geometry = &unit->config.station.geometry;
    snprintf(kept->name, sizeof kept->name, "%s", unit->config.station.name);
    kept->station = unit->station;
    kept->session = session;
    kept->on_commit = on_commit;
    kept->arg = unit;
    kept->entry.unit = unit->config.station.format.unit;
    for (uint16_t r = 0; r < geometry->n_rails; r++)
        kept->entry.n_holders[r] = geometry->rail[r].n_holders;
}

static void on_link(void *arg, uint16_t rail, const char *line)
{
    const struct unit *unit = arg;
    log_line(LOG_NOTICE, "%s: rail %u: %s", unit->config.station.name, rail, line);
}

static bool open_positioner(struct unit *unit, char *error, size_t error_size)
{
    const struct kr_config_station *config = &unit->config;
    switch (config->positioner) {
    case KR_POSITIONER_SIMULATED:
        return kr_positioner_simulated(&config->simulated, &unit->positioner, error, error_size);
    case KR_POSITIONER_MODBUS:
        return kr_positioner_modbus(config->station.geometry.n_rails, config->drive,
                                    (struct kr_positioner_note){on_link, unit}, &unit->positioner, error,
                                    error_size);
    }
    snprintf(error, error_size, "no such positioner");
    return false;
}

bool unit_open(struct unit *unit, uv_loop_t *loop, uint16_t index, const struct kr_config_station *config,
               uint16_t n_stations, int32_t speed_factor, uint16_t session, const struct kr_durable *durable,
               char *error, size_t error_size)
{
    memset(unit, 0, sizeof *unit);
    unit->index = index;
    unit->n_stations = n_stations;
    unit->config = *config;
    unit->period_us = config->station.period_us;
    unit->speed_factor = speed_factor;
    unit->station = malloc(kr_station_size());
    if (unit->station == NULL || !plans_open(&unit->plans, loop, on_plan, unit)) {
        snprintf(error, error_size, "out of memory");
        return false;
    }
    if (!open_positioner(unit, error, error_size))
        return false;
    kr_station_init(unit->station, &config->station, session, durable);
    open_kept(unit, session);
    unit->kept.committed_serial = durable->serial;
    recorder_open(&unit->recorder, unit->station);
    story_open(&unit->story, unit->config.station.name, unit->station, config->station.format);
    unit->began_us = clock_us();
    return true;
}

void unit_close(struct unit *unit)
{
    if (unit->positioner.close != NULL)
        unit->positioner.close(unit->positioner.self);
    if (unit->plans.workspace != NULL)
        plans_close(&unit->plans);
    free(unit->station);
    unit->station = NULL;
}
