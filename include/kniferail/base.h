/* base: capacities, units of length, the time of a move, and result codes, which every part shares. Pure: no I/O,
 * no clock, no allocation, no state. Base depends on no other part; every other part depends on base.
 *
 * A name ends in its unit: _nm nanometres (int64_t: order widths, trims, sums), _um micrometres (int32_t:
 * positions and cut lines), _ms milliseconds, _us microseconds. Decisions are made with integers. A duration is
 * rounded once, to the nearest microsecond. */
#ifndef KNIFERAIL_BASE_H
#define KNIFERAIL_BASE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Capacities. They are part of the register map: its arrays always have these lengths. */
#define KR_STATIONS_MAX  32 /* stations behind one gateway, and in one book */
#define KR_RAILS_MAX     4
#define KR_HOLDERS_MAX   128 /* holders on one rail */
#define KR_SLITS_MAX     128
#define KR_CUTS_MAX      129 /* n slits, both edges trimmed: n + 1 cut lines */
#define KR_NAME_MAX      32  /* a station's name, with its closing 0 */
#define KR_SIZES_MAX     8   /* sizes of a station's holders */
#define KR_SIZE_NAME_MAX 17  /* a size's name, with its closing 0 */

/* ---- rails -------------------------------------------------------------------------------------------- */

/* The role of a rail. A shear machine has an upper rail and a lower rail. Machines for razor cut and for score
 * (crush) cut have an upper rail only. Every rail of a station puts one knife at every cut line. */
#define KR_ROLES(X) \
    X(UPPER, 0, "upper", "the knives come from above") \
    X(LOWER, 1, "lower", "the knives come from below; on a shear they are the counter-knives")
enum kr_role {
#define X(name, number, word, text) KR_##name = number,
    KR_ROLES(X)
#undef X
};

/* Whether a holder may be used. The numbers are part of the register map. */
#define KR_HOLDER_STATES(X) /* setting: its word in files and on the command line; word: what people read */ \
    X(IN, 0, "in", "in service", "the holder may cut") \
    X(OUT, 1, "out", "out of service", "the holder never cuts, but it takes room and may be moved") \
    X(FIXED, 2, "fixed", "fixed", \
      "the holder is seized: it is an obstacle where it stands, and neither cuts nor moves") \
    X(ABSENT, 3, "absent", "absent", "the holder is off the rail: it takes no room, and scans expect no flag of it")
enum kr_holder_state {
#define X(name, number, setting, word, text) KR_HOLDER_##name = number,
    KR_HOLDER_STATES(X)
#undef X
};

/* How a holder's position is known. The numbers are part of the register map. */
#define KR_KNOWNS(X) \
    X(UNKNOWN, 0, "unknown", "nothing is known of the holder's place") \
    X(REMEMBERED, 1, "remembered", \
      "the place is from before: hands may have moved the holder since, or the scan that saw it ended with " \
      "an alarm") \
    X(PLACED, 2, "placed", "the carriage released the holder there, and no scan has seen it yet") \
    X(MEASURED, 3, "measured", "a scan has seen the holder there since it last moved")
enum kr_known {
#define X(name, number, word, text) KR_##name = number,
    KR_KNOWNS(X)
#undef X
};

/* How a holder's cutting edge is proven to be where its offset says. A scan sees the holder's flag and never its blade.
 * The numbers are part of the register map and of the book. */
#define KR_EDGES(X) \
    X(UNPROVEN, 0, "unproven", "nobody has confirmed the edge since its offset, its knife or its holder changed") \
    X(BENCH, 1, "bench", "a person has measured the edge at the bench, and confirmed it") \
    X(FEELER, 2, "feeler", "a person has measured the edge in place with a feeler gauge, and confirmed it") \
    X(TEST_CUT, 3, "test cut", "every strip beside the edge's cut was within tolerance in a test cut") \
    X(STRUCK, 4, "struck", "the PLC has reported a crash since: a person has to inspect the knife")
enum kr_edge {
#define X(name, number, word, text) KR_EDGE_##name = number,
    KR_EDGES(X)
#undef X
};

/* How the time of a changeover is spent. Each cycle is counted once: if several rows apply to it, the first one
 * counts. The words are part of the book. */
#define KR_SPENT(X) /* name, word: in files, text: what people read */ \
    X(HELD, held, "the unit was held, suspended, stopped or aborted, or on its way there or back") \
    X(CORRECTING, correcting, "everything that follows a scan that found a knife off its place: plan, moves, scan") \
    X(SCANNING, scanning, "scans for holders, before and after the moves") \
    X(DRAGGING, dragging, "a carriage drags a holder") \
    X(DOCKING, docking, "pins and brakes, and standing at the target") \
    X(TRAVELLING, travelling, "carriages travel without a holder") \
    X(WAITING, waiting, "waiting for a plan, a drive, a clamp or the book")
enum kr_spent {
#define X(name, word, text) KR_SPENT_##name,
    KR_SPENT(X)
#undef X
        KR_N_SPENT
};

/* ---- length ------------------------------------------------------------------------------------------- */

#define KR_NM_PER_UM   1000
#define KR_NM_PER_INCH 25400000 /* exactly: the international inch of 1959 */

/* The unit of the station's 32-bit length registers. */
#define KR_LENGTH_UNITS(X) /* word: in files, and what people read */ \
    X(MM, 0, "mm", "lengths are counts of 0.001 mm") \
    X(INCH, 1, "in", "lengths are counts of 0.0001 in, which is 2540 nm")
enum kr_length_unit {
#define X(name, number, word, text) KR_LENGTH_##name = number,
    KR_LENGTH_UNITS(X)
#undef X
};

/* Nanometres in one count of a length register: 1000 or 2540. */
int32_t kr_length_unit_nm(enum kr_length_unit unit);

/* Rounds to the nearest micrometre, halves up, so that a common shift of all values shifts all results alike. */
int32_t kr_um_from_nm(int64_t nm);

/* From a register's count to nanometres, and from micrometres or nanometres to a count: the nearest count, halves up.
 * A count beyond the range of int32_t is replaced by the end of that range. */
int64_t kr_nm_from_count(int32_t count, enum kr_length_unit unit);
int32_t kr_count_from_um(int32_t um, enum kr_length_unit unit);
int32_t kr_count_from_nm(int64_t nm, enum kr_length_unit unit);

/* ---- time of a move ----------------------------------------------------------------------------------- */

struct kr_speed {
    int32_t v_um_per_s;  /* maximum speed, > 0 */
    int32_t a_um_per_s2; /* acceleration and deceleration, > 0 */
};

/* Whole milliseconds, rounded. A time that 32 bits can't hold is replaced by the end of their range. */
int32_t kr_ms_from_us(int64_t us);

/* Time of one move from rest to rest over a distance >= 0, in microseconds, rounded to nearest. It is d/v + v/a if
 * d >= v*v/a, because the maximum speed is reached then, and 2*sqrt(d/a) otherwise: the trapezoidal profile of any
 * motion textbook. */
int64_t kr_move_time_us(int64_t distance_um, struct kr_speed speed);

/* ---- results ------------------------------------------------------------------------------------------ */

/* The kind of object whose number is in a result's item. The number 0 means no single object. */
#define KR_ITEM_KINDS(X) /* name, word */ \
    X(NONE, "none") \
    X(SLIT, "slit") \
    X(CUT, "cut") \
    X(HOLDER, "holder") \
    X(EDGE, "edge") \
    X(RAIL, "rail") \
    X(PARAMETER, "parameter") \
    X(REFERENCE, "reference")
enum kr_item_kind {
#define X(name, word) KR_ITEM_##name,
    KR_ITEM_KINDS(X)
#undef X
};

/* The kind of a result's value and limit. Lengths are in micrometres in the code, and in the station's unit in the
 * map. */
#define KR_VALUE_KINDS(X) /* name, word */ \
    X(NONE, "none") \
    X(LENGTH, "length") \
    X(COUNT, "count") \
    X(PPM, "ppm") \
    X(MASK, "mask") \
    X(CODE, "code")
enum kr_value_kind {
#define X(name, word) KR_VALUE_##name,
    KR_VALUE_KINDS(X)
#undef X
};

/* Every answer to a request or a command. The numbers are part of the register map: a number is never used again.
 *  name, number, item, value,
 *    text: a sentence without capital and full stop; %i stands for the item, %v for the value, %l for the limit */
#define KR_CODES(X) \
    X(OK, 0, NONE, NONE, "accepted") \
    /* the handshake */ \
    X(STALE_SESSION, 1, NONE, CODE, "session %v is not the gateway's session, which is %l now") \
    X(NUMBER_REUSED, 2, NONE, CODE, "number %v was already used for a request with another content") \
    X(UNKNOWN_KIND, 3, NONE, CODE, "request kind %v is unknown; the kinds are 1 to %l") \
    X(NOTHING_STAGED, 4, NONE, NONE, "no order is staged") \
    X(NOT_STORED, 5, NONE, CODE, "the book could not store the change, so nothing was changed") \
    X(BUSY, 6, NONE, NONE, "another request is being judged or stored") \
    X(NO_PLAN_IN_TIME, 7, NONE, COUNT, "there is no plan after %v ms; the gateway waits for at most %l ms") \
    /* commands */ \
    X(UNKNOWN_COMMAND, 10, NONE, CODE, "command %v is unknown") \
    X(UNKNOWN_JOB, 11, NONE, CODE, "job %v is unknown; the jobs are 1 to %l") \
    X(NOT_IN_THIS_STATE, 12, NONE, CODE, "the command is not possible in unit state %v") \
    X(PERMISSIVE_MISSING, 13, NONE, MASK, "permissives are missing: mask %v; mask %l is needed") \
    X(NO_ORDER, 14, NONE, NONE, "there is no order to set up") \
    X(ALARM_STANDS, 15, RAIL, CODE, "alarm %v still stands") \
    X(POSITION_UNKNOWN, 16, HOLDER, NONE, "the position of holder %i is not known") \
    X(RELEASE_NEEDED, 17, RAIL, NONE, "the pin is not proven out; a guided release is needed first") \
    X(NOT_HOMED, 18, RAIL, NONE, "the carriage has no datum; it has to be homed first") \
    X(UNKNOWN_RAIL, 19, NONE, CODE, "there is no rail %v; the last rail is %l") \
    /* orders: what was written */ \
    X(SLIT_COUNT, 20, NONE, COUNT, "the order has %v slits; 1 to %l are possible") \
    X(SLIT_WIDTH, 21, SLIT, LENGTH, "slit %i is %v wide; more than 0 and at most %l is possible") \
    X(SUM_MISMATCH, 22, NONE, LENGTH, "the widths add up to %v, but the order gives their sum as %l") \
    X(WEB_WIDTH, 23, NONE, LENGTH, "web width %v is not possible; it must be more than 0 and at most %l") \
    X(WEB_TOO_NARROW, 24, NONE, LENGTH, "the slits take %v, but the web is %l wide") \
    X(TRIM_TOO_SMALL, 25, EDGE, LENGTH, "the trim at edge %i is %v; at least %l is needed") \
    X(TRIM_TOO_LARGE, 26, EDGE, LENGTH, "the trim at edge %i is %v; at most %l is possible") \
    X(ALIGNMENT, 27, NONE, CODE, "alignment %v is unknown; 0 to %l are possible") \
    X(COMPENSATION, 28, NONE, PPM, "compensation %v ppm is out of range; the limit is %l ppm") \
    X(SHIFT, 29, NONE, LENGTH, "shift %v is out of range; the limit is %l") \
    X(TOLERANCE, 30, NONE, LENGTH, "tolerance %v is out of range; the limit is %l") \
    X(EDGE_FLAGS, 31, NONE, CODE, "edge flags %v are unknown; 0 to %l are possible") \
    X(UNTRIMMED_SUM, 32, NONE, LENGTH, "without trims the slits must take the whole web; they take %v of %l") \
    X(ORDER_NUMBER, 33, NONE, CODE, "order number %v is not possible; it must be 1 or more") \
    X(QUEUE_FULL, 34, NONE, COUNT, "%v orders already wait behind the staged one; at most %l can wait") \
    X(RECIPE_NUMBER, 35, NONE, CODE, "recipe %v is not possible; the recipes are 1 to %l") \
    X(RECIPE_EMPTY, 36, NONE, CODE, "recipe %v is empty") \
    /* orders: what the machine can't do */ \
    X(SLIT_TOO_NARROW, 40, SLIT, LENGTH, "slit %i puts its holders %v apart; at least %l is needed") \
    X(TOO_FEW_HOLDERS, 41, NONE, COUNT, "%v holders are in service; %l are needed") \
    X(CUT_OFF_RAIL, 42, CUT, LENGTH, "cut %i needs a holder at %v; the rail's limit is %l") \
    X(NO_ROOM_FOR_IDLE, 43, HOLDER, LENGTH, \
      "idle holder %i has nowhere to rest: it could only stand at %v, but the limit is %l") \
    X(FIXED_IN_THE_WAY, 44, HOLDER, LENGTH, "holder %i is fixed and leaves %v where %l is needed") \
    X(SPACING, 45, HOLDER, LENGTH, "holder %i would be %v from its neighbour; at least %l is needed") \
    X(HOLDERS_DISORDERED, 46, HOLDER, LENGTH, \
      "holder %i stands at %v, on the operator side of the holder before it, which stands at %l") \
    /* maintenance */ \
    X(UNKNOWN_HOLDER, 60, NONE, CODE, "there is no holder %v; the holders are 1 to %l") \
    X(NOT_ON_RAIL, 61, HOLDER, NONE, "holder %i is not on the rail") \
    X(ON_RAIL_ALREADY, 62, HOLDER, NONE, "holder %i is on the rail already") \
    X(SEIZED, 63, HOLDER, NONE, "holder %i is fixed where it stands") \
    X(HOLDER_SIZE, 64, HOLDER, CODE, "size %v of holder %i is unknown; the sizes are 1 to %l") \
    X(EDGE_OFFSET, 65, HOLDER, LENGTH, "edge offset %v of holder %i is not possible; the limit is %l") \
    X(HOLDER_OFF_RAIL, 66, HOLDER, LENGTH, "holder %i would be at %v; the rail's limit is %l") \
    X(HOLDER_DOCKED, 67, HOLDER, NONE, "the pin may be in holder %i; a guided release is needed first") \
    /* jobs */ \
    X(RAIL_NEEDED, 70, NONE, CODE, "the job needs one rail, 1 to %l; %v is not possible") \
    X(JOG_NOT_ENABLED, 71, RAIL, NONE, "the hold-to-run device is not pressed") \
    X(UNKNOWN_SPEED, 72, NONE, CODE, "speed %v is not possible; 0 to %l are") \
    /* test cuts */ \
    X(STRIP_COUNT, 73, NONE, COUNT, "%v strip widths are given, but the order that was set up has %l slits") \
    X(STRIP_WIDTH, 74, SLIT, LENGTH, "strip %i is entered as %v wide, but it was ordered %l wide") \
    X(NO_STRIP, 75, NONE, NONE, "no strip between two knives was measured") \
    X(STRIPS_FULL, 76, NONE, COUNT, "strips between %v pairs of knives are kept; there is room for %l") \
    X(NOT_PLACED, 77, NONE, NONE, \
      "no placement of this order was verified since the gateway started, or a knife was changed after " \
      "that") \
    X(NOTHING_PROPOSED, 78, NONE, NONE, "no edge offsets are proposed") \
    /* commands, again */ \
    X(LINE_RUNS, 85, NONE, COUNT, \
      "the permissive 'line stopped' is given while LINE_SPEED reads %v; a line that stands shows at most " \
      "%l (both in 0.1 m/min)") \
    X(NO_DATUM_TO_CONFIRM, 86, RAIL, NONE, \
      "there is no homing without movement that could be confirmed; the rail has to be homed first") \
    X(DATUM_DIFFERS, 87, RAIL, LENGTH, "the drive reports %v; the measured place may differ from that by at most %l") \
    X(UNKNOWN_OUTPUT, 88, RAIL, MASK, "output mask %v is not possible; it must be exactly one bit of mask %l") \
    X(OTHER_ORDER, 110, NONE, CODE, "order %v is neither staged nor in force for this job; order %l is") \
    /* halts */ \
    X(HALTED, 105, NONE, NONE, "a client wrote HALT while the command waited, so the command was not carried out") \
    /* maintenance, again */ \
    X(KNIFE_NAME, 151, NONE, NONE, \
      "the knife's name or kind is not possible: it must have printable characters only, and no blank at " \
      "its ends") \
    X(KNIFE_UNKNOWN, 152, NONE, NONE, "the ledger has no knife of this name") \
    X(KNIFE_KNOWN, 153, NONE, NONE, "the ledger has a knife of this name already") \
    X(KNIFE_THERE, 154, HOLDER, NONE, "holder %i carries a knife of the ledger, which has to be dismounted first") \
    X(NO_KNIFE, 155, HOLDER, NONE, "holder %i has no knife of the ledger") \
    X(KNIFE_ELSEWHERE, 156, NONE, CODE, \
      "the knife is not where the request needs it; it is in place %v (list EDIT_KNIFE_TO)") \
    X(KNIFE_EDGE, 157, NONE, NONE, \
      "no edge position is given, and the ledger has none for this knife since its last grind") \
    X(KNIFE_FIGURE, 158, NONE, CODE, "a figure of the knife is %v; 0 to %l are possible (lengths in micrometres)") \
    X(NO_SHIFT_TO_CONFIRM, 115, RAIL, NONE, \
      "the rail's holders were not found off by the same amount, so there is no shift to confirm") \
    X(SHIFT_DIFFERS, 116, RAIL, LENGTH, "the holders were found off by %v, and only that can be confirmed, not %l") \
    X(NO_REFERENCE_PAIR, 117, RAIL, NONE, \
      "at its drive side the rail has no two references that are closer together than two holders can be") \
    X(OFFSET_STEP, 122, HOLDER, LENGTH, \
      "the edge offset of holder %i would change from %l to %v in one step; repeat the request if that is " \
      "intended") \
    X(NOT_CUTTING, 123, HOLDER, NONE, "holder %i does not cut in the order in force") \
    X(LOOK_FIRST, 124, HOLDER, NONE, \
      "holder %i was in a crash; its knife has to be inspected first, then confirmed by the holder's own " \
      "number, or changed") \
    X(CRASH_STANDS, 125, NONE, MASK, \
      "the PLC still reports a crash (mask %v); no knife can be confirmed before the PLC withdraws it") \
    X(FRAME_OFFSET, 160, RAIL, LENGTH, "a frame offset of %v is not possible; the limit is %l") \
    X(FRAME_SCALE, 161, RAIL, COUNT, "a frame scale of %v parts of 1,000,000,000 is not possible; the limit is %l") \
    X(FRAME_POINTS, 162, RAIL, COUNT, "a table of %v points is not possible; at most %l points are") \
    X(FRAME_POINT, 163, RAIL, COUNT, \
      "point %v of the table is not possible: positions must grow, and an error may be at most 10 mm and " \
      "may change from point to point by at most a tenth of the distance between them") \
    X(FRAME_TRAVEL, 164, RAIL, LENGTH, \
      "with that frame or switch offset the carriage would have to go to its drive's position %v, but its " \
      "travel ends at %l") \
    X(NO_FRAME_BEFORE, 165, RAIL, NONE, \
      "no maintenance request has set this rail's frame, so there is nothing to take back") \
    X(SWITCH_OFFSET, 166, RAIL, LENGTH, "a switch offset of %v is not possible; the limit is %l") \
    X(SCAN_BIAS, 167, RAIL, LENGTH, "a scan bias of %v is not possible; the limit is %l") \
    X(NO_SWITCH_BEFORE, 168, RAIL, NONE, \
      "no maintenance request has set this rail's switch offset and scan bias, so there is nothing to take " \
      "back") \
    X(NO_ROOM_TO_DRAG, 169, HOLDER, LENGTH, \
      "holder %i has too little room for a drag to either side: it has %v and needs %l") \
    X(DOCK_TIME, 170, RAIL, COUNT, "a time of %v us for docking is not possible; the limit is %l us") \
    X(UNDOCK_TIME, 171, RAIL, COUNT, "a time of %v us for undocking is not possible; the limit is %l us") \
    X(SETPOINT_TIME, 172, RAIL, COUNT, "a time of %v us for a set-point is not possible; the limit is %l us") \
    X(ROUNDING_TIME, 173, RAIL, COUNT, \
      "a time of %v us for the rounding of a travel is not possible; the limit is %l us") \
    X(NO_TIMES_BEFORE, 174, RAIL, NONE, \
      "no maintenance request has set this rail's planned times, so there is nothing to take back") \
    X(PRODUCTION_SPEED, 185, RAIL, NONE, \
      "this job measures the scan bias at the speed of production scans, so it can't run at reduced speed")

enum kr_code {
#define X(name, number, item, value, text) KR_##name = number,
    KR_CODES(X)
#undef X
};

/* Plain data, which functions return by value. */
struct kr_result {
    enum kr_code code;
    uint16_t rail;
    uint16_t item;
    int32_t value, limit;
};

/* One row of KR_CODES, or NULL if no result has this number. The row exists as long as the program runs. */
struct kr_code_info {
    enum kr_code code;
    const char *name; /* as in KR_CODES */
    enum kr_item_kind item;
    enum kr_value_kind value;
    const char *text;
};
const struct kr_code_info *kr_code_info(int number);
/* The rows in the sequence of their numbers; NULL behind the last. */
const struct kr_code_info *kr_code_info_at(size_t index);

/* What to do about a refusal, in whole sentences; "" for KR_OK. The answer is never NULL. */
const char *kr_code_remedy(enum kr_code code);

/* Room for the sentence of any result or alarm with its figures, including the closing 0. */
#define KR_SENTENCE_MAX 256

/* Writes the result as one English sentence, always closed with a 0. Lengths are written in the given unit
 * ("25.400 mm", "1.0000 in"). Returns the length of the whole sentence without the 0, as snprintf does. */
int kr_result_text(const struct kr_result *result, enum kr_length_unit unit, char *text, size_t size);

/* Writes one length, "25.400 mm" or "1.0000 in". Returns what snprintf returns. */
int kr_length_text(int32_t um, enum kr_length_unit unit, char *text, size_t size);

#endif
