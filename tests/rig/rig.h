/* The rig for tests of the station: one station, the planner and the simulated machine in one process and in
 * virtual time. The rig plays the daemon (a plan and a commit of the book each take a chosen number of cycles) and
 * the PLC (registers are written and read as a client would, through the map).
 *
 * The parts on which tests are built, the lowest first:
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
 * A function that is called rig_until_..., rig_start_..., rig_stage, rig_resume, rig_unhold, rig_carry_on,
 * rig_set_up..., rig_alarm_at_limit or rig_ends_... fails the test if the event in its name does not happen.
 * rig_run_until_state() and rig_run_while() return whether it did.
 *
 * Rails and holders are counted from 0, as in the arrays of the code. Where a comment says 'from 1', they are the
 * numbers that people and registers use. */
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
    struct rig_image *image; /* made only when it is read, because most cycles nobody reads it */
    void *workspace;
    /* The daemon's part: */
    uint16_t session;
    uint32_t ticket_running;   /* of the plan being made */
    int plan_cycles, plan_due; /* a plan takes so many cycles */
    int book_cycles, book_due; /* a commit takes so many cycles; negative: never answers */
    bool book_broken;          /* every commit fails */
    uint16_t book_failures;    /* so many of the next commits fail, then the book stores again */
    uint32_t book_serial;      /* of the commit under way */
    struct kr_durable book, book_next;
    /* Returns the ledger's data of a knife; NULL: there is no ledger. The answer comes in the cycle after the
     * question. */
    struct kr_knife_answer (*ledger)(struct rig *rig, const char *name);
    void *of_ledger;
    /* Called with the data that is stored, before the station knows of it; NULL: nothing is called. */
    void (*on_stored)(struct rig *rig, const struct kr_durable *stored);
    /* The PLC's part: */
    bool heart_stopped;
    int64_t heart_us;
    uint16_t request_number, command_number, edit_number; /* the last ones used */
    bool edges_confirmed;                                 /* rig_to_idle() has had the edges confirmed */
    struct kr_snapshot order;                             /* the ORDER block as the PLC has filled it in */
    int64_t time_us;
    int32_t period_us;
    /* Called between the answers of machine, planner and book, and the station; NULL: nothing is called. */
    void (*meddle)(struct rig *rig);
    void *of_meddle;
    /* Called at the end of every cycle, with the station's input of that cycle; NULL: nothing is called. */
    void (*witness)(const struct rig *rig, void *of_witness);
    void *of_witness;
    /* Records each cycle, as the daemon does; NULL: nothing is recorded. Wall time counts from 1970 there. */
    struct kr_trace_ring *trace;
    /* Events that must never happen, checked in every cycle: */
    bool false_measured;       /* a position that was claimed as measured is further than claim_um from the truth */
    bool record_without_cause; /* a job that ended without verification has a record without a cause */
    int32_t claim_um;
    struct rig_claim {
        uint16_t rail, holder; /* from 1 */
        int32_t claimed_um, true_um;
        int64_t at_us;
    } false_claim; /* the first one */
    /* Holders that moved unseen. A claim about such a holder may be false until a docking or a scan has found it; from
     * then on its claims are judged again. A place that was set aside may be claimed again: it is the earlier place. */
    bool crept[KR_RAILS_MAX][KR_HOLDERS_MAX];
    int32_t crept_claim_um[KR_RAILS_MAX][KR_HOLDERS_MAX]; /* the claim at the time when the holder crept */
    /* The errors that README lists as undetectable: how far a claimed place and a proven edge may be off. All 0 unless
     * excuse_claims() sets them. */
    struct rig_excuse {
        /* No scan could tell yet that the pin is beside its assumed position, so holders may touch. */
        bool pin_is_off;
        int32_t bound_um;                 /* in both directions, for all holders of the rail */
        int32_t place_um[KR_HOLDERS_MAX]; /* each place by exactly so much, with its sign */
        int32_t blade_um[KR_HOLDERS_MAX]; /* each edge by exactly so much, seen from its flag */
    } excuse[KR_RAILS_MAX];
    /* Called after each step of the station, before its claims are judged: sets the excuses; NULL: nothing is
     * called. */
    void (*excuse_claims)(struct rig *rig, void *of_excuse);
    void *of_excuse;
};

/* ---- rig.c: configuration, cycle, daemon ----------------------------------------------------------------------- */

/* Fills in rails of n holders each, evenly spread; the second rail is a lower one. All permissives are given, and the
 * drives are referenced. */
void rig_defaults(struct rig *rig, uint16_t n_rails, uint16_t n_holders, uint8_t holder_size);
void rig_start(struct rig *rig);   /* call it after rig_defaults() and any changes to config and sim_config */
void rig_restart(struct rig *rig); /* the gateway restarts with the committed data; the machine runs on */
void rig_end(struct rig *rig);

void rig_cycle(struct rig *rig);
void rig_run_ms(struct rig *rig, int64_t ms);
bool rig_run_until_state(struct rig *rig, enum kr_unit_state state, int64_t limit_ms);
bool rig_run_while(struct rig *rig, bool (*holds)(struct rig *), int64_t limit_ms);

/* Begins a fault of the simulated machine, and ends it. rig_break() fails the test if the machine can't have the fault.
 * item is explained in sim/faults.def. */
void rig_break(struct rig *rig, uint16_t rail, enum sim_fault fault, uint16_t item, int32_t value);
void rig_mend(struct rig *rig, uint16_t rail, enum sim_fault fault, uint16_t item);

/* Returns the registers as a client reads them; they are valid until the next cycle. */
const struct kr_image *rig_image(const struct rig *rig);

/* ---- small.c: a small station ---------------------------------------------------------------------------------- */

/* Fill in up to two rails (the second one is a lower one) of half a metre, with SMALL_HOLDERS each, quick pins, and
 * carriages parked at -60 mm; they start nothing. Ideal: there is no slip, play or scatter, and the permissives come
 * from the PLC's register. Ordinary: the machine slips, plays and scatters as much as the simulator's defaults say, and
 * is slower; the permissives are drive inputs. */
void rig_small_ideal(struct rig *rig, uint16_t n_rails);
void rig_small_ordinary(struct rig *rig, uint16_t n_rails);
/* An air shaft clamps the holders of that rail, too. */
void rig_common_clamp(struct rig *rig, uint16_t rail);

void rig_begin(struct rig *rig);       /* starts the station and brings it to Idle */
void rig_begin_small(struct rig *rig); /* does so with a small ideal station of two rails */

/* Fills in the ORDER block: three slits of 90, 110 and 100 mm, both edges trimmed, which makes four cuts. */
void rig_small_order(struct rig *rig, uint32_t number);

/* ---- plc.c: what a PLC writes ---------------------------------------------------------------------------------- */

/* Fill in the ORDER block. Lengths are in micrometres; rig_order_set() takes raw counts. */
void rig_order(struct rig *rig, uint32_t number, int32_t web_um, const int32_t width_um[], uint16_t n);
void rig_order_set(struct rig *rig, enum kr_reg reg, uint16_t index, int32_t value);
int32_t rig_count(const struct rig *rig, int32_t um); /* converts to counts of the station's unit */

/* Hands over a request about the order, under the next number or a given one; runs until it is judged, and returns the
 * verdict's code. rig_hand_over() does not wait. */
enum kr_code rig_request(struct rig *rig, enum kr_request_kind kind);
enum kr_code rig_request_numbered(struct rig *rig, uint16_t session, enum kr_request_kind kind, uint16_t number);
void rig_hand_over(struct rig *rig, uint16_t session, enum kr_request_kind kind, uint16_t number);

/* Gives a command, under the next number or a given one; runs one cycle; returns the code of its result. */
enum kr_code rig_command(struct rig *rig, enum kr_command command, enum kr_job job);
enum kr_code rig_command_numbered(struct rig *rig, uint16_t session, enum kr_command command, enum kr_job job,
                                  uint16_t number);

/* Does the same, for a command that was overtaken by a HALT while it waited. */
enum kr_code rig_command_overtaken(struct rig *rig, enum kr_command command, enum kr_job job);

/* Gives a HALT, which may come from any client; runs one cycle; returns the code of its result. */
enum kr_code rig_halt(struct rig *rig, enum kr_command command);

/* A Start with everything that it can contain; rail and holder from 1. */
struct start_values {
    enum kr_job job;
    uint16_t rail, holder, speed;
    int32_t position_um;
};
enum kr_code rig_command_start(struct rig *rig, struct start_values values);
enum kr_code rig_command_try(struct rig *rig, uint16_t rail, uint16_t output); /* starts job 9 */
/* Starts a job for all rails, with the number of the order that is meant. */
enum kr_code rig_command_start_order(struct rig *rig, enum kr_job job, uint32_t order_number);

/* Makes a maintenance request with the EDIT block, rail and holder from 1. Runs until it is judged and stored, and
 * returns the published code. */
struct edit_values {
    uint16_t rail, holder;
    uint16_t holder_size;
    int32_t edge_offset_um, position_um;
};
enum kr_code rig_edit(struct rig *rig, enum kr_edit_kind kind, struct edit_values values);
void rig_edit_hand_over(struct rig *rig, enum kr_edit_kind kind, uint16_t number, struct edit_values values);
enum kr_code rig_edit_numbered(struct rig *rig, uint16_t session, enum kr_edit_kind kind, uint16_t number,
                               struct edit_values values);

/* Makes a maintenance request about a knife of the ledger; texts may be NULL. */
struct knife_values {
    uint16_t rail, holder;
    const char *name, *kind_name;
    int32_t edge_offset_um, diameter_um, thickness_um;
    uint32_t metres;
    uint16_t given, to, cause, fragments;
};
enum kr_code rig_knife(struct rig *rig, enum kr_edit_kind kind, struct knife_values values);

/* Sets the position of a rail, from 1, in the machine's frame. */
enum kr_code rig_frame(struct rig *rig, uint16_t rail, const struct kr_frame *frame);
/* Sets the offset and the bias of its proximity switch. */
enum kr_code rig_switch(struct rig *rig, uint16_t rail, struct kr_switch is);
/* Sets the rail's planned times. */
enum kr_code rig_times(struct rig *rig, uint16_t rail, struct kr_rail_times is);

/* Enters a test cut of n strips, with widths in micrometres; 0: not measured. kind says whether it is combined with the
 * test cuts before. */
enum kr_code rig_test_cut(struct rig *rig, enum kr_edit_kind kind, const int32_t width_um[], uint16_t n);
/* The same, with a value for EDIT_PAIRS_LOOKED_AT: the number of this request, which is rig->edit_number + 1, states
 * that a person has looked at each pair. */
enum kr_code rig_test_cut_stating(struct rig *rig, enum kr_edit_kind kind, const int32_t width_um[], uint16_t n,
                                  uint16_t pairs_looked_at);

/* Maintenance confirms the edges of every rail, as measured at the bench: one request for each rail, all accepted. */
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
/* The answer to the last command, and its rail (from 1), value and limit. */
enum kr_code rig_answer(const struct rig *rig);
uint16_t rig_answer_rail(const struct rig *rig);
int32_t rig_answer_value(const struct rig *rig);
int32_t rig_answer_limit(const struct rig *rig);

enum kr_alarm_code rig_alarm(const struct rig *rig); /* the first standing alarm */
/* The whole first alarm. Fails the test if there is none, or station and registers disagree about it. */
struct kr_alarm rig_first_alarm(const struct rig *rig);
uint16_t rig_alarm_count(const struct rig *rig);
bool rig_has_alarm(const struct rig *rig, enum kr_alarm_code code);

uint16_t rig_record_moves(const struct rig *rig); /* of the last record, on all rails */

/* The book's data of a holder, and which holder makes which cut by the registers. Rail, holder and cut are from 1. */
const struct kr_holder_data *rig_holder(const struct rig *rig, uint16_t rail, uint16_t holder);
uint16_t rig_cut_of(const struct rig *rig, uint16_t rail, uint16_t holder);     /* 0: idle */
uint16_t rig_holder_of_cut(const struct rig *rig, uint16_t rail, uint16_t cut); /* 0: nobody */

/* ---- story.c: steps of a changeover ---------------------------------------------------------------------------- */

/* Gives heartbeat, permissives and control. The first time, maintenance confirms all edges, if the book can store that.
 * Then gives Reset. A test of unproven edges sets edges_confirmed before. */
void rig_to_idle(struct rig *rig);
void rig_reset(struct rig *rig); /* gives Clear if the unit is Aborted, then Reset, and runs until Idle */

void rig_stage(struct rig *rig, uint32_t number);      /* stages the small order; it must be accepted */
void rig_start_job(struct rig *rig, enum kr_job job);  /* must be accepted; runs until Execute */
void rig_start_changeover(struct rig *rig);            /* stages the small order as number 1; starts a changeover */
void rig_resume(struct rig *rig, enum kr_command how); /* must be accepted; runs until Execute */

/* Waits for Held, where nothing may move and nothing untrue may be claimed. Ends the calls of meddle(), and gives
 * Unhold, which must be accepted. */
void rig_unhold(struct rig *rig);

/* Goes on from Stopped, Aborted or Complete as operators would: Reset, a release or a homing if Start asks for it, and
 * the changeover, until it is verified. */
void rig_carry_on(struct rig *rig);

/* Stages an order of n equal slits and changes over to it; does so with the small order as number 1; does so with the
 * order in force or staged once more. Each runs until Complete, and the result must be truly verified. */
void rig_set_up(struct rig *rig, uint32_t number, uint16_t n_slits, int32_t width_um);
void rig_set_up_small(struct rig *rig);
void rig_set_up_again(struct rig *rig);

/* Reset, then stage and start the small order as number 2; and Reset, then start a scan without an order. */
void rig_change_over_again(struct rig *rig);
void rig_scan_again(struct rig *rig);
/* From Idle: scans all rails, until the job is complete, and resets. Returns the time of the job. */
int64_t rig_scan_ms(struct rig *rig);

/* Open or close the guards of all rails, and run for 200 ms. */
void rig_guards(struct rig *rig, bool closed);
void rig_open_and_close_guards(struct rig *rig);

void rig_until_state(struct rig *rig, enum kr_unit_state state);
void rig_until_state_within(struct rig *rig, enum kr_unit_state state, int64_t limit_ms);
void rig_until_complete(struct rig *rig);
void rig_until_phase(struct rig *rig, enum kr_phase phase);
void rig_until_carriage(struct rig *rig, uint16_t rail, enum kr_carriage_phase phase);
/* Runs until the carriage is in that phase while the job is in that phase. */
void rig_until_step(struct rig *rig, enum kr_phase job, uint16_t rail, enum kr_carriage_phase carriage);

/* Returns how long it takes until the alarm comes. Fails the test if it is not the first alarm, or does not come. */
int64_t rig_ms_until_alarm(struct rig *rig, enum kr_alarm_code code);

/* Checks that no alarm stands one cycle before the time limit is over, and that this one stands when it is over. */
void rig_alarm_at_limit(struct rig *rig, int64_t limit_ms, enum kr_alarm_code code);

/* Runs until Complete. Fails the test unless the result is verified and true: every edge, pair and slit is within its
 * tolerance, and rig_is_sound() holds. */
void rig_ends_verified(struct rig *rig);

/* Runs until Held. Fails the test unless the first alarm is this one, on the first rail, and the station says neither
 * verified, nor that the line may run or knives may be lowered. */
struct kr_alarm rig_held_by(struct rig *rig, enum kr_alarm_code code);

/* Checks that the station claims no place of this rail, from 0, that is newer than what it remembers. */
void rig_nothing_is_measured(const struct rig *rig, uint16_t rail);

/* Checks that nothing collided, no holder was dragged by an unseated pin, and no false place was claimed as
 * measured. */
void rig_is_sound(const struct rig *rig);

/* Checks that every holder that is said to be placed or measured stands there. */
void rig_is_honest(const struct rig *rig);

/* Run for so long, and check that no carriage moves and no output asks for motion or for a pin, brake or clamp. Still
 * means that the unit's state also stays the same, and all drives are off. */
void rig_nothing_moves_ms(struct rig *rig, int64_t ms);
void rig_stays_still_ms(struct rig *rig, int64_t ms);
bool rig_anything_moves(const struct rig *rig);

/* ---- truth.c: the true state of the machine -------------------------------------------------------------------- */

/* By the plan in force, over all rails: the greatest distance of a cutting edge from its cut line; of an upper edge
 * from that of its lower partner, without the side clearance; and of a slit's width from its ordered width. */
int32_t rig_worst_edge_um(const struct rig *rig);
int32_t rig_worst_pair_um(const struct rig *rig);
int32_t rig_worst_slit_um(const struct rig *rig);

/* Sets the stroke of the pin of a rail's carriage, as a part of SIM_TRAVEL. */
void rig_sink_pin(struct rig *rig, uint16_t rail, int32_t travel);

/* Moves that holder, at most to a tiny gap before its neighbour, because two holders that touch can't be told apart
 * from two that collide. False: the rail ends before that, or the machine doesn't let it move. */
bool rig_shove(struct rig *rig, uint16_t rail, uint16_t holder, int32_t by_um);

/* Opens the guards, pushes the holder, and closes the guards again. */
void rig_push_by_hand(struct rig *rig, uint16_t rail, uint16_t holder, int32_t by_um);

/* Do the same for taking a holder off and putting it on; rail and holder from 1. Only the simulated machine knows of
 * it. */
void rig_take_off(struct rig *rig, uint16_t rail, uint16_t holder);
void rig_put_on(struct rig *rig, uint16_t rail, uint16_t holder, int32_t at_um);

#endif
