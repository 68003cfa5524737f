/* plan: decides which holder cuts where, where idle holders rest, and in what sequence the carriages move them. It is
 * pure: no I/O, no clock, no allocation; the same arguments give the same plan on every computer. It stands on base;
 * station and cli stand on it. Any thread may call it, each with a workspace of its own. src/plan/README.md says how it
 * searches. */
#ifndef KNIFERAIL_PLAN_H
#define KNIFERAIL_PLAN_H

#include "kniferail/base.h"
#include "kniferail/map.h"

/* ---- the order ---------------------------------------------------------------------------------------- */

/* enum kr_alignment and the edge flags, KR_UNTRIMMED_..., are part of the register map (map.h). */

/* An order. Widths are counted from the operator side. An untrimmed edge fixes the slits to that edge, whatever the
 * alignment. If both edges are untrimmed, the slits must take the whole web. */
struct kr_order {
    uint32_t order_number; /* the customer's number, which is only echoed; 0: none */
    uint16_t n_slits;
    uint16_t edge_flags;      /* KR_UNTRIMMED_... */
    uint16_t alignment;       /* enum kr_alignment, as it came in the request */
    int32_t compensation_ppm; /* every width is cut (1 + ppm/1e6) times as wide */
    int32_t tolerance_um;     /* tolerance of one holder's placement; 0: the station's own */
    int64_t web_width_nm;
    int64_t trim_nm;  /* trim on the operator side; it counts with KR_FROM_OPERATOR_EDGE only */
    int64_t shift_nm; /* shift of the web, and with it of all cuts; positive towards the drive side */
    int64_t sum_nm;   /* sum of the widths, as a check; 0: not given */
    int64_t width_nm[KR_SLITS_MAX];
};

/* ---- the station's geometry and times ---------------------------------------------------------------------- */

enum kr_idle_policy {
    KR_IDLE_ANYWHERE,    /* the holder rests anywhere that spacing permits */
    KR_IDLE_OUTSIDE_WEB, /* the holder's centre rests at least idle_clearance_um outside the web's edges */
};

/* The limits of the times in struct kr_rail_geometry. */
#define KR_DOCK_MIN_US   1000     /* of docking, and of undocking */
#define KR_DOCK_MAX_US   60000000 /* likewise */
#define KR_TRAVEL_MAX_US 10000000 /* of setpoint_us, and of rounding_us */

struct kr_rail_geometry {
    enum kr_role role;
    uint16_t n_holders;
    int32_t min_um, max_um; /* limits of every holder's centre */
    int32_t cut_side_um;    /* added to every cut line: the upper rail's signed side clearance */
    /* Of the carriage alone, and with a holder. drag is not faster than empty, or no bounds are claimed. */
    struct kr_speed empty, drag;
    int32_t dock_us, undock_us; /* dock: pin in and brake open; undock: brake closed and pin out */
    /* Times that each travel of the carriage takes besides its trapezoidal profile. setpoint_us: the drive accepts the
     * set-point. rounding_us: the drive rounds the profile off, which with a limited jerk j takes a/j, and settles. */
    int32_t setpoint_us, rounding_us;
    /* The direction of the final approach, which takes up backlash. +1: every holder arrives growing (from the operator
     * side); -1: falling; 0: in either direction. A holder that would arrive in the other direction is dragged
     * overtravel_um past its target and back. Both parts belong to the swept path and to the time. */
    int8_t approach;
    int32_t overtravel_um;
};

struct kr_geometry {
    uint16_t n_rails;
    /* True: the rails move together. False: they move one after the other, and the changeover's time is the sum. */
    bool rails_together;
    struct kr_rail_geometry rail[KR_RAILS_MAX];
    uint16_t n_sizes;                      /* number of holder sizes, 1 to KR_SIZES_MAX */
    int32_t size_spacing_um[KR_SIZES_MAX]; /* least centre-to-centre distance of two holders of each size */
    int32_t web_centre_um;                 /* the web's centre line with shift 0 */
    int64_t web_max_nm;                    /* the widest web; at most 100 m */
    int64_t trim_min_nm, trim_max_nm;
    /* Limits in both directions; compensation at most 100,000 ppm. */
    int32_t shift_max_um, compensation_max_ppm;
    /* The station's own tolerance, and the largest that an order may ask for. */
    int32_t tolerance_um, tolerance_max_um;
    enum kr_idle_policy idle_policy;
    int32_t idle_clearance_um;
};

struct kr_holder {
    int32_t position_um;    /* scanned centre; not used if the holder is absent */
    int32_t edge_offset_um; /* from the centre to the cutting edge, signed */
    uint8_t holder_size;    /* 1 to n_sizes */
    uint8_t state;          /* enum kr_holder_state */
};

/* Returns the time of one travel of a rail's carriage, alone or with a holder, from rest to rest. The distance may have
 * either sign. */
int64_t kr_way_time_us(const struct kr_rail_geometry *rail, int64_t distance_um, struct kr_speed speed);

/* Returns the least centre-to-centre spacing of two neighbours: the mean of the spacings of their sizes, a half rounded
 * up. */
int32_t kr_spacing_um(const struct kr_geometry *geometry, uint8_t size_a, uint8_t size_b);

/* ---- cut lines ---------------------------------------------------------------------------------------- */

struct kr_cuts {
    uint16_t n_cuts;
    /* Index of the edge at cut[0]: 0 if the operator edge is trimmed, otherwise 1. */
    uint16_t first_slit_edge;
    int32_t cut_um[KR_CUTS_MAX]; /* ascending */
    int32_t web_left_um, web_right_um;
    int64_t trim_nm[2]; /* operator side, drive side; 0 at an untrimmed edge */
};

/* Checks the order's own numbers against the station, and computes its cut lines from exact sums, each rounded once. If
 * it refuses, *cuts is untouched, and the result names one rule that the order breaks:
 *   SLIT_COUNT         there are 1 to KR_SLITS_MAX slits
 *   SLIT_WIDTH         each slit is wider than 0 and no wider than the widest web; the first wrong one is named
 *   SUM_MISMATCH       sum_nm, if given, is the sum of the widths
 *   WEB_WIDTH, SHIFT, COMPENSATION, TOLERANCE, ALIGNMENT, EDGE_FLAGS   are in their ranges
 *   WEB_TOO_NARROW     the compensated widths together are no wider than the web ...
 *   UNTRIMMED_SUM      ... and, if both edges are untrimmed, as wide, within one count of the coarser unit (0.0001 in)
 *   TRIM_TOO_SMALL, TRIM_TOO_LARGE   at an edge that is trimmed, the trim is trim_min_nm to trim_max_nm
 *
 * A number that is computed from a number out of its range is not checked. The result has lengths in whole micrometres:
 * a value beyond its limit is rounded outwards and the limit inwards, so that they always differ. The two numbers of
 * SUM_MISMATCH and UNTRIMMED_SUM are rounded down. */
struct kr_result kr_cuts_make(const struct kr_geometry *geometry, const struct kr_order *order, struct kr_cuts *cuts);

/* ---- the plan ----------------------------------------------------------------------------------------- */

/* Where the carriage and the holders of a rail stand. holder[] is in rail order. */
struct kr_rail_now {
    int32_t carriage_um;
    struct kr_holder holder[KR_HOLDERS_MAX];
};

struct kr_plan_request {
    struct kr_geometry geometry;
    /* True: there is no order, and every holder is to rest outside order's web (only width and shift are used). */
    bool park;
    /* True: next is the order that follows, and the plan prepares for it where that costs no time. */
    bool next_known;
    int32_t deadband_um;   /* a holder this near to its target stays */
    uint32_t budget_steps; /* limit of the search's work; 0: the default limit */
    struct kr_order order, next;
    struct kr_rail_now rail[KR_RAILS_MAX];
};

/* Why a holder moves or stays, for people. */
enum kr_reason {
    KR_WHY_NOT,   /* it stays: it is at its target, or rests where it may */
    KR_WHY_CUT,   /* it moves to its cut line */
    KR_WHY_ROOM,  /* it is idle or within its deadband, and in a neighbour's way */
    KR_WHY_CLEAR, /* it is idle, and has to leave the web */
    KR_WHY_NEXT,  /* it is idle, and moves for the next order */
};

struct kr_plan_holder {
    uint16_t cut;   /* number of its cut line; 0: idle */
    uint8_t moved;  /* 0, 1 */
    uint8_t reason; /* enum kr_reason */
    /* Target of the centre. For a holder that does not move it is the cut's exact place if it cuts, from which its
     * position differs by no more than the deadband; otherwise it is its position. */
    int32_t target_um;
};

struct kr_move {
    uint16_t holder;
    uint16_t after[2]; /* neighbours that have to move first; 0: none */
    int32_t from_um, to_um;
    int64_t start_us, end_us; /* times on this rail: start of the empty travel, end of the undocking */
};

struct kr_plan_rail {
    uint16_t n_moves;
    struct kr_plan_holder holder[KR_HOLDERS_MAX];
    struct kr_move move[KR_HOLDERS_MAX]; /* in the sequence in which they are made */
    int64_t time_us;                     /* time of all moves, empty travel included; 0 if nothing moves */
    int64_t sequence_bound_us;           /* no sequence of these moves is faster */
    /* No choice of holders, places and sequence is faster. 0: no bound is claimed, for instance if dragging is faster
     * than travelling empty. */
    int64_t bound_us;
};

struct kr_plan {
    struct kr_cuts cuts; /* n_cuts is 0 for a park */
    struct kr_plan_rail rail[KR_RAILS_MAX];
    int64_t time_us, bound_us; /* those of the slower rail, or the sums if rails move one after the other */
    uint32_t steps;            /* work done, out of budget_steps */
};

/* Returns the size of the workspace. The caller provides this memory for one call at a time. It needs no
 * initialisation, and is aligned as malloc() aligns it. */
size_t kr_plan_workspace_size(void);

/* Checks the request, then writes *plan. If it refuses, *plan is untouched, and the result names rail, item, value and
 * limit. */
struct kr_result kr_plan_make(const struct kr_plan_request *request, void *workspace, struct kr_plan *plan);

/* ---- explanations, for people --------------------------------------------------------------------------- */

/* Writes the smallest change that would help a request which was refused with this result, as one sentence without its
 * full stop: "make slit 7 at least 0.500 mm wider". The text is empty if there is nothing to advise. Returns the length
 * that the text needs, as snprintf() does. The text always ends with a 0. */
int kr_plan_advice(const struct kr_plan_request *request, const struct kr_result *refusal, enum kr_length_unit unit,
                   char *text, size_t size);

/* Writes why this holder of this rail moves or stays, and what its move waits for. Returns the length as
 * kr_plan_advice() does. */
int kr_plan_why(const struct kr_plan_request *request, const struct kr_plan *plan, uint16_t rail,
                uint16_t holder_number, enum kr_length_unit unit, char *text, size_t size);

#endif
