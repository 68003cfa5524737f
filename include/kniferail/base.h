/* base: what every part shares: capacities, units of length, time of a move, result codes. Pure: no I/O,
 * no clock, no allocation, no state. Stands on nothing; everything stands on it.
 *
 * Units are in the names: _nm nanometres (int64_t: order widths, trims, sums), _um micrometres (int32_t:
 * positions and cut lines), _ms and _us times. Decisions are made in integers; a duration is rounded once,
 * to the nearest microsecond. */
#ifndef KNIFERAIL_BASE_H
#define KNIFERAIL_BASE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Capacities. They are part of the register map (its arrays always have these lengths). */
#define KR_STATIONS_MAX  32 /* behind one gateway, and in one book */
#define KR_RAILS_MAX     4
#define KR_HOLDERS_MAX   128 /* on one rail */
#define KR_SLITS_MAX     128
#define KR_CUTS_MAX      129 /* n slits, both edges trimmed: n + 1 cut lines */
#define KR_NAME_MAX      32  /* a station's name, with its closing 0 */
#define KR_SIZES_MAX     8   /* of a station's holders */
#define KR_SIZE_NAME_MAX 17  /* a size's name, with its closing 0 */

/* ---- rails -------------------------------------------------------------------------------------------- */

/* The role of a rail. A shear machine has an upper and a lower (anvil) rail; razor and score (crush) cut machines have
 * an upper rail only. Every rail of a station puts one knife at every cut line. */
#define KR_ROLES(X) \
    X(UPPER, 0, "upper", "the knives come from above") \
    X(LOWER, 1, "lower", "the anvil rail of a shear machine")
enum kr_role {
#define X(name, number, word, text) KR_##name = number,
    KR_ROLES(X)
#undef X
};

/* Which holders may be used. The numbers are part of the register map. */
#define KR_HOLDER_STATES(X) /* setting: its word in files and on the command line; word: what people read */ \
    X(IN, 0, "in", "in service", "it may cut") \
    X(OUT, 1, "out", "out of service", "it never cuts, takes room, may be moved") \
    X(FIXED, 2, "fixed", "fixed", "seized: an obstacle where it stands; it neither cuts nor moves") \
    X(ABSENT, 3, "absent", "absent", "off the rail: it takes no room, no flag is expected")
enum kr_holder_state {
#define X(name, number, setting, word, text) KR_HOLDER_##name = number,
    KR_HOLDER_STATES(X)
#undef X
};

/* How a holder's position is known. The numbers are part of the register map. */
#define KR_KNOWNS(X) \
    X(UNKNOWN, 0, "unknown", "nothing is known of its place") \
    X(REMEMBERED, 1, "remembered", \
      "from before: hands may have moved it since; or a scan that ended with an alarm saw it there") \
    X(PLACED, 2, "placed", "released there by the carriage, not yet scanned") \
    X(MEASURED, 3, "measured", "seen by a scan since it last moved")
enum kr_known {
#define X(name, number, word, text) KR_##name = number,
    KR_KNOWNS(X)
#undef X
};

/* How a holder's cutting edge is proven to be where its offset says. A scan sees the holder's flag and never its blade.
 * The numbers are part of the register map and of the book. */
#define KR_EDGES(X) \
    X(UNPROVEN, 0, "unproven", "nobody has confirmed it since its offset, its knife or its holder changed") \
    X(BENCH, 1, "bench", "a person has measured it at the bench, and confirmed it") \
    X(FEELER, 2, "feeler", "a person has measured it in place, with a feeler gauge, and confirmed it") \
    X(TEST_CUT, 3, "test cut", "every strip beside its cut was within tolerance in a test cut") \
    X(STRUCK, 4, "struck", "the PLC has reported a crash since: somebody has to look at it")
enum kr_edge {
#define X(name, number, word, text) KR_EDGE_##name = number,
    KR_EDGES(X)
#undef X
};

/* On what the time of a changeover is spent. Each cycle of it is counted once: what stands first of what it does. The
 * words are part of the book. */
#define KR_SPENT(X) /* name, word: in files, text: what people read */ \
    X(HELD, held, "held, suspended, stopped or aborted, and on the way there and back") \
    X(CORRECTING, correcting, "all that follows a scan that found a knife off its place: plan, moves, scan") \
    X(SCANNING, scanning, "looking for holders, before and behind the moves") \
    X(DRAGGING, dragging, "a carriage drags a holder") \
    X(DOCKING, docking, "pins and brakes, and standing at the target") \
    X(TRAVELLING, travelling, "carriages go alone") \
    X(WAITING, waiting, "for a plan, a drive, a clamp or the book")
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

/* Rounds to the nearest micrometre, halves up (so that a shift of everything shifts every result alike). */
int32_t kr_um_from_nm(int64_t nm);

/* A register's count to and from micrometres, nearest, halves up; the second saturates at the int32_t range. */
int64_t kr_nm_from_count(int32_t count, enum kr_length_unit unit);
int32_t kr_count_from_um(int32_t um, enum kr_length_unit unit);
int32_t kr_count_from_nm(int64_t nm, enum kr_length_unit unit);

/* ---- time of a move ----------------------------------------------------------------------------------- */

struct kr_speed {
    int32_t v_um_per_s;  /* greatest speed, > 0 */
    int32_t a_um_per_s2; /* acceleration and deceleration, > 0 */
};

/* Whole milliseconds, rounded; what 32 bits can't hold stops at their end. */
int32_t kr_ms_from_us(int64_t us);

/* Time of one move from rest to rest over a distance >= 0, in microseconds, rounded to nearest: d/v + v/a
 * when d >= v*v/a (the speed is reached), else 2*sqrt(d/a). The trapezoidal profile of any motion textbook. */
int64_t kr_move_time_us(int64_t distance_um, struct kr_speed speed);

/* ---- results ------------------------------------------------------------------------------------------ */

/* What a result's item is the number of; 0 means the whole. */
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

/* What its value and limit are. Lengths are micrometres in the code and the station's unit in the map. */
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

/* Every answer to a request or a command. The numbers are part of the register map: never reused.
 *  name                  number  item    value    meaning; %i the item, %v the value, %l the limit */
#define KR_CODES(X) \
    X(OK, 0, NONE, NONE, "accepted") \
    /* the handshake */ \
    X(STALE_SESSION, 1, NONE, CODE, "session %v is not the gateway's; it is %l now") \
    X(NUMBER_REUSED, 2, NONE, CODE, "number %v was used before, for another content") \
    X(UNKNOWN_KIND, 3, NONE, CODE, "request kind %v is unknown; 1 to %l") \
    X(NOTHING_STAGED, 4, NONE, NONE, "no order is staged") \
    X(NOT_STORED, 5, NONE, CODE, "the book could not store it; nothing was changed") \
    X(BUSY, 6, NONE, NONE, "another request is being judged or stored") \
    X(NO_PLAN_IN_TIME, 7, NONE, COUNT, "no plan after %v ms; at most %l ms is waited for one") \
    /* commands */ \
    X(UNKNOWN_COMMAND, 10, NONE, CODE, "command %v is unknown") \
    X(UNKNOWN_JOB, 11, NONE, CODE, "job %v is unknown; 1 to %l") \
    X(NOT_IN_THIS_STATE, 12, NONE, CODE, "the command is not possible in unit state %v") \
    X(PERMISSIVE_MISSING, 13, NONE, MASK, "permissives are missing: mask %v of the needed %l") \
    X(NO_ORDER, 14, NONE, NONE, "there is no order to set up") \
    X(ALARM_STANDS, 15, RAIL, CODE, "alarm %v still stands") \
    X(POSITION_UNKNOWN, 16, HOLDER, NONE, "the position of holder %i is not known") \
    X(RELEASE_NEEDED, 17, RAIL, NONE, "the pin is not proven out; a guided release comes first") \
    X(NOT_HOMED, 18, RAIL, NONE, "the carriage has no datum; home it first") \
    X(UNKNOWN_RAIL, 19, NONE, CODE, "there is no rail %v; the last is %l") \
    /* orders: what was written */ \
    X(SLIT_COUNT, 20, NONE, COUNT, "%v slits; 1 to %l are possible") \
    X(SLIT_WIDTH, 21, SLIT, LENGTH, "slit %i is %v wide; more than 0 and at most %l is possible") \
    X(SUM_MISMATCH, 22, NONE, LENGTH, "the widths add up to %v, but the order says %l") \
    X(WEB_WIDTH, 23, NONE, LENGTH, "web width %v is not possible; more than 0 and at most %l is") \
    X(WEB_TOO_NARROW, 24, NONE, LENGTH, "the slits take %v, but the web is %l wide") \
    X(TRIM_TOO_SMALL, 25, EDGE, LENGTH, "the trim at edge %i is %v; at least %l is needed") \
    X(TRIM_TOO_LARGE, 26, EDGE, LENGTH, "the trim at edge %i is %v; at most %l is possible") \
    X(ALIGNMENT, 27, NONE, CODE, "alignment %v is unknown; 0 to %l") \
    X(COMPENSATION, 28, NONE, PPM, "compensation %v ppm is out of range; the limit is %l ppm") \
    X(SHIFT, 29, NONE, LENGTH, "shift %v is out of range; the limit is %l") \
    X(TOLERANCE, 30, NONE, LENGTH, "tolerance %v is out of range; the limit is %l") \
    X(EDGE_FLAGS, 31, NONE, CODE, "edge flags %v are unknown; 0 to %l") \
    X(UNTRIMMED_SUM, 32, NONE, LENGTH, "without trims the slits must take the whole web: %v of %l") \
    X(ORDER_NUMBER, 33, NONE, CODE, "order number %v is not possible; 1 or more") \
    X(QUEUE_FULL, 34, NONE, COUNT, "%v orders wait behind the staged one; %l is the most") \
    X(RECIPE_NUMBER, 35, NONE, CODE, "recipe %v is not possible; 1 to %l") \
    X(RECIPE_EMPTY, 36, NONE, CODE, "recipe %v is empty") \
    /* orders: what the machine can't do */ \
    X(SLIT_TOO_NARROW, 40, SLIT, LENGTH, "slit %i puts its holders %v apart; at least %l is needed") \
    X(TOO_FEW_HOLDERS, 41, NONE, COUNT, "%v holders are in service; %l are needed") \
    X(CUT_OFF_RAIL, 42, CUT, LENGTH, "cut %i needs a holder at %v; the rail's limit is %l") \
    X(NO_ROOM_FOR_IDLE, 43, HOLDER, LENGTH, \
      "holder %i has nowhere to rest: it could be at %v, the limit is %l") \
    X(FIXED_IN_THE_WAY, 44, HOLDER, LENGTH, "holder %i is fixed: it leaves %v where %l is needed") \
    X(SPACING, 45, HOLDER, LENGTH, "holder %i would be %v from its neighbour; at least %l is needed") \
    X(HOLDERS_DISORDERED, 46, HOLDER, LENGTH, \
      "holder %i stands at %v, on the operator side of the one before it at %l") \
    /* maintenance */ \
    X(UNKNOWN_HOLDER, 60, NONE, CODE, "there is no holder %v; 1 to %l") \
    X(NOT_ON_RAIL, 61, HOLDER, NONE, "holder %i is not on the rail") \
    X(ON_RAIL_ALREADY, 62, HOLDER, NONE, "holder %i is on the rail already") \
    X(SEIZED, 63, HOLDER, NONE, "holder %i is fixed where it stands") \
    X(HOLDER_SIZE, 64, HOLDER, CODE, "size %v of holder %i is unknown; 1 to %l") \
    X(EDGE_OFFSET, 65, HOLDER, LENGTH, "edge offset %v of holder %i is not possible; the limit is %l") \
    X(HOLDER_OFF_RAIL, 66, HOLDER, LENGTH, "holder %i would be at %v; the rail's limit is %l") \
    X(HOLDER_DOCKED, 67, HOLDER, NONE, "the pin may be in holder %i; a guided release comes first") \
    /* jobs */ \
    X(RAIL_NEEDED, 70, NONE, CODE, "the job is for one rail, 1 to %l, not %v") \
    X(JOG_NOT_ENABLED, 71, RAIL, NONE, "the hold-to-run device is not pressed") \
    X(UNKNOWN_SPEED, 72, NONE, CODE, "speed %v is unknown; 0 to %l") \
    /* test cuts */ \
    X(STRIP_COUNT, 73, NONE, COUNT, "%v strip widths are given; the order that was placed has %l slits") \
    X(STRIP_WIDTH, 74, SLIT, LENGTH, "strip %i is said to be %v wide; it was ordered %l wide") \
    X(NO_STRIP, 75, NONE, NONE, "no strip between two knives was measured") \
    X(STRIPS_FULL, 76, NONE, COUNT, "strips between %v pairs of knives are kept; there is room for %l") \
    X(NOT_PLACED, 77, NONE, NONE, \
      "no placement of this order was verified since the start, or a knife changed since") \
    X(NOTHING_PROPOSED, 78, NONE, NONE, "no edge offsets are proposed") \
    /* commands, again */ \
    X(LINE_RUNS, 85, NONE, COUNT, \
      "'line stopped' is given while LINE_SPEED says %v; a line that stands shows at most %l (0.1 m/min)") \
    X(NO_DATUM_TO_CONFIRM, 86, RAIL, NONE, \
      "no homing that went nowhere is to be confirmed; home the rail first") \
    X(DATUM_DIFFERS, 87, RAIL, LENGTH, "the drive says %v; what was measured may be off it by at most %l") \
    X(UNKNOWN_OUTPUT, 88, RAIL, MASK, "output %v is none that this rail can try: exactly one bit of %l") \
    X(OTHER_ORDER, 110, NONE, CODE, "order %v is neither staged nor in force for this job; order %l is") \
    /* halts */ \
    X(HALTED, 105, NONE, NONE, \
      "a HALT was written while the command waited; give it anew with the next number") \
    /* maintenance, again */ \
    X(KNIFE_NAME, 151, NONE, NONE, \
      "the knife's name or kind is not possible: printable characters, no blank at its ends") \
    X(KNIFE_UNKNOWN, 152, NONE, NONE, "the ledger has no knife of this name") \
    X(KNIFE_KNOWN, 153, NONE, NONE, "the ledger has a knife of this name already") \
    X(KNIFE_THERE, 154, HOLDER, NONE, "holder %i has a knife of the ledger, which comes off first") \
    X(NO_KNIFE, 155, HOLDER, NONE, "holder %i has no knife of the ledger") \
    X(KNIFE_ELSEWHERE, 156, NONE, CODE, \
      "the knife is not where it would have to be; it is in place %v (list EDIT_KNIFE_TO)") \
    X(KNIFE_EDGE, 157, NONE, NONE, \
      "no edge position is given, and the ledger has none of this knife since it was ground") \
    X(KNIFE_FIGURE, 158, NONE, CODE, \
      "a figure of the knife is %v; 0 to %l is possible (lengths in micrometres)") \
    X(NO_SHIFT_TO_CONFIRM, 115, RAIL, NONE, \
      "the rail's holders were not found off alike: nothing is to be confirmed") \
    X(SHIFT_DIFFERS, 116, RAIL, LENGTH, \
      "the holders were found off by %v, which is what has to be confirmed; not by %l") \
    X(NO_REFERENCE_PAIR, 117, RAIL, NONE, \
      "at its drive side the rail has no two references that stand nearer to each other than two holders " \
      "can") \
    X(OFFSET_STEP, 122, HOLDER, LENGTH, \
      "edge offset of holder %i would go from %l to %v in one step; write it once more if it is meant") \
    X(NOT_CUTTING, 123, HOLDER, NONE, "holder %i does not cut in the order in force") \
    X(LOOK_FIRST, 124, HOLDER, NONE, \
      "holder %i was in a crash: look at it, then confirm it by its own number, or swap its knife") \
    X(CRASH_STANDS, 125, NONE, MASK, \
      "the PLC still reports a crash: mask %v; nothing is confirmed before it takes that back") \
    X(FRAME_OFFSET, 160, RAIL, LENGTH, "an offset of %v is not possible; the limit is %l") \
    X(FRAME_SCALE, 161, RAIL, COUNT, \
      "a scale of %v parts of 1,000,000,000 is not possible; the limit is %l: look at the drive's units " \
      "first") \
    X(FRAME_POINTS, 162, RAIL, COUNT, "a table of %v points is not possible; at most %l") \
    X(FRAME_POINT, 163, RAIL, COUNT, \
      "point %v of the table: positions have to grow, and an error is at most 10 mm and changes from point " \
      "to " \
      "point by " \
      "at most a tenth of the way") \
    X(FRAME_TRAVEL, 164, RAIL, LENGTH, \
      "by that frame, or switch offset, the carriage would have to go to its drive's position %v; its " \
      "travel " \
      "ends at %l") \
    X(NO_FRAME_BEFORE, 165, RAIL, NONE, \
      "no maintenance request has set this rail's frame: there is nothing to take back") \
    X(SWITCH_OFFSET, 166, RAIL, LENGTH, "a switch offset of %v is not possible; the limit is %l") \
    X(SCAN_BIAS, 167, RAIL, LENGTH, "a scan bias of %v is not possible; the limit is %l") \
    X(NO_SWITCH_BEFORE, 168, RAIL, NONE, \
      "no maintenance request has set this rail's switch offset and scan bias: there is nothing to take " \
      "back") \
    X(NO_ROOM_TO_DRAG, 169, HOLDER, LENGTH, \
      "holder %i has no room for a drag to either side: %v where %l is needed")

enum kr_code {
#define X(name, number, item, value, text) KR_##name = number,
    KR_CODES(X)
#undef X
};

/* Plain data, made for returning. */
struct kr_result {
    enum kr_code code;
    uint16_t rail;
    uint16_t item;
    int32_t value, limit;
};

/* One row of KR_CODES, or NULL for a number that is none. The row lives for ever. */
struct kr_code_info {
    enum kr_code code;
    const char *name; /* as in KR_CODES */
    enum kr_item_kind item;
    enum kr_value_kind value;
    const char *text;
};
const struct kr_code_info *kr_code_info(int number);
/* To list them all, in the sequence of their numbers; NULL behind the last. */
const struct kr_code_info *kr_code_info_at(size_t index);

/* What to do about a refusal, in whole sentences; "" for KR_OK. Never NULL. */
const char *kr_code_remedy(enum kr_code code);

/* Writes the result as one English sentence, lengths in the unit's own ("25.400 mm", "1.0000 in"), always
 * closed with a 0. Returns the length it needs without that 0, as snprintf does. */
int kr_result_text(const struct kr_result *result, enum kr_length_unit unit, char *text, size_t size);

/* Writes one length, "25.400 mm" or "1.0000 in". Returns as snprintf. */
int kr_length_text(int32_t um, enum kr_length_unit unit, char *text, size_t size);

#endif
