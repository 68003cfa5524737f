#ifndef KR_STATION_EDGES_H
#define KR_STATION_EDGES_H

#include "alarms.h"
#include "planning.h"

/* Decides whether the cutting edges can be trusted to be where their offsets say. A scan sees a holder's flag and never
 * its blade. An edge counts once somebody has measured it or a test cut has shown it, and as long as offset, knife and
 * holder stay the same. kr_durable stores how each edge was proven; this struct has what a restart forgets. */
struct edges {
    /* The knife may be lowered with an unproven edge, until its strips are entered. */
    bool trial[KR_RAILS_MAX][KR_HOLDERS_MAX];
    /* The state before a maintenance request, while the request is not stored yet. */
    bool waits;
    uint8_t edge_before[KR_RAILS_MAX][KR_HOLDERS_MAX];
    bool trial_before[KR_RAILS_MAX][KR_HOLDERS_MAX];
    uint16_t crash, crash_cut; /* values from the PLC in the cycle before */
    bool crash_ended;          /* the PLC has reported a crash since the start, and its end */
};

void edges_wait(struct edges *edges, const struct kr_durable *durable); /* call before a request is judged */
void edges_stored(struct edges *edges);
/* The request can't be stored. What it proved or allowed is revoked, and what was proven before counts again, except
 * after a crash. */
void edges_take_back(struct edges *edges, struct kr_durable *durable);

/* The inputs for deciding what the edges allow. */
struct edge_view {
    const struct edges *edges;
    const struct kr_durable *durable;
    const struct planning *planning;
    const struct kr_geometry *geometry;
};

bool edge_is_proven(enum kr_edge edge);

/* Returns an edge as clients see it: what a request has proven or allowed counts once it is stored, and a doubt counts
 * at once. */
enum kr_edge edge_shown(const struct edges *edges, const struct kr_durable *durable, uint16_t rail, uint16_t holder);
/* Tells whether the strips of the request that is not stored yet have proven this edge. */
bool edge_proven_by_strips(const struct edges *edges, const struct kr_durable *durable, uint16_t rail, uint16_t holder);
bool edge_on_trial(const struct edges *edges, uint16_t rail, uint16_t holder);

/* Returns what the weakest edge allows, among those that cut in the plan in force. */
enum edge_use { EDGE_FOR_NOTHING, EDGE_FOR_TEST_CUT, EDGE_FOR_ALL };
enum edge_use edges_allow(struct edge_view view);

/* These handle the requests KR_EDIT_BENCH, _FEELER and _TRIAL. crash is what the PLC reports now. */
bool edges_own_kind(uint16_t kind);
struct kr_result edges_request(struct edge_view view, struct edges *edges, struct kr_durable *durable,
                               const struct kr_edit *edit, uint16_t crash);

/* The strips on both sides of a cut (its number) were measured. That ends the trial of the cut's knives. The edges on
 * the rails proven_on, bit by bit, are proven; none if a strip was off. */
void edges_strips_entered(struct edge_view view, struct edges *edges, struct kr_durable *durable, uint16_t cut,
                          uint16_t proven_on);
void edges_end_trials(struct edges *edges); /* call when another order comes into force */

/* Raises alarms for the edges that hinder the line, and ends those that are over. */
void edges_name(struct edge_view view, bool verified, struct alarms *alarms);

/* Tells whether the PLC reports a crash that it did not report in the cycle before. */
bool edges_new_crash(struct edges *edges, uint16_t crash, uint16_t cut);
/* The knives that the crash may concern must be inspected. Returns their rails as bits. */
uint16_t edges_strike(struct edge_view view, struct edges *edges, struct kr_durable *durable);

#endif
