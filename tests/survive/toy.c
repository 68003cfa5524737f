#include "toy.h"

#include <stdlib.h>
#include <string.h>

#define REACH_UM 1000 /* the pin finds a holder this near */
#define HANDS_UM 7000 /* so far from where it stood hands put a holder on */
#define CREEP_UM 6000

void toy_init(struct toy *toy)
{
    memset(toy, 0, sizeof *toy);
    for (int i = 0; i < TOY_HOLDERS; i++)
        toy->holder_um[i] = 200000 + 300000 * i;
    toy->at_um = -50000;
    toy->target_um = toy->at_um;
    toy->drive = KR_DRIVE_SWITCH_ON_DISABLED;
    toy->held = -1;
    toy->link = true;
}

/* ---- hands ---------------------------------------------------------------------------------------------------- */

/* The nearest that is on the rail on one side of a holder; -1: none. */
static int neighbour(const struct toy *toy, int holder, int side)
{
    for (int i = holder + side; i >= 0 && i < TOY_HOLDERS; i += side)
        if (!toy->off[i])
            return i;
    return -1;
}

static bool has_room(const struct toy *toy, int holder)
{
    int left = neighbour(toy, holder, -1), right = neighbour(toy, holder, 1);
    return (left < 0 || toy->holder_um[holder] - toy->holder_um[left] >= TOY_SPACING_UM) &&
           (right < 0 || toy->holder_um[right] - toy->holder_um[holder] >= TOY_SPACING_UM);
}

bool toy_take_off(struct toy *toy, int holder)
{
    if (toy->off[holder] || toy->moving || toy->pin != TOY_PIN_OUT)
        return false;
    toy->off[holder] = true;
    return true;
}

bool toy_put_on(struct toy *toy, int holder)
{
    if (!toy->off[holder] || toy->moving || toy->pin != TOY_PIN_OUT)
        return false;
    toy->holder_um[holder] += toy->holder_um[holder] < 700000 ? HANDS_UM : -HANDS_UM;
    toy->off[holder] = false;
    toy->by_hand[holder] = true;
    return has_room(toy, holder); /* false: that world is left as it was */
}

bool toy_creep(struct toy *toy, int holder)
{
    if (toy->off[holder] || toy->moving || toy->pin != TOY_PIN_OUT)
        return false;
    toy->holder_um[holder] += toy->holder_um[holder] < 500000 ? CREEP_UM : -CREEP_UM;
    toy->crept[holder] = true;
    return has_room(toy, holder); /* false: that world is left as it was */
}

static bool any_has_crept(const struct toy *toy)
{
    for (int i = 0; i < TOY_HOLDERS; i++)
        if (toy->crept[i])
            return true;
    return false;
}

/* ---- the drive: CiA 402, one transition a cycle -------------------------------------------------------------- */

static enum kr_drive_state next_state(enum kr_drive_state state, uint16_t word)
{
    bool voltage = word & KR_CW_ENABLE_VOLTAGE, quick = !(word & KR_CW_NO_QUICK_STOP);
    if (!voltage || (quick && state != KR_DRIVE_OPERATION_ENABLED))
        return KR_DRIVE_SWITCH_ON_DISABLED;
    switch (state) {
    case KR_DRIVE_SWITCH_ON_DISABLED: return KR_DRIVE_READY_TO_SWITCH_ON;
    case KR_DRIVE_READY_TO_SWITCH_ON: return word & KR_CW_SWITCH_ON ? KR_DRIVE_SWITCHED_ON : state;
    case KR_DRIVE_SWITCHED_ON: return word & KR_CW_ENABLE_OPERATION ? KR_DRIVE_OPERATION_ENABLED : state;
    case KR_DRIVE_OPERATION_ENABLED:
        if (quick)
            return KR_DRIVE_QUICK_STOP_ACTIVE;
        return word & KR_CW_ENABLE_OPERATION ? state : KR_DRIVE_SWITCHED_ON;
    case KR_DRIVE_QUICK_STOP_ACTIVE:
    case KR_DRIVE_UNKNOWN:
    case KR_DRIVE_NOT_READY:
    case KR_DRIVE_FAULT_REACTION_ACTIVE:
    case KR_DRIVE_FAULT: break;
    }
    return state;
}

/* State bits of the statusword, by the profile's table. */
static uint16_t state_bits(enum kr_drive_state state)
{
    switch (state) {
    case KR_DRIVE_READY_TO_SWITCH_ON: return 0x0021;
    case KR_DRIVE_SWITCHED_ON: return 0x0023;
    case KR_DRIVE_OPERATION_ENABLED: return 0x0027;
    case KR_DRIVE_QUICK_STOP_ACTIVE: return 0x0007;
    case KR_DRIVE_SWITCH_ON_DISABLED:
    case KR_DRIVE_UNKNOWN:
    case KR_DRIVE_NOT_READY:
    case KR_DRIVE_FAULT_REACTION_ACTIVE:
    case KR_DRIVE_FAULT: break;
    }
    return 0x0040;
}

static int32_t as_it_has_it(const struct toy *toy, int32_t um)
{
    return toy->swapped ? (int32_t)((uint32_t)um << 16 | (uint32_t)um >> 16) : um;
}

static void take_setpoint(struct toy *toy, const struct kr_axis_out *out)
{
    bool offered = out->controlword & KR_CW_NEW_SETPOINT;
    if (toy->drive != KR_DRIVE_OPERATION_ENABLED || out->controlword & KR_CW_HALT) {
        toy->moving = false;
        toy->acknowledges = false;
        return;
    }
    if (offered && !toy->acknowledges) {
        toy->target_um = as_it_has_it(toy, out->target_um);
        toy->moving = toy->at_um != toy->target_um;
        toy->halfway = false;
    }
    toy->acknowledges = offered;
}

/* ---- motion --------------------------------------------------------------------------------------------------- */

static void check_holders(struct toy *toy)
{
    for (int i = 0; i < TOY_HOLDERS; i++)
        if (!toy->off[i] && !has_room(toy, i) && !any_has_crept(toy))
            toy->crashed = true;
}

static void go_to(struct toy *toy, int32_t to_um)
{
    if (to_um != toy->at_um && (toy->pin == TOY_PIN_BETWEEN || (toy->held >= 0 && !toy->brake_open)))
        toy->tore = true;
    if (toy->held >= 0 && toy->brake_open)
        toy->holder_um[toy->held] += to_um - toy->at_um;
    toy->at_um = to_um;
    check_holders(toy);
}

/* The nearest flag edge ahead on the way to the target, or the target. rises: which of the two the switch meets. */
static int32_t next_edge_um(const struct toy *toy, bool *edge, bool *rises)
{
    int way = toy->target_um > toy->at_um ? 1 : -1;
    int32_t best_um = toy->target_um;
    *edge = false;
    for (int i = 0; i < TOY_HOLDERS; i++) {
        for (int side = -1; side <= 1 && !toy->off[i]; side += 2) {
            int32_t edge_um = toy->holder_um[i] + side * TOY_FLAG_UM / 2;
            if (way * (edge_um - toy->at_um) > 0 && way * (best_um - edge_um) > 0) {
                best_um = edge_um;
                *edge = true;
                *rises = side == -way;
            }
        }
    }
    return best_um;
}

/* With the probe on it goes from edge to edge, so that none is lost. */
static void scan_on(struct toy *toy)
{
    bool edge, rises = false;
    int32_t to_um = next_edge_um(toy, &edge, &rises);
    go_to(toy, to_um);
    if (edge && rises) {
        toy->rises++;
        toy->rise_um = to_um;
    } else if (edge) {
        toy->falls++;
        toy->fall_um = to_um;
    }
}

/* A move takes two cycles: what cuts in between finds the holder half way. */
static void move(struct toy *toy)
{
    if (!toy->moving)
        return;
    if (toy->probing)
        scan_on(toy);
    else if (!toy->halfway)
        go_to(toy, toy->at_um + (toy->target_um - toy->at_um) / 2);
    else
        go_to(toy, toy->target_um);
    toy->halfway = true;
    toy->moving = toy->at_um != toy->target_um;
}

/* ---- pin and brake --------------------------------------------------------------------------------------------- */

static int8_t holder_here(const struct toy *toy)
{
    for (int i = 0; i < TOY_HOLDERS; i++)
        if (!toy->off[i] && abs(toy->holder_um[i] - toy->at_um) <= REACH_UM)
            return (int8_t)i;
    return -1;
}

static void devices(struct toy *toy, uint16_t outputs)
{
    if (outputs & KR_DO_PIN_IN && toy->pin == TOY_PIN_BETWEEN && holder_here(toy) >= 0) {
        toy->pin = TOY_PIN_IN;
        toy->held = holder_here(toy);
    } else if (outputs & KR_DO_PIN_IN && toy->pin == TOY_PIN_OUT) {
        toy->pin = TOY_PIN_BETWEEN;
    } else if (outputs & KR_DO_PIN_OUT && toy->pin != TOY_PIN_OUT) {
        toy->pin = toy->pin == TOY_PIN_IN ? TOY_PIN_BETWEEN : TOY_PIN_OUT;
        toy->held = -1;
    }
    toy->brake_open = toy->held >= 0 && outputs & KR_DO_BRAKE_OPEN;
}

static uint16_t inputs(const struct toy *toy)
{
    unsigned in = toy->brake_open ? KR_DI_BRAKE_OPEN : KR_DI_BRAKE_CLOSED;
    in |= toy->pin == TOY_PIN_IN ? KR_DI_PIN_IN : toy->pin == TOY_PIN_OUT ? KR_DI_PIN_OUT : 0;
    for (int i = 0; i < TOY_HOLDERS; i++)
        if (!toy->off[i] && abs(toy->holder_um[i] - toy->at_um) < TOY_FLAG_UM / 2)
            in |= KR_DI_FLAG;
    if (toy->jog_device)
        in |= KR_DI_JOG_ENABLE;
    return (uint16_t)in;
}

void toy_step(struct toy *toy, const struct kr_axis_out *out, struct kr_axis_in *in)
{
    static const struct kr_axis_out nothing; /* without a link the drive's watchdog takes everything off */
    if (!toy->late)
        toy->told = *out;
    const struct kr_axis_out *held = toy->link ? &toy->told : &nothing;
    toy->drive = (uint8_t)next_state((enum kr_drive_state)toy->drive, held->controlword);
    take_setpoint(toy, held);
    move(toy);
    devices(toy, held->outputs);
    toy->probing = held->probe_function & KR_PROBE_ENABLE;
    toy->mode = held->mode;
    if (toy->late) {
        in->age_ms += TOY_STEP_MS;
        return;
    }
    memset(in, 0, sizeof *in);
    if (!toy->link)
        return;
    bool stands = toy->drive == KR_DRIVE_OPERATION_ENABLED && !toy->moving && !toy->acknowledges;
    *in = (struct kr_axis_in){
        .link = true,
        .answers = out->serial,
        .statusword = (uint16_t)(state_bits((enum kr_drive_state)toy->drive) | KR_SW_VOLTAGE_ENABLED | KR_SW_REMOTE |
                                 (toy->acknowledges ? KR_SW_SETPOINT_ACK : 0u) | (stands ? KR_SW_TARGET_REACHED : 0u)),
        .mode = toy->mode,
        .referenced = true,
        .position_um = as_it_has_it(toy, toy->at_um),
        .probe_status = toy->probing ? KR_PROBE_ENABLED : 0,
        .rise_count = toy->rises,
        .fall_count = toy->falls,
        .rise_um = as_it_has_it(toy, toy->rise_um),
        .fall_um = as_it_has_it(toy, toy->fall_um),
        .inputs = inputs(toy)};
}
