/* toy: the smallest machine that a station can drive: one rail, three holders, one carriage. It does in a cycle or two
 * what a real one does in seconds, so that few states lie between two that differ in meaning; every one of them can be
 * cut into. No time passes in it but its own steps. */
#ifndef KR_TESTS_TOY_H
#define KR_TESTS_TOY_H

#include "kniferail/axis.h"

#define TOY_HOLDERS    3
#define TOY_FLAG_UM    8000
#define TOY_STEP_MS    100
#define TOY_SPACING_UM 25400 /* 1 in: common practice, no published source */

enum toy_pin { TOY_PIN_OUT, TOY_PIN_BETWEEN, TOY_PIN_IN };

struct toy {
    int32_t holder_um[TOY_HOLDERS];
    bool off[TOY_HOLDERS];     /* at the grinder's; holder_um is where it stood */
    bool by_hand[TOY_HOLDERS]; /* put somewhere else since its place was last measured */
    bool crept[TOY_HOLDERS];   /* nobody could see it move, and nothing has found it yet */
    bool jog_device;           /* the hold-to-run device is pressed */
    int32_t at_um, target_um;
    uint8_t drive; /* enum kr_drive_state */
    uint8_t pin;   /* enum toy_pin */
    int8_t held;   /* holder that the pin is in, -1: none */
    bool link, acknowledges, moving, halfway, brake_open, probing;
    bool late;    /* an answer is awaited: it holds what it was told last, and what was seen of it gets older */
    bool swapped; /* it has the other word order, for positions and targets */
    struct kr_axis_out told;
    int8_t mode;
    uint16_t rises, falls;
    int32_t rise_um, fall_um;
    /* what must never happen */
    bool crashed; /* two holders nearer than their spacing, none of which has crept */
    bool tore;    /* the carriage moved with its pin in a holder that the brake held, or with the pin half out */
};

void toy_init(struct toy *toy);

/* Hands take a holder off its rail, or put it on not quite where it stood. False: the carriage is in the way, or
 * there is no room. */
bool toy_take_off(struct toy *toy, int holder);
bool toy_put_on(struct toy *toy, int holder);

/* A holder that nothing holds creeps by more than a pin could find it. False: the carriage is in the way, or there is
 * no room. */
bool toy_creep(struct toy *toy, int holder);

/* Holds the outputs for one cycle and says what the drive then answers. */
void toy_step(struct toy *toy, const struct kr_axis_out *out, struct kr_axis_in *in);

#endif
