/* The rig for tests of motion: one rail in front of the simulated machine, in virtual time, without a station. The rig
 * plays the caller: it hands in task, mode and moves, and stores what is known of the rail some cycles later.
 * It looks in every cycle at what must never happen, and fails the test if it does:
 *
 *   - a change of what must be stored under another generation than the number that the call was given
 *   - a pin driven in while the stored knowledge does not name its holder
 *   - a holder that is said to be placed or measured, and is further than claim_um from where it truly stands
 *   - a collision, or a holder taken along by a pin that is not seated
 *   - an output of an axis beyond the first one
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
#define MOTION_RIG_SCAN_UM   20 /* what a scan measures is as near to the truth */
#define MOTION_RIG_EVENTS    64
#define MOTION_RIG_AXES      2

struct motion_rig {
    struct kr_geometry geometry;
    struct kr_carriage_config carriage;
    struct sim_config sim_config;
    struct kr_rail_holder holder[KR_HOLDERS_MAX];
    struct kr_rail_knowledge known; /* what was stored before the start */
    int store_cycles;               /* storing takes so many cycles; negative: it never ends */
    int32_t claim_um;
    /* what the next cycles are told */
    enum kr_motion_mode mode;
    bool reduced, resets_faults;
    int8_t jog_wanted;
    uint16_t n_axes;
    uint16_t n_moves;
    struct kr_move move[KR_HOLDERS_MAX];
    /* Between the machine's answer and the rail; NULL: nobody. */
    void (*meddle)(struct motion_rig *rig);
    /* the rig's own */
    struct sim_machine machine;
    struct kr_motion motion;
    struct kr_axis_in axis_in[MOTION_RIG_AXES];
    struct kr_axis_out axis_out[MOTION_RIG_AXES];
    bool has_outputs; /* since the start: until then the machine is read and nothing is written */
    int64_t now_us;
    uint32_t serial;                  /* of the output image that is made next */
    uint32_t change, stored, storing; /* storing: under way; equal to stored: nothing is */
    int store_due;
    struct kr_rail_knowledge book, book_next; /* what is stored; what is being stored */
    struct kr_rail_knowledge seen;            /* as the last call left it */
    bool met_running;                         /* kr_motion_meet() has said so, once */
    uint16_t n_events;                        /* since the start or motion_rig_forget_events() */
    struct kr_motion_event event[MOTION_RIG_EVENTS];
    uint16_t n_repeated; /* alarms that were told again without anything else between, and count once */
};

/* An ordinary machine (backlash, slip, a switch that scatters); every place is remembered, as it truly is. A test may
 * change all of it before motion_rig_start(). */
void motion_rig_defaults(struct motion_rig *rig);
void motion_rig_start(struct motion_rig *rig);
void motion_rig_begin(struct motion_rig *rig);   /* both */
void motion_rig_restart(struct motion_rig *rig); /* from what is stored; the machine goes on */

void motion_rig_cycle(struct motion_rig *rig);
void motion_rig_run_ms(struct motion_rig *rig, int64_t ms);

/* What the next call is given. It holds pointers into the rig. */
struct kr_motion_in motion_rig_in(const struct motion_rig *rig);
/* After every call that is not made by motion_rig_cycle(): takes its events (out may be NULL), judges what it made of
 * the knowledge, and has that stored. True if it changed something. */
bool motion_rig_after(struct motion_rig *rig, const struct kr_motion_out *out);

void motion_rig_add_move(struct motion_rig *rig, uint16_t holder, int32_t to_um);
void motion_rig_give(struct motion_rig *rig, enum kr_task task); /* after the task before was taken back */

/* These fail the test if it does not come about within limit_ms. */
void motion_rig_until_done(struct motion_rig *rig, int64_t limit_ms);
void motion_rig_until_phase(struct motion_rig *rig, enum kr_carriage_phase phase, int64_t limit_ms);
void motion_rig_until_rest(struct motion_rig *rig, int64_t limit_ms);
void motion_rig_do(struct motion_rig *rig,
                   enum kr_task task); /* gives it, until it is done within a minute */

void motion_rig_break(struct motion_rig *rig, enum sim_fault fault, uint16_t holder, int32_t value);
void motion_rig_mend(struct motion_rig *rig, enum sim_fault fault);

void motion_rig_forget_events(struct motion_rig *rig);
uint16_t motion_rig_alarms(const struct motion_rig *rig); /* how many there were */
const struct kr_alarm *
motion_rig_first_alarm(const struct motion_rig *rig); /* fails the test if there is none */

enum kr_known motion_rig_known(const struct motion_rig *rig, uint16_t holder);
int32_t motion_rig_place_um(const struct motion_rig *rig, uint16_t holder); /* as it is known */
int32_t motion_rig_true_um(const struct motion_rig *rig, uint16_t holder);
bool motion_rig_pin_is_in(const struct motion_rig *rig); /* by the machine's own truth */

/* Moves of holders 5, 1 and 3, in place of the list so far: the way of each is clear when its turn comes. */
void motion_rig_three_moves(struct motion_rig *rig);

/* Each fails the test if that is not so: all holders are known so well; one is measured, and as near to the truth as a
 * scan has to be; one truly stands within claim_um of a place; all moves of the list are truly made. */
void motion_rig_expect_all(const struct motion_rig *rig, enum kr_known how);
void motion_rig_expect_measured(const struct motion_rig *rig, uint16_t holder);
void motion_rig_expect_at(const struct motion_rig *rig, uint16_t holder, int32_t at_um);
void motion_rig_expect_moves_made(const struct motion_rig *rig);

#endif
