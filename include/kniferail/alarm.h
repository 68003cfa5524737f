/* alarm: every alarm of a station, in one table. Belongs to base: the station raises them, the map's documents
 * and the command line list them. */
#ifndef KNIFERAIL_ALARM_H
#define KNIFERAIL_ALARM_H

#include "kniferail/base.h"

/* What the unit does when it is raised during a job. */
enum kr_reaction {
    KR_REACT_NONE,    /* a notice */
    KR_REACT_SUSPEND, /* controlled stop; a command resumes it when the condition is back */
    KR_REACT_HOLD,    /* controlled stop; somebody has to look, then a command resumes it */
    KR_REACT_ABORT,   /* quick stop, drives off: motion can't be trusted */
};

/* The numbers are part of the register map: never reused.
 *  name                number  item    value   reaction  meaning; %i the item, %v the value, %l the limit */
#define KR_ALARMS(X) \
    X(PERMISSIVE_LOST, 1, NONE, MASK, SUSPEND, "permissives were lost in motion: mask %v") \
    X(HEARTBEAT_STALE, 2, NONE, COUNT, SUSPEND, "the PLC's heartbeat stands still for %v ms; limit %l ms") \
    X(CONTROL_CHANGED, 3, NONE, NONE, SUSPEND, "control changed hands in motion") \
    X(BOOK_FAILED, 4, NONE, CODE, HOLD, "the book could not store what must be stored") \
    X(PLAN_LATE, 5, NONE, COUNT, HOLD, "no plan after %v ms; at most %l ms is waited for one") \
    X(PLAN_REFUSED, 6, HOLDER, CODE, HOLD, "no plan is possible from here: result %v") \
    X(JOB_LATE, 7, NONE, COUNT, NONE, "the job takes %v ms; %l ms were planned") \
    X(JOG_ENABLE_LOST, 8, RAIL, NONE, SUSPEND, "the hold-to-run device was let go") \
    X(BOOK_LATE, 9, NONE, COUNT, NONE, "something waits for the book, which has stored nothing for %v ms") \
    X(LINK_LOST, 10, RAIL, COUNT, ABORT, "the drive does not answer") \
    X(DRIVE_FAULT, 11, HOLDER, MASK, ABORT, "the drive reports a fault, error code %v") \
    X(DRIVE_NOT_ENABLED, 12, NONE, MASK, HOLD, "the drive does not come on: statusword %v") \
    X(DRIVE_DROPPED_OUT, 13, HOLDER, MASK, ABORT, "the drive left operation by itself: statusword %v") \
    X(SETPOINT_NOT_TAKEN, 14, NONE, LENGTH, HOLD, "the drive does not take the set-point %v") \
    X(MOVE_LATE, 15, HOLDER, LENGTH, HOLD, "the carriage stands at %v, not at %l, when it is due") \
    X(POSITION_JUMPED, 16, HOLDER, LENGTH, ABORT, "the position jumped by %v; at most %l is possible") \
    X(HOMING_FAILED, 17, NONE, MASK, HOLD, "homing failed: statusword %v") \
    X(REFERENCE_LOST, 18, NONE, NONE, ABORT, "the carriage has lost its datum") \
    X(ANSWERS_LATE, 19, HOLDER, COUNT, ABORT, \
      "the drive's answers are %v ms old; at most %l ms is possible in motion") \
    X(PIN_NOT_IN, 20, HOLDER, COUNT, HOLD, "the pin does not seat after %v tries") \
    X(PIN_NOT_OUT, 21, HOLDER, COUNT, HOLD, "the pin does not come out in %v ms") \
    X(PIN_LOST, 22, HOLDER, NONE, ABORT, "the pin left its seat while docked") \
    X(PIN_UNPROVEN, 23, NONE, NONE, HOLD, "the pin is not proven out; guided release comes first") \
    X(BRAKE_NOT_OPEN, 24, HOLDER, COUNT, HOLD, "the brake does not open in %v ms") \
    X(BRAKE_NOT_CLOSED, 25, HOLDER, COUNT, HOLD, "the brake does not close in %v ms") \
    X(CLAMP_NOT_OPEN, 26, NONE, COUNT, HOLD, "the common clamp does not open in %v ms") \
    X(CLAMP_NOT_CLOSED, 27, NONE, COUNT, HOLD, "the common clamp does not close in %v ms") \
    X(CLAMP_LOST, 28, NONE, NONE, HOLD, "the common clamp changed by itself") \
    X(BRAKE_LOST, 29, HOLDER, NONE, ABORT, "the brake changed by itself while docked") \
    X(FLAG_MISSING, 30, HOLDER, COUNT, HOLD, \
      "no flag was found for holder %i (0: nobody can tell for which); %v flags of %l") \
    X(FLAG_EXTRA, 31, HOLDER, LENGTH, HOLD, "a flag stands at %v, right of holder %i, that belongs to none") \
    X(FLAG_DISPLACED, 32, HOLDER, LENGTH, NONE, "holder %i was found %v away from its known place") \
    X(SCAN_UNTRUSTED, 33, NONE, COUNT, HOLD, "the passes of the scan disagree: %v flags and %l") \
    X(EDGES_LOST, 34, NONE, COUNT, HOLD, \
      "edges of flags were lost in the scan: too fast for the cycle, a switch that bounces, or flags too " \
      "near") \
    X(SWITCH_STUCK, 35, NONE, NONE, HOLD, "the proximity switch sees a flag where none can be") \
    X(PASSES_APART, 36, HOLDER, LENGTH, HOLD, \
      "the two passes see holder %i %v apart; at most %l is possible") \
    X(FLAG_WIDTH, 37, NONE, LENGTH, HOLD, \
      "the flag at %v is not %l wide: something stands beside it, or the switch bounces") \
    X(OUT_OF_TOLERANCE, 40, HOLDER, LENGTH, HOLD, "holder %i is off its target by %v; tolerance %l") \
    X(PAIR_OUT_OF_WINDOW, 41, CUT, LENGTH, HOLD, "upper and lower knife of cut %i are %v off; window %l") \
    X(SLIT_OUT_OF_TOLERANCE, 42, SLIT, LENGTH, HOLD, "slit %i is off its width by %v; tolerance %l") \
    X(PATH_BLOCKED, 43, HOLDER, LENGTH, HOLD, "holder %i has %v to its neighbour on its way; %l is needed") \
    X(MANY_RETRIES, 44, HOLDER, COUNT, NONE, \
      "docking holder %i took %v retries in all; it wants maintenance") \
    X(KNIFE_METRES, 45, HOLDER, COUNT, NONE, "the knife of holder %i has cut %v m; %l m call for a regrind") \
    X(MANY_SLIPS, 46, HOLDER, COUNT, NONE, \
      "holder %i was found off its place %v times after its release; its brake wants maintenance")

enum kr_alarm_code {
    KR_ALARM_NONE = 0,
#define X(name, number, item, value, reaction, text) KR_ALARM_##name = number,
    KR_ALARMS(X)
#undef X
};

#define KR_ALARMS_MAX \
    16 /* in the list that clients read: the first explain the later, a stronger displaces a weaker */
#define KR_ALARMS_KNOWN_MAX 96 /* standing at once, those beyond the list included; more are only counted */

struct kr_alarm {
    uint16_t code; /* enum kr_alarm_code */
    uint16_t rail;
    uint16_t item;
    int32_t value, limit;
};

struct kr_alarm_info {
    enum kr_alarm_code code;
    const char *name;
    enum kr_item_kind item;
    enum kr_value_kind value;
    enum kr_reaction reaction;
    const char *text;
};
const struct kr_alarm_info *kr_alarm_info(int number); /* NULL if there is none */
const struct kr_alarm_info *kr_alarm_info_at(size_t index);

/* One English sentence, as kr_result_text. */
int kr_alarm_text(const struct kr_alarm *alarm, enum kr_length_unit unit, char *text, size_t size);

#endif
