#ifndef KR_STATION_EDGES_H
#define KR_STATION_EDGES_H

#include "alarms.h"
#include "planning.h"

/* Whether cutting edges are where their offsets say. A scan sees a holder's flag and never its blade: an edge counts
 * once somebody has measured it or a test cut has shown it, and for as long as offset, knife and holder stay what they
 * were. How each one is proven is in kr_durable; here is what a restart forgets. */
struct edges {
    bool trial[KR_RAILS_MAX][KR_HOLDERS_MAX]; /* may be lowered unproven, until its strips are entered */
    /* While a maintenance request is not stored yet: as it was before. */
    bool waits;
    uint8_t edge_before[KR_RAILS_MAX][KR_HOLDERS_MAX];
    bool trial_before[KR_RAILS_MAX][KR_HOLDERS_MAX];
    uint16_t crash, crash_cut; /* as the PLC showed them in the cycle before */
};

void edges_wait(struct edges *edges, const struct kr_durable *durable); /* a request is about to be judged */
void edges_stored(struct edges *edges);
/* It can't be stored: what it proved or allowed is so no longer, what was proven before is so again, a crash apart. */
void edges_take_back(struct edges *edges, struct kr_durable *durable);

/* All that is looked at to say what the edges allow. */
struct edge_view {
    const struct edges *edges;
    const struct kr_durable *durable;
    const struct planning *planning;
    const struct kr_geometry *geometry;
};

bool edge_is_proven(enum kr_edge edge);

/* As they are shown: what a request has proven or allowed counts once it is stored, what became doubtful at once. */
enum kr_edge edge_shown(const struct edges *edges, const struct kr_durable *durable, uint16_t rail,
                        uint16_t holder);
bool edge_on_trial(const struct edges *edges, uint16_t rail, uint16_t holder);

/* Of all that cut in the plan in force, what the weakest edge allows. */
enum edge_use { EDGE_FOR_NOTHING, EDGE_FOR_TEST_CUT, EDGE_FOR_ALL };
enum edge_use edges_allow(struct edge_view view);

/* KR_EDIT_BENCH, _FEELER and _TRIAL. crash: what the PLC reports now. */
bool edges_own_kind(uint16_t kind);
struct kr_result edges_request(struct edge_view view, struct edges *edges, struct kr_durable *durable,
                               const struct kr_edit *edit, uint16_t crash);

/* Strips beside a cut (its number) were measured: all of them, and within tolerance; or one was off. That ends the
 * trial of its knives. */
void edges_strips_entered(struct edge_view view, struct edges *edges, struct kr_durable *durable,
                          uint16_t cut, bool within_tolerance);
void edges_end_trials(struct edges *edges); /* another order comes into force */

/* Names by alarms whose edges hinder the line. What was named before, and is over, is named no longer. */
void edges_name(struct edge_view view, bool verified, struct alarms *alarms);

/* Whether the PLC reports a crash that it did not report in the cycle before. */
bool edges_new_crash(struct edges *edges, uint16_t crash, uint16_t cut);
/* The knives that it may have been have to be looked at. Returns their rails, bit by bit. */
uint16_t edges_strike(struct edge_view view, struct edges *edges, struct kr_durable *durable);

#endif
