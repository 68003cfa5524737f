/* The rig for tests of motion: one rail with the simulated machine, in virtual time, without a station. The rig plays
 * the caller: it hands in task, mode and moves, and stores the knowledge of the rail some cycles later. In every cycle
 * it checks for the following events, which must never happen, and fails the test if one does:
 *
 *   - stored data changes, but does not get the generation that the call was given
 *   - a pin is driven in while the stored knowledge does not name its holder
 *   - a holder that is said to be placed or measured is further than claim_um from its true position
 *   - there is a collision, or a holder is dragged by a pin that is not seated
 *   - an output of an axis other than the first is set
 *
 * Holders are counted from 1 here, as in a move and in an event. */
#ifndef KR_TESTS_MOTION_RIG_H
#define KR_TESTS_MOTION_RIG_H

#include <check.h>

#include "kniferail/motion.h"
#include "sim/machine.h"

#define MM                   1000 /* micrometres */
#define MOTION_RIG_PERIOD_MS 10
#define MOTION_RIG_HOLDERS   5  /* size 1, at 100, 200, 300, 400 and 500 mm; the carriage rests at -100 mm */
#define MOTION_RIG_SCAN_UM   20 /* the greatest error of a scan */
#define MOTION_RIG_EVENTS    64
#define MOTION_RIG_AXES      2

struct motion_rig {
    struct kr_geometry geometry;
    struct kr_carriage_config carriage;
    struct sim_config sim_config;
    struct kr_rail_holder holder[KR_HOLDERS_MAX];
    struct kr_rail_knowledge known; /* the knowledge that was stored before the start */
    int store_cycles;               /* storing takes so many cycles; negative: it never ends */
    int32_t claim_um;
    /* The input of the next cycles: */
    enum kr_motion_mode mode;
    bool reduced, resets_faults;
    int8_t jog_wanted;
    uint16_t n_axes;
    uint16_t n_moves;
    struct kr_move move[KR_HOLDERS_MAX];
    /* Called between the machine's answer and the rail; it may change the inputs. NULL: nothing is called. */
    void (*meddle)(struct motion_rig *rig);
    /* The rig's own state: */
    struct sim_machine machine;
    struct kr_motion motion;
    struct kr_axis_in axis_in[MOTION_RIG_AXES];
    struct kr_axis_out axis_out[MOTION_RIG_AXES];
    bool has_outputs; /* there were outputs since the start; before that the machine is only read */
    int64_t now_us;
    uint32_t serial;                  /* of the next output image */
    uint32_t change, stored, storing; /* storing: the one under way; equal to stored: none is */
    int store_due;
    struct kr_rail_knowledge book, book_next; /* the stored knowledge; the one that is being stored */
    struct kr_rail_knowledge seen;            /* the knowledge after the last call */
    bool met_running;                         /* kr_motion_meet() has said once that the drive was running */
    uint16_t n_events;                        /* since the start or motion_rig_forget_events() */
    struct kr_motion_event event[MOTION_RIG_EVENTS];
    uint16_t n_repeated; /* alarms that were reported again without another event between; they count once */
};

/* Fills in an ordinary machine (with backlash, slip, and a switch that scatters); every place is remembered as it truly
 * is. A test may change all of it before motion_rig_start(). */
void motion_rig_defaults(struct motion_rig *rig);
void motion_rig_start(struct motion_rig *rig);
void motion_rig_begin(struct motion_rig *rig); /* calls both of the above */
/* The rail starts again with the stored knowledge; the machine runs on */
void motion_rig_restart(struct motion_rig *rig);

void motion_rig_cycle(struct motion_rig *rig);
void motion_rig_run_ms(struct motion_rig *rig, int64_t ms);

/* Returns the input of the next call. It contains pointers into the rig. */
struct kr_motion_in motion_rig_in(const struct motion_rig *rig);
/* Call it after every call that motion_rig_cycle() does not make: takes the events (out may be NULL), judges the new
 * knowledge, and stores it. Returns whether it has changed. */
bool motion_rig_after(struct motion_rig *rig, const struct kr_motion_out *out);

void motion_rig_add_move(struct motion_rig *rig, uint16_t holder, int32_t to_um);
/* Call it when the last task was taken back */
void motion_rig_give(struct motion_rig *rig, enum kr_task task);

/* Each of these fails the test if the condition is not met within limit_ms. */
void motion_rig_until_done(struct motion_rig *rig, int64_t limit_ms);
void motion_rig_until_phase(struct motion_rig *rig, enum kr_carriage_phase phase, int64_t limit_ms);
void motion_rig_until_rest(struct motion_rig *rig, int64_t limit_ms);
/* Gives the task; it must be done within a minute */
void motion_rig_do(struct motion_rig *rig, enum kr_task task);

void motion_rig_break(struct motion_rig *rig, enum sim_fault fault, uint16_t holder, int32_t value);
void motion_rig_mend(struct motion_rig *rig, enum sim_fault fault);

void motion_rig_forget_events(struct motion_rig *rig);
uint16_t motion_rig_alarms(const struct motion_rig *rig);                    /* the number of alarms */
const struct kr_alarm *motion_rig_first_alarm(const struct motion_rig *rig); /* fails the test if there is none */

enum kr_known motion_rig_known(const struct motion_rig *rig, uint16_t holder);
int32_t motion_rig_place_um(const struct motion_rig *rig, uint16_t holder); /* the known place */
int32_t motion_rig_true_um(const struct motion_rig *rig, uint16_t holder);
bool motion_rig_pin_is_in(const struct motion_rig *rig); /* the true state of the machine */

/* Replaces the list by moves of holders 5, 1 and 3; the way of each is clear when its turn comes. */
void motion_rig_three_moves(struct motion_rig *rig);

/* Each of these fails the test unless: all holders are known in that way; the holder is measured, and as exactly as a
 * scan must measure; the holder truly stands within claim_um of at_um; all moves of the list were truly made. */
void motion_rig_expect_all(const struct motion_rig *rig, enum kr_known how);
void motion_rig_expect_measured(const struct motion_rig *rig, uint16_t holder);
void motion_rig_expect_at(const struct motion_rig *rig, uint16_t holder, int32_t at_um);
void motion_rig_expect_moves_made(const struct motion_rig *rig);

#endif
