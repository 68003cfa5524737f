/* A test rig: one station, the planner and the simulated machine, in virtual time. It plays the daemon (tickets are
 * answered after a chosen number of cycles) and the PLC (registers are written as a client would, through the map). */
#ifndef KR_TESTS_RIG_H
#define KR_TESTS_RIG_H

#include "kniferail/station.h"
#include "sim/machine.h"

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
    bool book_broken;
    uint32_t book_serial; /* being committed */
    struct kr_durable book, book_next;
    /* the PLC */
    bool heart_stopped;
    int64_t heart_us;
    uint16_t request_number, command_number;
    struct kr_snapshot order; /* the ORDER block as the PLC has filled it */
    int64_t time_us;
    int32_t period_us;
    /* Between the answers of machine, planner and book and the station; NULL: nobody does. */
    void (*meddle)(struct rig *rig);
    /* Sees the rig at the end of every cycle; NULL: nobody does. */
    void (*witness)(const struct rig *rig, void *of_witness);
    void *of_witness;
    /* what must never happen, looked at in every cycle */
    bool false_measured; /* a position claimed measured that is further than claim_um from the truth */
    int32_t claim_um;
    struct rig_claim {
        uint16_t rail, holder; /* from 1 */
        int32_t claimed_um, true_um;
        int64_t at_us;
    } false_claim; /* the first */
};

/* Rails of n holders each (the second one lower), evenly spread, all permissives given, drives referenced. */
void rig_defaults(struct rig *rig, uint16_t n_rails, uint16_t n_holders, uint8_t holder_class);
void rig_start(struct rig *rig);   /* after defaults and any changes to config and sim_config */
void rig_restart(struct rig *rig); /* the gateway restarts from what was committed; the machine goes on */
void rig_end(struct rig *rig);

void rig_cycle(struct rig *rig);
void rig_run_ms(struct rig *rig, int64_t ms);
bool rig_run_until_state(struct rig *rig, enum kr_unit_state state, int64_t limit_ms);
bool rig_run_while(struct rig *rig, bool (*holds)(struct rig *), int64_t limit_ms);

/* The PLC's hands. Lengths in micrometres. */
void rig_order(struct rig *rig, uint32_t number, int32_t web_um, const int32_t width_um[], uint16_t n);
void rig_order_set(struct rig *rig, enum kr_reg reg, uint16_t index, int32_t value); /* raw counts */
int32_t rig_count(const struct rig *rig, int32_t um);         /* in the station's unit */
void rig_request(struct rig *rig, enum kr_request_kind kind); /* next number, then runs until judged */
void rig_request_numbered(struct rig *rig, uint16_t session, enum kr_request_kind kind, uint16_t number);
void rig_command(struct rig *rig, enum kr_command command, enum kr_job job); /* next number; one cycle */
void rig_command_numbered(struct rig *rig, uint16_t session, enum kr_command command, enum kr_job job,
                          uint16_t number);
void rig_to_idle(
    struct rig *rig); /* heartbeat, permissives, Reset; fails the test if it does not get there */

/* The image as a client reads it; valid until the next cycle. */
const struct kr_image *rig_image(const struct rig *rig);
uint16_t rig_u16(const struct rig *rig, enum kr_reg reg, uint16_t rail, uint16_t index);
int32_t rig_i32(const struct rig *rig, enum kr_reg reg, uint16_t rail, uint16_t index);
int32_t rig_um(const struct rig *rig, enum kr_reg reg, uint16_t rail, uint16_t index);
enum kr_alarm_code rig_alarm(const struct rig *rig); /* the first standing one */
bool rig_has_alarm(const struct rig *rig, enum kr_alarm_code code);

/* The truth: greatest distance of a cutting edge from its cut line, over all rails; of an upper edge from its lower
 * partner's, side clearance taken off; and of a slit from its ordered width. Of the plan in force. */
int32_t rig_worst_edge_um(const struct rig *rig);
int32_t rig_worst_pair_um(const struct rig *rig);
int32_t rig_worst_slit_um(const struct rig *rig);

#endif
