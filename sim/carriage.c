/* The carriage with its pin: docking, dragging and releasing, and what holds the holders meanwhile. */
#include "sim/rail.h"

#include <math.h>

#include "sim/draw.h"
#include "sim/drive.h"

/* ---- devices ------------------------------------------------------------------------------------------- */

static int32_t travel_in_substep(int32_t travel_ms)
{
    return SIM_TRAVEL / travel_ms * (SIM_SUBSTEP_US / 1000) + 1;
}

static void travel(int32_t *at, bool up, int32_t up_ms, int32_t down_ms)
{
    if (up)
        *at = *at + travel_in_substep(up_ms) < SIM_TRAVEL ? *at + travel_in_substep(up_ms) : SIM_TRAVEL;
    else
        *at = *at - travel_in_substep(down_ms) > 0 ? *at - travel_in_substep(down_ms) : 0;
}

bool sim_rail_held(const struct sim_rail *rail, const struct sim_rail_config *config, int16_t holder)
{
    const struct sim_holder *h = &rail->holder[holder];
    const struct sim_carriage *c = &rail->carriage;
    if (h->seized || h->jammed)
        return true;
    if (config->clamp_common)
        return c->clamp < SIM_FREEING;
    return !(c->docked == holder && !c->struck && c->brake >= SIM_FREEING);
}

/* ---- the pin ------------------------------------------------------------------------------------------- */

/* Returns the holder under the pin, or SIM_NOBODY, and the distance of its centre. */
static int16_t holder_at(const struct sim_rail *rail, double at_um, double *away_um)
{
    int16_t nearest = SIM_NOBODY;
    for (int16_t i = 0; i < (int16_t)rail->n_holders; i++) {
        double d = at_um - rail->holder[i].at_um;
        if (rail->holder[i].present && (nearest == SIM_NOBODY || fabs(d) < fabs(*away_um))) {
            nearest = i;
            *away_um = d;
        }
    }
    return nearest;
}

static void take_hold(struct sim_carriage *c, int16_t holder, double offset_um, bool struck)
{
    c->docked = holder;
    c->offset_um = offset_um;
    c->held_at_um = c->at_um;
    c->struck = struck;
}

/* The taper enters the socket only within its capture range. Otherwise the tip stops at the holder's face, or between
 * two holders. */
static bool finds_socket(struct sim_rail *rail, const struct sim_rail_config *config)
{
    struct sim_carriage *c = &rail->carriage;
    if (c->docked != SIM_NOBODY)
        return !c->struck;
    double away_um = 0;
    int16_t holder = holder_at(rail, c->at_um, &away_um);
    if (holder == SIM_NOBODY || fabs(away_um) > config->capture_um)
        return false;
    take_hold(c, holder, away_um, false);
    return true;
}

static void begin_creep(struct sim_rail *rail, int16_t holder, struct sim_draw draw)
{
    struct sim_holder *h = &rail->holder[holder];
    if (h->creep_um == 0)
        return;
    draw.what = SIM_DRAW_CREEP;
    if (h->creep_left_um == 0)
        rail->n_creeping++;
    h->creep_left_um = sim_draw_unit(draw) < 0.5 ? -h->creep_um : h->creep_um;
}

static void let_go(struct sim_rail *rail, const struct sim_rail_config *config, struct sim_moment moment,
                   struct sim_incidents *incidents)
{
    int16_t holder = rail->carriage.docked;
    struct sim_holder *h = &rail->holder[holder];
    struct sim_draw draw = {moment.seed, SIM_DRAW_SLIP, moment.rail_index, (uint32_t)holder, h->releases++};
    rail->carriage.docked = SIM_NOBODY;
    rail->carriage.struck = false;
    rail->carriage.scratch_from_um = rail->carriage.at_um;
    if (h->seized || h->jammed)
        return;
    sim_rail_shift(rail, holder, sim_draw_either_way(draw) * config->slip_um, incidents);
    begin_creep(rail, holder, draw);
}

static void move_pin(struct sim_rail *rail, const struct sim_rail_config *config, struct sim_forces f,
                     struct sim_moment moment, struct sim_incidents *incidents)
{
    struct sim_carriage *c = &rail->carriage;
    bool in = f.outputs & KR_DO_PIN_IN, out = f.outputs & KR_DO_PIN_OUT;
    if (!f.air || in == out || (in && f.pin_cannot_go_in) || (out && f.pin_cannot_go_out))
        return;
    int32_t before = c->pin;
    travel(&c->pin, in, config->pin_in_ms, config->pin_out_ms);
    if (in && before <= SIM_PIN_CLEAR && c->pin > SIM_PIN_CLEAR)
        c->scratch_from_um = c->at_um;
    if (in && c->pin > SIM_PIN_TOUCH && !finds_socket(rail, config))
        c->pin = SIM_PIN_TOUCH;
    int32_t free_below = c->struck ? SIM_PIN_CLEAR : SIM_PIN_TOUCH;
    if (out && c->docked != SIM_NOBODY && c->pin < free_below)
        let_go(rail, config, moment, incidents);
}

/* The pin moves by itself, whatever its valves do. */
static void stray(struct sim_carriage *c, struct sim_forces f)
{
    if (f.pin_backs_out && c->pin > SIM_PIN_BACKED)
        c->pin = SIM_PIN_BACKED;
    if (f.pin_sags && c->pin < SIM_PIN_SAGGED)
        c->pin = SIM_PIN_SAGGED;
}

/* ---- brake and clamp ----------------------------------------------------------------------------------- */

/* The springs close on holders at any place, and closing moves the holders a little. */
static void clamp_all(struct sim_rail *rail, const struct sim_rail_config *config, struct sim_moment moment,
                      struct sim_incidents *incidents)
{
    for (int16_t i = 0; i < (int16_t)rail->n_holders; i++) {
        struct sim_holder *h = &rail->holder[i];
        struct sim_draw draw = {moment.seed, SIM_DRAW_CLAMP_SHIFT, moment.rail_index, (uint32_t)i, h->clampings++};
        if (h->present && !h->seized && !h->jammed && i != rail->carriage.docked)
            sim_rail_shift(rail, i, sim_draw_either_way(draw) * config->clamp_shift_um, incidents);
    }
}

static void move_brake_and_clamp(struct sim_rail *rail, const struct sim_rail_config *config, struct sim_forces f,
                                 struct sim_moment moment, struct sim_incidents *incidents)
{
    struct sim_carriage *c = &rail->carriage;
    bool open_brake = f.outputs & KR_DO_BRAKE_OPEN && f.air;
    if (open_brake ? !f.brake_cannot_open : !f.brake_cannot_close)
        travel(&c->brake, open_brake, config->brake_open_ms, config->brake_close_ms);
    if (!config->clamp_common)
        return;
    bool open_clamp = f.outputs & KR_DO_CLAMP_OPEN && f.air && !f.clamp_fails;
    if (open_clamp || !f.clamp_cannot_close)
        travel(&c->clamp, open_clamp, config->clamp_open_ms, config->clamp_close_ms);
    bool is_free = c->clamp >= SIM_FREEING;
    if (rail->clamp_was_free && !is_free)
        clamp_all(rail, config, moment, incidents);
    rail->clamp_was_free = is_free;
}

static void creep(struct sim_rail *rail, struct sim_incidents *incidents)
{
    const double step_um = SIM_CREEP_UM_PER_S * (SIM_SUBSTEP_US * 1e-6);
    for (int16_t i = 0; i < (int16_t)rail->n_holders; i++) {
        struct sim_holder *h = &rail->holder[i];
        if (h->creep_left_um == 0)
            continue;
        double by_um = fmax(-step_um, fmin(h->creep_left_um, step_um));
        h->creep_left_um = i == rail->carriage.docked ? 0 : h->creep_left_um - by_um;
        if (i != rail->carriage.docked)
            sim_rail_shift(rail, i, by_um, incidents);
        if (h->creep_left_um == 0)
            rail->n_creeping--;
    }
}

/* When a docked holder becomes free, the taper of the pin centres it. */
static void centre_docked(struct sim_rail *rail, const struct sim_rail_config *config, struct sim_moment moment,
                          struct sim_incidents *incidents)
{
    struct sim_carriage *c = &rail->carriage;
    if (c->docked == SIM_NOBODY || c->struck)
        return;
    if (sim_rail_held(rail, config, c->docked))
        return;
    if (rail->holder[c->docked].at_um != c->at_um)
        sim_rail_push(rail, c->docked, c->at_um, moment, incidents);
    c->held_at_um = c->at_um;
}

void sim_rail_actuate(struct sim_rail *rail, const struct sim_rail_config *config, struct sim_forces forces,
                      struct sim_moment moment, struct sim_incidents *incidents)
{
    move_pin(rail, config, forces, moment, incidents);
    stray(&rail->carriage, forces);
    move_brake_and_clamp(rail, config, forces, moment, incidents);
    centre_docked(rail, config, moment, incidents);
    if (rail->n_creeping > 0)
        creep(rail, incidents);
}

/* ---- travel -------------------------------------------------------------------------------------------- */

/* If a pin that is not clear is moved, it strikes the next holder's body and drags the holder along, braked or not. */
static void strike(struct sim_rail *rail, double to_um)
{
    struct sim_carriage *c = &rail->carriage;
    if (c->pin <= SIM_PIN_CLEAR || c->docked != SIM_NOBODY)
        return;
    if (fabs(to_um - c->scratch_from_um) <= SIM_SCRATCH_UM)
        return;
    double away_um = 0;
    int16_t holder = holder_at(rail, to_um, &away_um);
    if (holder != SIM_NOBODY && fabs(away_um) < rail->holder[holder].body_um / 2.0)
        take_hold(c, holder, c->at_um - rail->holder[holder].at_um, true);
}

static bool docked_is_fast(const struct sim_rail *rail, const struct sim_rail_config *config)
{
    const struct sim_carriage *c = &rail->carriage;
    return c->struck ? rail->holder[c->docked].seized : sim_rail_held(rail, config, c->docked);
}

/* Returns how far the carriage gets on its way to to_um. */
static double carriage_goal(const struct sim_rail *rail, const struct sim_rail_config *config, double to_um)
{
    const struct sim_carriage *c = &rail->carriage;
    to_um = fmax(config->stop_low_um, fmin(to_um, config->stop_high_um));
    if (c->docked == SIM_NOBODY)
        return to_um;
    if (!docked_is_fast(rail, config))
        return to_um;
    return fmax(c->held_at_um - config->pin_give_um, fmin(to_um, c->held_at_um + config->pin_give_um));
}

static void take_along(struct sim_rail *rail, struct sim_moment moment, struct sim_incidents *incidents)
{
    struct sim_carriage *c = &rail->carriage;
    struct sim_holder *h = &rail->holder[c->docked];
    double offset_um = c->struck ? c->offset_um : 0;
    if (c->struck && c->at_um - offset_um != h->at_um && incidents->dragged.count++ == 0)
        incidents->dragged = (struct sim_incident){1, moment.rail_index, (uint16_t)c->docked, 0, moment.now_us, 0};
    if (!sim_rail_push(rail, c->docked, c->at_um - offset_um, moment, incidents))
        c->at_um = h->at_um + offset_um;
    c->held_at_um = c->at_um;
}

double sim_rail_move(struct sim_rail *rail, const struct sim_rail_config *config, double motor_um,
                     struct sim_moment moment, struct sim_incidents *incidents)
{
    struct sim_carriage *c = &rail->carriage;
    double play_um = config->backlash_um / 2.0;
    double to_um = fmax(motor_um - play_um, fmin(c->at_um, motor_um + play_um));
    if (to_um == c->at_um)
        return motor_um;
    strike(rail, to_um);
    c->at_um = carriage_goal(rail, config, to_um);
    if (c->docked != SIM_NOBODY && !docked_is_fast(rail, config))
        take_along(rail, moment, incidents);
    if (c->at_um == to_um)
        return motor_um;
    return fmax(c->at_um - play_um, fmin(motor_um, c->at_um + play_um));
}

uint16_t sim_rail_inputs(const struct sim_rail *rail, const struct sim_rail_config *config)
{
    const struct sim_carriage *c = &rail->carriage;
    uint16_t inputs = 0;
    if (c->pin == SIM_TRAVEL)
        inputs |= KR_DI_PIN_IN;
    if (c->pin == 0)
        inputs |= KR_DI_PIN_OUT;
    if (c->brake == SIM_TRAVEL)
        inputs |= KR_DI_BRAKE_OPEN;
    if (c->brake == 0)
        inputs |= KR_DI_BRAKE_CLOSED;
    if (config->clamp_common && c->clamp == SIM_TRAVEL)
        inputs |= KR_DI_CLAMP_OPEN;
    if (config->clamp_common && c->clamp == 0)
        inputs |= KR_DI_CLAMP_CLOSED;
    if (c->at_um <= (double)config->stop_low_um + config->limit_before_stop_um)
        inputs |= KR_DI_LIMIT_LOW;
    if (c->at_um >= (double)config->stop_high_um - config->limit_before_stop_um)
        inputs |= KR_DI_LIMIT_HIGH;
    return inputs;
}
