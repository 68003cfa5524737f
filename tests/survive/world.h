/* world: a station with all that is around it, in one flat struct: the daemon that stores and plans, the toy machine,
 * and a PLC that remembers what it was told. A copy of it is a checkpoint. Time is the number of cycles.
 *
 * The station is the real one, its planner too. What the daemon does is done as src/daemon/committer.c and plans.c do
 * it: one commit under way, a copy of what stood there when it began; one plan under way, its answer kept for the
 * next cycle. */
#ifndef KR_TESTS_WORLD_H
#define KR_TESTS_WORLD_H

#include "face/line.h" /* of the face: what of the PLC's writes counts */
#include "state.h"
#include "toy.h"

#define WORLD_PERIOD_MS    TOY_STEP_MS
#define WORLD_STRIP_OFF_UM 400 /* a test cut's strip is so much wider than ordered */

enum world_order { ORDER_NONE, ORDER_A, ORDER_B, ORDER_TOO_WIDE, ORDER_ALTERED };

#define QUEUE_SEEN 3 /* as much of a queue as is played with */

/* Orders as the PLC knows them: enum world_order each. */
struct orders {
    uint8_t in_force, staged, n_queued, queue[QUEUE_SEEN], recipe; /* recipe: what is stored under number 1 */
};

/* What the book's ledger has of knives: the first one is in it from the beginning, the other may be entered. */
#define WORLD_KNIVES 2
struct ledger {
    uint8_t place[WORLD_KNIVES];  /* enum kr_knife_place */
    uint8_t holder[WORLD_KNIVES]; /* that it is on, from 1; 0: none */
};

/* What maintenance has set. */
struct settings {
    int32_t knife[TOY_HOLDERS]; /* number of the knife on it, 0: none that has a name */
    int32_t offset_um[TOY_HOLDERS];
    int32_t state[TOY_HOLDERS]; /* enum kr_holder_state */
    int32_t edge[TOY_HOLDERS];  /* enum kr_edge */
};

/* What the PLC may rely on, because it was told so, and what it was not told yet. */
struct plc {
    bool beats, all_permitted;
    bool second_beats; /* another client of its address writes the heartbeat alone */
    uint16_t accesses; /* as it counts them; 0: it does not */
    uint16_t request_number, command_number;
    struct orders told;
    struct kr_verdict verdict, stored; /* the last that was published; the last that was published as stored */
    bool starting; /* a Start that was accepted isn't stored yet: after a cut it may not have been */
    struct orders before_start;
    uint16_t edit_number;
    uint8_t asked_knife[4]; /* by the maintenance request of that number: the knife's number */
    struct settings set;
    struct ledger ledger;
    struct kr_edit edit_stored; /* the last that was published as stored */
    struct {
        bool stands;
        bool fitted[TOY_HOLDERS];
        int32_t offset_um[TOY_HOLDERS];
    } proposal;                                          /* of a test cut, as it was shown */
    bool go;                                             /* a command since the gateway's start lets things move */
    int silent_cycles, unrefreshed_cycles, loose_cycles; /* since heartbeat, jog refresh; device let go */
};

struct world {
    struct kr_station station;
    struct kr_station_in in;
    struct kr_station_out out;
    uint16_t session;
    /* the daemon */
    struct kr_durable disk, writing;
    bool busy, failed, retry;
    bool in_doubt;                /* the last commit was said to have failed; whether it is on the disk nobody knows */
    struct kr_durable doubtful;   /* what it held */
    bool answered, answered_well; /* the commit that was under way has ended */
    struct ledger ledger;         /* as it is on the disk */
    uint32_t landed_event;        /* of the knife event that is in it, since the gateway's start */
    uint32_t knife_ticket;        /* of the knife that was asked for last */
    uint8_t knife_asked;          /* its number */
    bool knife_waits, ledger_answers, ledger_fails;
    struct kr_plan_request asked;
    uint32_t asked_ticket;
    bool planning, plan_done;
    struct toy toy;
    struct plc plc;
    uint16_t holding[64]; /* the block LINE, as clients wrote it */
    struct face_line line;
    bool drifts;        /* nobody compares where the carriage rested */
    const char *broken; /* the first invariant that did not hold; NULL: all did */
};

void world_init(struct world *world);

/* One cycle: machine, daemon, station, then every invariant is looked at (judge.c). */
void world_cycle(struct world *world);

/* The power goes, or the gateway is killed, and it starts again. What the disk has then beside all that was stored:
 * nothing, the commit under way, or the one that was said to have failed, which SQLite does not take off the disk
 * again. */
enum world_landing { WORLD_NOTHING_LANDS, WORLD_UNDER_WAY_LANDS, WORLD_FAILED_LANDED };
void world_restart(struct world *world, enum world_landing landing);

/* What the PLC writes, for the next cycle. */
void world_request(struct world *world, uint16_t session, enum kr_request_kind kind, enum world_order order,
                   uint16_t number);
void world_repeat_request(struct world *world);
void world_command(struct world *world, uint16_t session, enum kr_command command, enum kr_job job, uint16_t number);
void world_repeat_command(struct world *world);
struct asked { /* of the block EDIT */
    enum kr_edit_kind kind;
    uint16_t holder;
    int32_t offset_um, position_um, width_um;
    uint8_t knife; /* its number; 0: the request names none */
};
void world_edit(struct world *world, uint16_t session, struct asked asked, uint16_t number);
void world_refresh_jog(struct world *world);

/* Finished width of an order's only slit. */
int32_t world_slit_um(enum world_order order);

/* The edge position that the ledger has of a knife, by its number. */
int32_t world_edge_um(int knife);

/* The orders that a station has, or a book. ORDER_ALTERED is one that nobody gave. */
struct orders world_orders(const struct kr_durable *durable);
struct settings world_settings(const struct kr_durable *durable);

/* judge.c: looks at the cycle that was just made. before: the world before it. */
struct seen {
    struct kr_verdict verdict;
    struct kr_edit edited;
    bool storing; /* what maintenance asked for, or withdrawing it */
    enum kr_unit_state state;
    uint16_t halt;  /* of the cycle, 0: none */
    bool overtaken; /* its command waited when the HALT came */
    struct kr_axis_out axis;
};
void judge_remember(const struct world *world, struct seen *seen);
void judge_cycle(struct world *world, const struct seen *before);
void judge_restart(struct world *world, const struct kr_verdict *under_way,
                   const struct kr_edit *edit_under_way); /* what landed without having been told */
bool judge_same_verdict(const struct kr_verdict *a, const struct kr_verdict *b);
bool judge_same_edit(const struct kr_edit *a, const struct kr_edit *b);

/* key.c: a number for all that matters for what may come. */
uint64_t world_key(const struct world *world);

#endif
