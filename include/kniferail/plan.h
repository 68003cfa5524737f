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

/* Widths are counted from the operator side. An untrimmed edge fixes the slits to that edge, whatever the alignment. If
 * both edges are untrimmed, the slits must take the whole web. */
struct kr_order {
    uint32_t order_number; /* the customer's, only echoed; 0 is none */
    uint16_t n_slits;
    uint16_t edge_flags;      /* KR_UNTRIMMED_... */
    uint16_t alignment;       /* enum kr_alignment, as it came off the wire */
    int32_t compensation_ppm; /* every width is cut (1 + ppm/1e6) times as wide */
    int32_t tolerance_um;     /* of one holder's placement; 0: the station's own */
    int64_t web_width_nm;
    int64_t trim_nm;  /* operator side; counts with KR_FROM_OPERATOR_EDGE only */
    int64_t shift_nm; /* of the web and with it of all cuts, towards the drive side if positive */
    int64_t sum_nm;   /* of the widths, a check; 0: none given */
    int64_t width_nm[KR_SLITS_MAX];
};

/* ---- the station, as far as arithmetic needs it --------------------------------------------------------- */

enum kr_idle_policy {
    KR_IDLE_ANYWHERE,    /* anywhere that spacing permits */
    KR_IDLE_OUTSIDE_WEB, /* the holder's centre at least idle_clearance_um outside the web's edges */
};

struct kr_rail_geometry {
    enum kr_role role;
    uint16_t n_holders;
    int32_t min_um, max_um;      /* limits of every holder's centre */
    int32_t cut_side_um;         /* added to every cut line: the upper rail's signed side clearance */
    struct kr_speed empty, drag; /* carriage alone; with a holder: no quicker, or the bounds are none */
    int32_t dock_us, undock_us;  /* pin in and brake open; brake closed and pin out */
    /* What each way of the carriage takes besides its trapezoidal profile: the set-point handed over to the drive, and
     * a constant for what rounds the profile off, which with a limited jerk j is a/j, and for the drive's settling. */
    int32_t setpoint_us, rounding_us;
    /* The final approach, which takes up backlash: with +1 every holder arrives growing (from the operator side), with
     * -1 falling, with 0 either way. A holder that would arrive the other way is dragged overtravel_um past its target
     * and back. Both parts belong to the swept path and to the time. */
    int8_t approach;
    int32_t overtravel_um;
};

struct kr_geometry {
    uint16_t n_rails;
    bool rails_together; /* else one after the other: the changeover's time is the sum */
    struct kr_rail_geometry rail[KR_RAILS_MAX];
    uint16_t n_sizes;                      /* of holders, 1 to KR_SIZES_MAX */
    int32_t size_spacing_um[KR_SIZES_MAX]; /* nearest centre-to-centre of two holders of each size */
    int32_t web_centre_um;                 /* the web's centre line with shift 0 */
    int64_t web_max_nm;                    /* widest web; 100 m at most count */
    int64_t trim_min_nm, trim_max_nm;
    int32_t shift_max_um, compensation_max_ppm; /* either way; 100,000 ppm at most count */
    int32_t tolerance_um, tolerance_max_um;     /* the station's own; the widest that an order may ask for */
    enum kr_idle_policy idle_policy;
    int32_t idle_clearance_um;
};

struct kr_holder {
    int32_t position_um;    /* scanned centre; not read if absent */
    int32_t edge_offset_um; /* from the centre to the cutting edge, signed */
    uint8_t holder_size;    /* 1 to n_sizes */
    uint8_t state;          /* enum kr_holder_state */
};

/* One way of a rail's carriage, alone or with a holder, from rest to rest; the distance either way. */
int64_t kr_way_time_us(const struct kr_rail_geometry *rail, int64_t distance_um, struct kr_speed speed);

/* Returns the least centre-to-centre spacing of two neighbours: the mean of the spacings of their sizes, a half rounded
 * up. */
int32_t kr_spacing_um(const struct kr_geometry *geometry, uint8_t size_a, uint8_t size_b);

/* ---- cut lines ---------------------------------------------------------------------------------------- */

struct kr_cuts {
    uint16_t n_cuts;
    uint16_t first_slit_edge;    /* index of the edge at cut[0]: 0 if the operator edge is trimmed, else 1 */
    int32_t cut_um[KR_CUTS_MAX]; /* ascending */
    int32_t web_left_um, web_right_um;
    int64_t trim_nm[2]; /* operator side, drive side; 0 at an untrimmed edge */
};

/* Judges the order's own numbers against the station, and computes its cut lines from exact sums, each rounded once. If
 * it refuses, *cuts is untouched, and the result names one rule that the order breaks:
 *   SLIT_COUNT         there are 1 to KR_SLITS_MAX slits
 *   SLIT_WIDTH         each slit is wider than 0 and no wider than the widest web; the first that is not is named
 *   SUM_MISMATCH       sum_nm, if given, is the sum of the widths
 *   WEB_WIDTH, SHIFT, COMPENSATION, TOLERANCE, ALIGNMENT, EDGE_FLAGS   are in their ranges
 *   WEB_TOO_NARROW     the compensated widths together are no wider than the web ...
 *   UNTRIMMED_SUM      ... and, if both edges are untrimmed, as wide, within one count of the coarser unit (0.0001 in)
 *   TRIM_TOO_SMALL, TRIM_TOO_LARGE   at an edge that is trimmed, the trim is trim_min_nm to trim_max_nm
 *
 * Nothing is judged that follows from a figure which is itself out of its range. The result has lengths in whole
 * micrometres: a value beyond its limit is rounded outwards and the limit inwards, so that they always differ. The two
 * figures of SUM_MISMATCH and UNTRIMMED_SUM are rounded down. */
struct kr_result kr_cuts_make(const struct kr_geometry *geometry, const struct kr_order *order,
                              struct kr_cuts *cuts);

/* ---- the plan ----------------------------------------------------------------------------------------- */

/* Where the carriage and the holders of a rail stand. holder[] is in rail order. */
struct kr_rail_now {
    int32_t carriage_um;
    struct kr_holder holder[KR_HOLDERS_MAX];
};

struct kr_plan_request {
    struct kr_geometry geometry;
    bool park; /* there is no order: every holder is to rest outside order's web (width and shift are read) */
    bool next_known;       /* next is the order that follows: what costs no time may be done for it */
    int32_t deadband_um;   /* a holder that is no further than this from its target stays */
    uint32_t budget_steps; /* limit of the search's work; 0: the default */
    struct kr_order order, next;
    struct kr_rail_now rail[KR_RAILS_MAX];
};

/* Why a move comes when it does, and why an idle holder moves or stays. For people. */
enum kr_reason {
    KR_WHY_NOT,   /* it does not move: it is at its target, or rests where it may */
    KR_WHY_CUT,   /* to its cut line */
    KR_WHY_ROOM,  /* idle, or within its deadband, and in a neighbour's way */
    KR_WHY_CLEAR, /* idle, and has to leave the web */
    KR_WHY_NEXT,  /* idle, for the next order's sake */
};

struct kr_plan_holder {
    uint16_t cut;      /* 0: idle */
    uint8_t moved;     /* 0, 1 */
    uint8_t reason;    /* enum kr_reason */
    int32_t target_um; /* of the centre. Not moved: the ideal place if it cuts (the position is within the
                        * deadband of it), else the position itself */
};

struct kr_move {
    uint16_t holder;
    uint16_t after[2]; /* holders that had to move first (neighbours); 0: none */
    int32_t from_um, to_um;
    int64_t start_us, end_us; /* on this rail; from the start of the empty travel to the pin out */
};

struct kr_plan_rail {
    uint16_t n_moves;
    struct kr_plan_holder holder[KR_HOLDERS_MAX];
    struct kr_move move[KR_HOLDERS_MAX]; /* in the sequence in which they are to be made */
    int64_t time_us;                     /* of all moves, empty travel included; 0 if nothing moves */
    int64_t sequence_bound_us;           /* no sequence of these moves is faster */
    int64_t bound_us; /* no choice of holders, places and sequence is faster; 0: none is claimed,
                                          * as where dragging is quicker than travelling empty */
};

struct kr_plan {
    struct kr_cuts cuts; /* n_cuts 0 for a park */
    struct kr_plan_rail rail[KR_RAILS_MAX];
    int64_t time_us, bound_us; /* the slower rail's, or the sum where rails move one after the other */
    uint32_t steps;            /* work done, of budget_steps */
};

/* The size of the workspace, memory of the caller's for one call at a time. It needs no initialisation, and is aligned
 * as malloc's. */
size_t kr_plan_workspace_size(void);

/* Judges the request, then writes *plan. If it refuses, *plan is untouched, and the result names rail, item, value and
 * limit. */
struct kr_result kr_plan_make(const struct kr_plan_request *request, void *workspace, struct kr_plan *plan);

/* ---- explanations, for people --------------------------------------------------------------------------- */

/* Writes the nearest change that would help a request which was refused with this result, as one sentence without its
 * full stop: "make slit 7 at least 0.500 mm wider". The text is empty if there is nothing to advise. Returns the length
 * that the text needs, as snprintf does; the text always ends with a 0. */
int kr_plan_advice(const struct kr_plan_request *request, const struct kr_result *refusal,
                   enum kr_length_unit unit, char *text, size_t size);

/* Writes why this holder of this rail moves, or why it stays, and what its move waits for. Returns the same. */
int kr_plan_why(const struct kr_plan_request *request, const struct kr_plan *plan, uint16_t rail,
                uint16_t holder_number, enum kr_length_unit unit, char *text, size_t size);

#endif
