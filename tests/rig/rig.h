/* The rig for tests of the station: one station, the planner and the simulated machine in one process and in
 * virtual time. The rig plays the daemon (a plan and a commit of the book each take a chosen number of cycles) and
 * the PLC (registers are written and read as a client would, through the map).
 *
 * What the tests stand on, from below:
 *
 *     suite.h             main() and groups of tests, for every file that uses Check
 *     rig/sim_rig.h       the simulated machine alone, with a master that writes the images of its drives
 *     rig/motion_rig.h    one rail in front of that machine, without a station
 *     rig/rig.h           the station in front of that machine: this file
 *         rig.c               configuration, the cycle, the daemon's part
 *         plc.c               what a PLC writes and reads
 *         small.c             a small station, with an ideal or an ordinary machine, and an order for it
 *         story.c             steps of a changeover, and what has to be so at its end
 *         truth.c             where edges truly are, and what hands do to holders
 *     rig/example_rig.h   the same, with the station of a station file
 *     long/operators.h    people and a PLC around a rig, for random stories
 *     rig/face_rig.h      the Modbus/TCP server, with and without sockets
 *     system/wire_rig.h   drives at the end of a real wire, in real time
 *     survive/world.h     a station and a toy machine in one flat struct, whose copies a search branches from
 *
 * The words are the same in all of rig/: ..._defaults() fills in a configuration, which a test may then change;
 * ..._start() makes what the configuration says, ..._end() frees it; ..._cycle() and ..._run_ms() let time pass;
 * rig_break() and rig_mend() are faults of the machine.
 *
 * Here a function that is called rig_until_..., rig_start_..., rig_stage, rig_resume, rig_unhold, rig_carry_on,
 * rig_set_up..., rig_alarm_at_limit or rig_ends_... fails the test if what it is called after does not come about.
 * rig_run_until_state() and rig_run_while() tell whether it did.
 *
 * Rails and holders are counted from 0, as in the arrays of the code, but 'from 1' where that is said: the numbers
 * that people and registers use. */
#ifndef KR_TESTS_RIG_H
#define KR_TESTS_RIG_H

#include "kniferail/station.h"
#include "kniferail/trace.h"
#include "sim/machine.h"

#define MM            1000 /* micrometres */
#define RIG_PERIOD_MS 10   /* a cycle of the station, by rig_defaults() */
#define SMALL_HOLDERS 5    /* on each rail of a small station: size 2, at 60, 150, 240, 330 and 420 mm */

struct rig {
    struct kr_station_config config;
    struct sim_config sim_config;
    struct sim_machine machine;
    struct kr_station *station;
    struct kr_station_in in;
    struct kr_station_out out;
    struct rig_image *image; /* made when it is read: most cycles nobody looks */
    void *workspace;
    /* the daemon */
    uint16_t session;
    uint32_t ticket_running;   /* of the plan being made */
    int plan_cycles, plan_due; /* a plan takes so many cycles */
    int book_cycles, book_due; /* a commit takes so many cycles; negative: never answers */
    bool book_broken;          /* every commit fails */
    uint16_t book_failures;    /* so many of the next ones do, then the book stores again */
    uint32_t book_serial;      /* being committed */
    struct kr_durable book, book_next;
    /* What the ledger has of a knife; NULL: of none. Answered in the cycle after it was asked. */
    struct kr_knife_answer (*ledger)(struct rig *rig, const char *name);
    void *of_ledger;
    /* Sees what is stored, before the station knows of it; NULL: nobody does. */
    void (*on_stored)(struct rig *rig, const struct kr_durable *stored);
    /* the PLC */
    bool heart_stopped;
    int64_t heart_us;
    uint16_t request_number, command_number, edit_number; /* the last ones used */
    bool edges_confirmed;                                 /* rig_to_idle() has had that done */
    struct kr_snapshot order;                             /* the ORDER block as the PLC has filled it */
    int64_t time_us;
    int32_t period_us;
    /* Between the answers of machine, planner and book and the station; NULL: nobody does. */
    void (*meddle)(struct rig *rig);
    void *of_meddle;
    /* Sees the rig at the end of every cycle, with what the station was given in it; NULL: nobody does. */
    void (*witness)(const struct rig *rig, void *of_witness);
    void *of_witness;
    /* Records each cycle, as the daemon does; NULL: nothing is recorded. Wall time counts from 1970 there. */
    struct kr_trace_ring *trace;
    /* what must never happen, looked at in every cycle */
    bool false_measured;       /* a position claimed measured that is further than claim_um from the truth */
    bool record_without_cause; /* of a job that ended without verification */
    int32_t claim_um;
    struct rig_claim {
        uint16_t rail, holder; /* from 1 */
        int32_t claimed_um, true_um;
        int64_t at_us;
    } false_claim; /* the first */
    /* Holders that moved when nobody could see it: what is claimed of them is false until a docking or a scan finds
     * them, and from then on judged again. What was set aside may be claimed again: it is the place of before. */
    bool crept[KR_RAILS_MAX][KR_HOLDERS_MAX];
    int32_t crept_claim_um[KR_RAILS_MAX][KR_HOLDERS_MAX]; /* as they crept */
    /* What README lists as not found: so far a place may be claimed off, and an edge that is proven. All 0 where nobody
     * says otherwise. */
    struct rig_excuse {
        /* No scan could say yet that the pin is beside where it should be: holders may touch. */
        bool pin_is_off;
        int32_t bound_um;                 /* either way, of all on the rail */
        int32_t place_um[KR_HOLDERS_MAX]; /* by just so much, and with its sign */
        int32_t blade_um[KR_HOLDERS_MAX]; /* likewise its edge, seen from its flag */
    } excuse[KR_RAILS_MAX];
    /* After each step of the station, before its claims are judged: says what is excused; NULL: nobody does. */
    void (*excuse_claims)(struct rig *rig, void *of_excuse);
    void *of_excuse;
};

/* ---- rig.c: configuration, cycle, daemon ----------------------------------------------------------------------- */

/* Rails of n holders each (the second one lower), evenly spread, all permissives given, drives referenced. */
void rig_defaults(struct rig *rig, uint16_t n_rails, uint16_t n_holders, uint8_t holder_size);
void rig_start(struct rig *rig);   /* after defaults and any changes to config and sim_config */
void rig_restart(struct rig *rig); /* the gateway restarts from what was committed; the machine goes on */
void rig_end(struct rig *rig);

void rig_cycle(struct rig *rig);
void rig_run_ms(struct rig *rig, int64_t ms);
bool rig_run_until_state(struct rig *rig, enum kr_unit_state state, int64_t limit_ms);
bool rig_run_while(struct rig *rig, bool (*holds)(struct rig *), int64_t limit_ms);

/* A fault of the simulated machine; breaking fails the test if the machine can't have it. item is as in
 * sim/faults.def. */
void rig_break(struct rig *rig, uint16_t rail, enum sim_fault fault, uint16_t item, int32_t value);
void rig_mend(struct rig *rig, uint16_t rail, enum sim_fault fault, uint16_t item);

/* The registers as a client reads them; valid until the next cycle. */
const struct kr_image *rig_image(const struct rig *rig);

/* ---- small.c: a small station ---------------------------------------------------------------------------------- */

/* Up to two rails (the second one lower) of half a metre with SMALL_HOLDERS each, quick pins, carriages parked at
 * -60 mm. Not started yet. Ideal: no slip, no play, no scatter; permissives from the PLC's register. Ordinary: the
 * machine slips, plays and scatters as the simulator's defaults say, and is slower; the permissives are drive
 * inputs. */
void rig_small_ideal(struct rig *rig, uint16_t n_rails);
void rig_small_ordinary(struct rig *rig, uint16_t n_rails);
void rig_common_clamp(struct rig *rig,
                      uint16_t rail); /* that rail's holders are clamped by an air shaft, too */

void rig_begin(struct rig *rig);       /* started and brought to Idle */
void rig_begin_small(struct rig *rig); /* a small ideal station of two rails, started and brought to Idle */

/* Three slits of 90, 110 and 100 mm, both edges trimmed: four cuts. Filled into the ORDER block. */
void rig_small_order(struct rig *rig, uint32_t number);

/* ---- plc.c: what a PLC writes ---------------------------------------------------------------------------------- */

/* The ORDER block. Lengths in micrometres; rig_order_set() takes raw counts. */
void rig_order(struct rig *rig, uint32_t number, int32_t web_um, const int32_t width_um[], uint16_t n);
void rig_order_set(struct rig *rig, enum kr_reg reg, uint16_t index, int32_t value);
int32_t rig_count(const struct rig *rig, int32_t um); /* in the station's unit */

/* A request about the order, under the next number or a given one; runs until it is judged and returns the verdict's
 * code. rig_hand_over() does not wait. */
enum kr_code rig_request(struct rig *rig, enum kr_request_kind kind);
enum kr_code rig_request_numbered(struct rig *rig, uint16_t session, enum kr_request_kind kind,
                                  uint16_t number);
void rig_hand_over(struct rig *rig, uint16_t session, enum kr_request_kind kind, uint16_t number);

/* A command, under the next number or a given one; one cycle; returns its result's code. */
enum kr_code rig_command(struct rig *rig, enum kr_command command, enum kr_job job);
enum kr_code rig_command_numbered(struct rig *rig, uint16_t session, enum kr_command command, enum kr_job job,
                                  uint16_t number);

/* The same for a command that a HALT has overtaken while it waited. */
enum kr_code rig_command_overtaken(struct rig *rig, enum kr_command command, enum kr_job job);

/* A HALT, from whoever; one cycle; returns its result's code. */
enum kr_code rig_halt(struct rig *rig, enum kr_command command);

/* A Start with all that it can carry; rail and holder from 1. */
struct start_values {
    enum kr_job job;
    uint16_t rail, holder, speed;
    int32_t position_um;
};
enum kr_code rig_command_start(struct rig *rig, struct start_values values);
enum kr_code rig_command_try(struct rig *rig, uint16_t rail, uint16_t output); /* Start of job 9 */
/* The same, of a job for all rails and with the number of the order that is meant. */
enum kr_code rig_command_start_order(struct rig *rig, enum kr_job job, uint32_t order_number);

/* A maintenance request: the EDIT block, rail and holder from 1. Runs until it is judged and stored, and returns the
 * published code. */
struct edit_values {
    uint16_t rail, holder;
    uint16_t holder_size;
    int32_t edge_offset_um, position_um;
};
enum kr_code rig_edit(struct rig *rig, enum kr_edit_kind kind, struct edit_values values);
void rig_edit_hand_over(struct rig *rig, enum kr_edit_kind kind, uint16_t number, struct edit_values values);
enum kr_code rig_edit_numbered(struct rig *rig, uint16_t session, enum kr_edit_kind kind, uint16_t number,
                               struct edit_values values);

/* The same about a knife of the ledger; texts may be NULL. */
struct knife_values {
    uint16_t rail, holder;
    const char *name, *kind_name;
    int32_t edge_offset_um, diameter_um, thickness_um;
    uint32_t metres;
    uint16_t given, to, cause, fragments;
};
enum kr_code rig_knife(struct rig *rig, enum kr_edit_kind kind, struct knife_values values);

/* Sets where a rail, from 1, lies in the machine's frame. */
enum kr_code rig_frame(struct rig *rig, uint16_t rail, const struct kr_frame *frame);
/* Sets where its proximity switch is. */
enum kr_code rig_switch(struct rig *rig, uint16_t rail, struct kr_switch is);

/* A test cut of n strips, widths in micrometres; 0: not measured. kind says whether it stands with those before. */
enum kr_code rig_test_cut(struct rig *rig, enum kr_edit_kind kind, const int32_t width_um[], uint16_t n);

/* Maintenance confirms the edges of every rail, as measured at the bench: one request a rail, each accepted. */
void rig_confirm_edges(struct rig *rig);

/* ---- plc.c: what a PLC reads ----------------------------------------------------------------------------------- */

uint16_t rig_u16(const struct rig *rig, enum kr_reg reg, uint16_t rail, uint16_t index);
int32_t rig_i32(const struct rig *rig, enum kr_reg reg, uint16_t rail, uint16_t index);
int32_t rig_um(const struct rig *rig, enum kr_reg reg, uint16_t rail, uint16_t index);

enum kr_unit_state rig_state(const struct rig *rig);
enum kr_phase rig_phase(const struct rig *rig); /* of the job */
enum kr_carriage_phase rig_carriage_phase(const struct rig *rig, uint16_t rail);
uint16_t rig_status(const struct rig *rig);
bool rig_status_has(const struct rig *rig, uint16_t bits); /* all of them */
uint16_t rig_line_status(const struct rig *rig);
uint16_t rig_docked(const struct rig *rig, uint16_t rail); /* the holder, from 1; 0: none */
enum kr_known rig_known(const struct rig *rig, uint16_t rail, uint16_t holder);

enum kr_code rig_verdict(const struct rig *rig); /* on the last request */
enum kr_code
rig_answer(const struct rig *rig); /* to the last command; and its rail, from 1, value and limit */
uint16_t rig_answer_rail(const struct rig *rig);
int32_t rig_answer_value(const struct rig *rig);
int32_t rig_answer_limit(const struct rig *rig);

enum kr_alarm_code rig_alarm(const struct rig *rig); /* the first standing one */
/* The same, whole, as the station and the registers have it; fails the test if they differ or there is none. */
struct kr_alarm rig_first_alarm(const struct rig *rig);
uint16_t rig_alarm_count(const struct rig *rig);
bool rig_has_alarm(const struct rig *rig, enum kr_alarm_code code);

uint16_t rig_record_moves(const struct rig *rig); /* of the last record, on all rails */

/* What the book has of a holder, and who makes which cut by the registers: rail, holder and cut from 1. */
const struct kr_holder_data *rig_holder(const struct rig *rig, uint16_t rail, uint16_t holder);
uint16_t rig_cut_of(const struct rig *rig, uint16_t rail, uint16_t holder);     /* 0: idle */
uint16_t rig_holder_of_cut(const struct rig *rig, uint16_t rail, uint16_t cut); /* 0: nobody */

/* ---- story.c: steps of a changeover ---------------------------------------------------------------------------- */

/* Heartbeat, permissives, control; the first time maintenance confirms all edges, if the book can store that; then
 * Reset. A test of unproven edges sets edges_confirmed before. */
void rig_to_idle(struct rig *rig);
void rig_reset(struct rig *rig); /* Clear, if it is Aborted; then Reset, until Idle */

void rig_stage(struct rig *rig, uint32_t number);     /* the small order, accepted */
void rig_start_job(struct rig *rig, enum kr_job job); /* accepted, until Execute */
void rig_start_changeover(struct rig *rig); /* the small order as number 1 staged; a changeover started */
void rig_resume(struct rig *rig, enum kr_command how); /* accepted, until Execute */

/* Waits for Held, in which nothing moves and nothing is claimed that is not so; nobody meddles any more, Unhold is
 * taken. */
void rig_unhold(struct rig *rig);

/* From Stopped, Aborted or Complete as operators would: Reset, a release or a homing where Start asks for it, and the
 * changeover until it is verified. */
void rig_carry_on(struct rig *rig);

/* An order of n equal slits, staged and changed over to; the same with the small order as number 1; the order in
 * force or staged once more. Each until Complete and truly verified. */
void rig_set_up(struct rig *rig, uint32_t number, uint16_t n_slits, int32_t width_um);
void rig_set_up_small(struct rig *rig);
void rig_set_up_again(struct rig *rig);

/* Reset, then the small order as number 2, staged and started; and Reset, then a scan without an order. */
void rig_change_over_again(struct rig *rig);
void rig_scan_again(struct rig *rig);

/* The guards of all rails are opened or closed, and 200 ms go by. */
void rig_guards(struct rig *rig, bool closed);
void rig_open_and_close_guards(struct rig *rig);

void rig_until_state(struct rig *rig, enum kr_unit_state state);
void rig_until_state_within(struct rig *rig, enum kr_unit_state state, int64_t limit_ms);
void rig_until_complete(struct rig *rig);
void rig_until_phase(struct rig *rig, enum kr_phase phase);
void rig_until_carriage(struct rig *rig, uint16_t rail, enum kr_carriage_phase phase);
/* The carriage is in that phase while the job is in that phase. */
void rig_until_step(struct rig *rig, enum kr_phase job, uint16_t rail, enum kr_carriage_phase carriage);

/* How long the alarm takes to come, from now; fails the test if it is not the first one, or doesn't come at all. */
int64_t rig_ms_until_alarm(struct rig *rig, enum kr_alarm_code code);

/* No alarm stands one cycle before so much time is over, and this one as it is over. */
void rig_alarm_at_limit(struct rig *rig, int64_t limit_ms, enum kr_alarm_code code);

/* Runs until Complete; fails unless that is verified, and true: every edge, pair and slit within its tolerance, and all
 * sound. */
void rig_ends_verified(struct rig *rig);

/* Runs until Held; fails unless the first alarm is this one, on the first rail, and neither verified nor may run or
 * lower is said. */
struct kr_alarm rig_held_by(struct rig *rig, enum kr_alarm_code code);

/* The station claims no place of this rail, from 0, that is newer than what it remembers. */
void rig_nothing_is_measured(const struct rig *rig, uint16_t rail);

/* Nothing collided, nothing was dragged unseated, nothing claimed as measured that was not there. */
void rig_is_sound(const struct rig *rig);

/* A holder that is said to be placed or measured is there. */
void rig_is_honest(const struct rig *rig);

/* Runs for so long: no carriage moves, no output asks for motion or for a pin, brake or clamp. Still: the unit's state
 * stays, too, and all drives are off. */
void rig_nothing_moves_ms(struct rig *rig, int64_t ms);
void rig_stays_still_ms(struct rig *rig, int64_t ms);
bool rig_anything_moves(const struct rig *rig);

/* ---- truth.c: the world behind the registers ------------------------------------------------------------------- */

/* The greatest distance of a cutting edge from its cut line, over all rails; of an upper edge from its lower partner's,
 * side clearance taken off; and of a slit from its ordered width. Of the plan in force. */
int32_t rig_worst_edge_um(const struct rig *rig);
int32_t rig_worst_pair_um(const struct rig *rig);
int32_t rig_worst_slit_um(const struct rig *rig);

/* The pin of a rail's carriage is so far in, of SIM_TRAVEL, from now on. */
void rig_sink_pin(struct rig *rig, uint16_t rail, int32_t travel);

/* That holder is moved, as far as its neighbour and a hair's breadth back: two that touch can't be told apart from two
 * that collide. False: the rail ends before that, or the machine doesn't let it move. */
bool rig_shove(struct rig *rig, uint16_t rail, uint16_t holder, int32_t by_um);

/* Guards open, the holder is pushed, guards close again. */
void rig_push_by_hand(struct rig *rig, uint16_t rail, uint16_t holder, int32_t by_um);

/* The same for taking a holder off and putting it on: rail and holder from 1. The simulated machine alone learns of
 * it. */
void rig_take_off(struct rig *rig, uint16_t rail, uint16_t holder);
void rig_put_on(struct rig *rig, uint16_t rail, uint16_t holder, int32_t at_um);

#endif
