#include "storms.h"

#include <stdio.h>
#include <stdlib.h>

#define STANDS_UM_PER_S 500
#define SEEN_MS \
    250 /* until what a limit asks for has reached the drive: cycles, the drive's lag, its ramp's rounding */

const char *storm_meaning(enum storm storm)
{
    static const char *const meaning[] = {
#define X(NAME, what) what,
        STORMS(X)
#undef X
    };
    return meaning[storm];
}

static void say(struct storms *s, const struct rig *rig, const char *what, int64_t value, int64_t limit)
{
    if (s->what[0] == 0)
        snprintf(s->what, sizeof s->what, "at %.2f s: %s (%lld, limit %lld)", (double)rig->time_us / 1e6, what,
                 (long long)value, (long long)limit);
}

/* ---- who writes ---------------------------------------------------------------------------------------- */

static uint16_t *heartbeat_of(struct storms *s)
{
    return &s->holding[kr_reg_address(KR_REG_PLC_HEARTBEAT, 0, 0)];
}

static uint16_t *count_of(struct storms *s)
{
    return &s->holding[kr_reg_address(KR_REG_ACCESS_COUNT, 0, 0)];
}

static void takes_control(struct rig *rig)
{
    if (rig->in.controlled)
        return;
    rig->in.controlled = true;
    rig->in.control_generation++;
}

static void plc_writes(struct storms *s, struct rig *rig)
{
    takes_control(rig);
    ++*heartbeat_of(s);
    s->holding[kr_reg_address(KR_REG_PERMISSIVES, 0, 0)] = s->wanted;
    *count_of(s) = s->count;
    face_line_written(&s->line, s->holding, 0, s->count != 0 ? KR_FACE_LINE_WORDS : 2);
    s->wrote_us = rig->time_us;
}

static void second_writes(struct storms *s, struct rig *rig)
{
    takes_control(rig); /* it has the PLC's address */
    ++*heartbeat_of(s);
    face_line_written(&s->line, s->holding, kr_reg_address(KR_REG_PLC_HEARTBEAT, 0, 0), 1);
    s->second_us = rig->time_us;
}

/* As src/face/registers.c has it: who loses control leaves nothing that is given. */
void storms_let_go(struct storms *s, struct rig *rig)
{
    if (!rig->in.controlled)
        return;
    rig->in.controlled = false;
    rig->in.control_generation++;
    s->line = (struct face_line){.heartbeat = s->line.heartbeat};
}

void storms_gateway_began(struct storms *s)
{
    s->line = (struct face_line){0};
}

static void write_line(struct storms *s, struct rig *rig)
{
    uint16_t word[KR_FACE_LINE_WORDS], holding[64] = {0};
    bool changed = s->wanted != s->holding[kr_reg_address(KR_REG_PERMISSIVES, 0, 0)] || s->count != *count_of(s);
    if (rig->out.drop_control)
        storms_let_go(s, rig);
    if (!s->silent && (changed || rig->time_us - s->wrote_us >= s->beat_us))
        plc_writes(s, rig);
    if (s->second && rig->time_us - s->second_us >= s->beat_us)
        second_writes(s, rig);
    memcpy(holding, s->holding, sizeof s->holding);
    face_line_take(&s->line, holding, word);
    rig->in.plc_heartbeat = word[kr_reg_address(KR_REG_PLC_HEARTBEAT, 0, 0)];
    rig->in.permissives = word[kr_reg_address(KR_REG_PERMISSIVES, 0, 0)];
    rig->in.access_count = word[kr_reg_address(KR_REG_ACCESS_COUNT, 0, 0)];
}

/* ---- the wires ----------------------------------------------------------------------------------------- */

static int32_t swap(int32_t um)
{
    return (int32_t)((uint32_t)um << 16 | (uint32_t)um >> 16);
}

static int32_t as_drive_has_it(const struct storm_wire *wire, int32_t um)
{
    um = wire->reversed ? -um : um;
    return wire->swapped ? swap(um) : um;
}

static void spoil_image(const struct storm_wire *wire, struct kr_axis_in *in)
{
    if (wire->refused)
        *in = (struct kr_axis_in){.age_ms = in->age_ms, .refusal.why = KR_REFUSED_OTHER_GATEWAY};
    in->position_um = as_drive_has_it(wire, in->position_um);
    in->rise_um = as_drive_has_it(wire, in->rise_um);
    in->fall_um = as_drive_has_it(wire, in->fall_um);
    in->second.rise_um = as_drive_has_it(wire, in->second.rise_um);
    in->second.fall_um = as_drive_has_it(wire, in->second.fall_um);
}

/* What the positioner would do: give the link up, and find it again with the answer. */
static void late_wire(struct storm_wire *wire, struct rig *rig, uint16_t r)
{
    struct kr_axis_in *in = &rig->in.axis[r];
    if (!wire->late)
        return;
    wire->was_late = wire->was_late || in->age_ms > rig->config.carriage[r].answers_late_ms;
    if (in->link && in->age_ms > wire->lost_ms)
        *in = (struct kr_axis_in){.age_ms = in->age_ms};
    const struct sim_wire *w = &rig->machine.axis[r].wire;
    if (!w->waiting && w->delivered_us != wire->before_us) {
        (void)sim_machine_mend(&rig->machine, r, SIM_SLOW_ANSWERS, 0);
        wire->late = false;
    }
}

static void meddle(struct rig *rig)
{
    struct storms *s = rig->of_meddle;
    write_line(s, rig);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        late_wire(&s->wire[r], rig, r);
        spoil_image(&s->wire[r], &rig->in.axis[r]);
    }
}

/* ---- the station --------------------------------------------------------------------------------------- */

static void draw_limits(struct draw *d, struct rig *rig)
{
    rig->config.heartbeat_limit_ms = draw_between(d, 100, 2000);
    rig->config.control_limit_ms = rig->config.heartbeat_limit_ms + draw_between(d, 0, 3000);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        rig->config.carriage[r].answers_late_ms = draw_between(d, 100, 450);
        if (draw_chance(d, 50))
            rig->config.carriage[r].drift_um = 0; /* nobody compares where a carriage rested */
        rig->sim_config.rail[r].watchdog_ms = rig->config.carriage[r].answers_late_ms + draw_between(d, 50, 200);
    }
}

void storms_init(struct storms *s, struct draw *draw, struct rig *rig, int32_t beat_ms, int32_t lost_ms)
{
    *s = (struct storms){.draw = draw, .wanted = 0x1F, .beat_us = 1000LL * beat_ms};
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        s->wire[r].lost_ms = lost_ms;
    rig->meddle = meddle;
    rig->of_meddle = s;
}

void storms_draw(struct storms *s, struct draw *draw, struct rig *rig)
{
    draw_limits(draw, rig);
    storms_init(s, draw, rig, rig->config.heartbeat_limit_ms / draw_between(draw, 3, 6), 0);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++)
        s->wire[r].lost_ms = rig->sim_config.rail[r].watchdog_ms + draw_between(draw, 50, 500);
}

/* ---- what must never happen ---------------------------------------------------------------------------- */

static int64_t ramp_ms(const struct rig *rig, uint16_t r)
{
    const struct kr_rail_geometry *g = &rig->config.geometry.rail[r];
    int64_t empty_ms = 1000LL * g->empty.v_um_per_s / g->empty.a_um_per_s2;
    int64_t drag_ms = 1000LL * g->drag.v_um_per_s / g->drag.a_um_per_s2;
    return empty_ms > drag_ms ? empty_ms : drag_ms;
}

static bool moves(const struct rig *rig, uint16_t r)
{
    return abs(sim_machine_speed_um_per_s(&rig->machine, r)) > STANDS_UM_PER_S;
}

/* The second writer's heartbeat is nobody's permission. */
static void watch_silence(struct storms *s, const struct rig *rig)
{
    int64_t silent_ms = (rig->time_us - s->wrote_us) / 1000;
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        int64_t limit_ms = rig->config.heartbeat_limit_ms + ramp_ms(rig, r) + SEEN_MS;
        if (silent_ms > limit_ms && moves(rig, r))
            say(s, rig, "a carriage moves though the PLC is silent for ms", silent_ms, limit_ms);
    }
}

static void watch_late(struct storms *s, const struct rig *rig, uint16_t r)
{
    struct storm_wire *wire = &s->wire[r];
    if (!wire->was_late)
        wire->late_us = 0;
    else if (wire->late_us == 0)
        wire->late_us = rig->time_us;
    int64_t ms = (rig->time_us - wire->late_us) / 1000, limit_ms = wire->lost_ms + ramp_ms(rig, r) + SEEN_MS;
    if (!wire->was_late)
        return;
    if (kr_station_state(rig->station) != KR_STATE_EXECUTE || !moves(rig, r))
        wire->was_late = false; /* it has been seen, or there was nothing to stop */
    else if (ms > limit_ms)
        say(s, rig, "a carriage goes on though an answer was too late, for ms", ms, limit_ms);
}

bool storms_shows_impossible(const struct rig *rig, uint16_t r)
{
    const struct kr_carriage_config *c = &rig->config.carriage[r];
    const struct kr_axis_in *in = &rig->in.axis[r];
    int64_t at_um = in->position_um, margin_um = c->travel_margin_um;
    return in->link && in->referenced && in->mode != KR_MODE_HOMING &&
           (at_um < c->travel_min_um - margin_um || at_um > c->travel_max_um + margin_um);
}

static void watch_position(struct storms *s, const struct rig *rig, uint16_t r)
{
    struct storm_wire *wire = &s->wire[r];
    bool homes = rig->out.axis[r].mode == KR_MODE_HOMING;
    if (!storms_shows_impossible(rig, r) || homes || !moves(rig, r))
        wire->impossible_us = 0;
    else if (wire->impossible_us == 0)
        wire->impossible_us = rig->time_us;
    int64_t ms = wire->impossible_us != 0 ? (rig->time_us - wire->impossible_us) / 1000 : 0;
    int64_t limit_ms = ramp_ms(rig, r) + SEEN_MS;
    if (ms > limit_ms)
        say(s, rig, "a carriage moves at a position that can't be, for ms", ms, limit_ms);
}

void storms_step(struct storms *s, struct rig *rig)
{
    watch_silence(s, rig);
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        struct storm_wire *wire = &s->wire[r];
        watch_late(s, rig, r);
        watch_position(s, rig, r);
        rig->out.axis[r].target_um = as_drive_has_it(wire, rig->out.axis[r].target_um);
    }
}

/* ---- how it strikes ------------------------------------------------------------------------------------ */

/* Around the limit rather than anywhere: half of them below it. */
static int32_t around(struct draw *d, int32_t limit_ms)
{
    return draw_chance(d, 50) ? draw_between(d, limit_ms / 4, limit_ms) : draw_between(d, limit_ms, 2 * limit_ms);
}

static int32_t silence_ms(struct storms *s, const struct rig *rig)
{
    int32_t limit_ms = draw_chance(s->draw, 60) ? rig->config.heartbeat_limit_ms : rig->config.control_limit_ms;
    return around(s->draw, limit_ms);
}

bool storms_restart(struct storms *s, struct rig *rig, uint16_t r, bool swapped)
{
    if (!rig->in.axis[r].link || !sim_machine_break(&rig->machine, r, SIM_DRIVE_REBOOT, 0, 0))
        return false;
    s->wire[r].swapped = swapped;
    s->wire[r].reversed = !swapped;
    return true;
}

bool storms_answer_late(struct storms *s, struct rig *rig, uint16_t r, int32_t late_ms)
{
    if (!rig->in.axis[r].link || !sim_machine_break(&rig->machine, r, SIM_SLOW_ANSWERS, 0, late_ms))
        return false;
    s->wire[r].before_us = rig->machine.axis[r].wire.delivered_us;
    s->wire[r].late = true;
    s->wire[r].was_late = false;
    return true;
}

static bool answers_late(struct storms *s, struct rig *rig, uint16_t r, int32_t *for_ms)
{
    int32_t stop_ms = rig->config.carriage[r].answers_late_ms;
    int32_t late_ms = around(s->draw, draw_chance(s->draw, 50) ? stop_ms : s->wire[r].lost_ms);
    *for_ms = late_ms + 500;
    return storms_answer_late(s, rig, r, late_ms);
}

bool storms_jump_far(struct rig *rig, uint16_t r, int32_t beyond_um)
{
    const struct kr_carriage_config *c = &rig->config.carriage[r];
    int32_t whole_um = c->travel_max_um - c->travel_min_um + c->travel_margin_um;
    int32_t by_um = beyond_um < 0 ? beyond_um - whole_um : beyond_um + whole_um;
    return rig->in.axis[r].link && sim_machine_break(&rig->machine, r, SIM_POSITION_JUMP, 0, by_um);
}

static bool jumps_far(struct storms *s, struct rig *rig, uint16_t r)
{
    int32_t beyond_um = draw_between(s->draw, 1, 300000);
    return storms_jump_far(rig, r, draw_chance(s->draw, 50) ? beyond_um : -beyond_um);
}

/* Before the scan that verifies: what creeps behind it, nothing looks at any more. */
static bool nobody_has_looked_yet(const struct rig *rig)
{
    switch (kr_station_state(rig->station)) {
    case KR_STATE_IDLE:
    case KR_STATE_STOPPED: return true;
    case KR_STATE_HELD:
    case KR_STATE_SUSPENDED: return rig_phase(rig) == KR_PHASE_MOVE || rig_phase(rig) == KR_PHASE_SCAN;
    default: return false;
    }
}

bool storms_creep(struct rig *rig, uint16_t r, uint16_t holder, int32_t by_um)
{
    if (rig_docked(rig, r) != 0 || rig_carriage_phase(rig, r) != KR_CARRIAGE_OFF ||
        rig_holder(rig, (uint16_t)(r + 1), (uint16_t)(holder + 1))->state != KR_HOLDER_IN ||
        !rig_shove(rig, r, holder, by_um))
        return false;
    rig->crept[r][holder] = true;
    rig->crept_claim_um[r][holder] = rig_holder(rig, (uint16_t)(r + 1), (uint16_t)(holder + 1))->position_um;
    return true;
}

static bool creeps(struct storms *s, struct rig *rig, uint16_t r, uint16_t holder)
{
    int32_t by_um = (draw_chance(s->draw, 50) ? 1 : -1) * draw_between(s->draw, 200, 9000);
    return nobody_has_looked_yet(rig) && storms_creep(rig, r, holder, by_um);
}

/* The command that would lead on from where the unit rests; 0: it doesn't rest. */
static enum kr_command leads_on(enum kr_unit_state state)
{
    switch (state) {
    case KR_STATE_ABORTED: return KR_COMMAND_CLEAR;
    case KR_STATE_STOPPED:
    case KR_STATE_COMPLETE: return KR_COMMAND_RESET;
    case KR_STATE_IDLE: return KR_COMMAND_START;
    case KR_STATE_HELD: return KR_COMMAND_UNHOLD;
    case KR_STATE_SUSPENDED: return KR_COMMAND_UNSUSPEND;
    default: return (enum kr_command)0;
    }
}

/* Nothing that carries another session may start or resume anything. */
bool storms_stray(struct storms *s, struct rig *rig)
{
    enum kr_command command = leads_on(kr_station_state(rig->station));
    uint16_t number = (uint16_t)draw_between(s->draw, 1, 65535), session = (uint16_t)(rig->session + 100);
    if (command == 0)
        return false;
    if (rig_command_numbered(rig, session, command, KR_JOB_CHANGEOVER, number) == KR_OK)
        say(s, rig, "a command of another session is taken", (int64_t)command, session);
    return true;
}

bool storms_strike(struct storms *s, struct rig *rig, enum storm storm, uint16_t rail, uint16_t holder, int32_t *for_ms)
{
    *for_ms = draw_between(s->draw, 100, 4000);
    switch (storm) {
    case STORM_SILENT: *for_ms = silence_ms(s, rig); return s->silent = true;
    case STORM_SECOND_WRITER: *for_ms = 2 * silence_ms(s, rig); return s->silent = s->second = true;
    case STORM_STRAY_COMMANDS: *for_ms = 0; return storms_stray(s, rig);
    case STORM_LATE_ANSWER: return answers_late(s, rig, rail, for_ms);
    case STORM_SWAPPED_WORDS: *for_ms *= 20; return storms_restart(s, rig, rail, true);
    case STORM_REVERSED: *for_ms *= 20; return storms_restart(s, rig, rail, false);
    case STORM_FAR_JUMP: *for_ms = 0; return jumps_far(s, rig, rail);
    case STORM_CREEP: *for_ms = 0; return creeps(s, rig, rail, holder);
    case N_STORMS: break;
    }
    return false;
}

void storms_mend(struct storms *s, struct rig *rig, uint16_t r)
{
    struct storm_wire *wire = &s->wire[r];
    s->silent = s->second = false;
    if (wire->swapped || wire->reversed)
        (void)sim_machine_break(&rig->machine, r, SIM_DRIVE_REBOOT, 0, 0);
    if (wire->late)
        (void)sim_machine_mend(&rig->machine, r, SIM_SLOW_ANSWERS, 0);
    wire->swapped = wire->reversed = wire->late = false;
}
