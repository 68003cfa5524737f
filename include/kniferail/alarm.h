/* alarm: every alarm of a station, in one table. Belongs to base: the station raises them, the map's documents
 * and the command line list them. */
#ifndef KNIFERAIL_ALARM_H
#define KNIFERAIL_ALARM_H

#include "kniferail/base.h"

/* What the unit does when it is raised during a job. */
/* SUSPEND: controlled stop; a command resumes it when the condition is back. HOLD: controlled stop; somebody has to
 * look, then a command resumes it. ABORT: quick stop, drives off: motion can't be trusted. */
#define KR_REACTIONS(X) /* name, word */ \
    X(NONE, "notice") \
    X(SUSPEND, "suspend") \
    X(HOLD, "hold") \
    X(ABORT, "abort")
enum kr_reaction {
#define X(name, word) KR_REACT_##name,
    KR_REACTIONS(X)
#undef X
};
const char *kr_reaction_word(enum kr_reaction reaction);

/* The numbers are part of the register map: never reused.
 *  name, number, item, value, reaction,
 *    what is the matter: %i the item, %v the value, %l the limit
 *    remedy: what to do about it, in whole sentences */
#define KR_ALARMS(X) \
    X(PERMISSIVE_LOST, 1, NONE, MASK, SUSPEND, "permissives were lost in motion: mask %v", \
      "Give the missing permissives again, then give Unsuspend.") \
    X(HEARTBEAT_STALE, 2, NONE, COUNT, SUSPEND, "the PLC's heartbeat stands still for %v ms; limit %l ms", \
      "Let the PLC write its heartbeat and the permissives in time again, then give Unsuspend.") \
    X(CONTROL_CHANGED, 3, NONE, NONE, SUSPEND, "control changed hands in motion", \
      "Whoever is in control now makes sure that the job is still wanted, then gives Unsuspend.") \
    X(BOOK_FAILED, 4, NONE, CODE, HOLD, "the book could not store what must be stored", \
      "See that the book's disk has room and works; the log says what failed. Storing is tried again by " \
      "itself.") \
    X(PLAN_LATE, 5, NONE, COUNT, HOLD, "no plan after %v ms; at most %l ms is waited for one", \
      "Relieve the computer of other work, or allow more time by plan_limit_ms, then give " \
      "Unhold.") \
    X(PLAN_REFUSED, 6, HOLDER, CODE, HOLD, "no plan is possible from here: result %v", \
      "Look up the result beside the alarm, which says what is in the way, change the order or the " \
      "holders, then start again.") \
    X(JOB_LATE, 7, NONE, COUNT, NONE, "the job takes %v ms; %l ms were planned", \
      "Look for a carriage that moves slowly or docks more than once; nothing was stopped.") \
    X(JOG_ENABLE_LOST, 8, RAIL, NONE, SUSPEND, "the hold-to-run device was let go", \
      "Press the hold-to-run device again, then give Unsuspend; or give Stop.") \
    X(BOOK_LATE, 9, NONE, COUNT, NONE, "something waits for the book, which has stored nothing for %v ms", \
      "See what keeps the book's disk busy.") \
    X(LINK_LOST, 10, RAIL, COUNT, ABORT, "the drive does not answer", \
      "Look at the drive's supply, at the network and at the drive's address, then give Clear.") \
    X(DRIVE_FAULT, 11, HOLDER, MASK, ABORT, "the drive reports a fault, error code %v", \
      "Look up the error code in the drive's manual, mend the cause, then give Clear.") \
    X(DRIVE_NOT_ENABLED, 12, NONE, MASK, HOLD, "the drive does not come on: statusword %v", \
      "Look at the drive's supply and at its own enable inputs, then give Unhold.") \
    X(DRIVE_DROPPED_OUT, 13, HOLDER, MASK, ABORT, "the drive left operation by itself: statusword %v", \
      "See what took the drive's power or enable away, then give Clear.") \
    X(SETPOINT_NOT_TAKEN, 14, NONE, LENGTH, HOLD, "the drive does not take the set-point %v", \
      "Look at the drive's position limits and at its operating mode, then give Unhold.") \
    X(MOVE_LATE, 15, HOLDER, LENGTH, HOLD, "the carriage stands at %v, not at %l, when it is due", \
      "Lock out drives and air, look for what stops or slows the carriage, then give Unhold.") \
    X(POSITION_JUMPED, 16, HOLDER, LENGTH, ABORT, "the position jumped by %v; at most %l is possible", \
      "Lock out drives and air, look at the encoder, its cable and its coupling, give Clear, and let a " \
      "scan measure the rail.") \
    X(HOMING_FAILED, 17, NONE, MASK, HOLD, "homing failed: statusword %v", \
      "Lock out drives and air, look at the reference switch and at the way to it, then give Unhold.") \
    X(REFERENCE_LOST, 18, NONE, NONE, ABORT, "the carriage has lost its datum", \
      "Give Clear and Reset, then home the carriage (job 4).") \
    X(ANSWERS_LATE, 19, HOLDER, COUNT, SUSPEND, \
      "the drive is silent: its answers are %v ms old; at most %l ms is possible in motion", \
      "Look at the drive and at what else asks it, then give Unsuspend.") \
    X(PIN_NOT_IN, 20, HOLDER, COUNT, HOLD, "the pin does not seat after %v tries", \
      "Lock out drives and air, look whether the holder stands where the carriage is and whether the " \
      "pin moves freely, then give Unhold.") \
    X(PIN_NOT_OUT, 21, HOLDER, COUNT, HOLD, "the pin does not come out in %v ms", \
      "Lock out drives and air, look whether the pin is stuck and whether its sensor works. Then give Stop " \
      "if the unit is Held, give Reset, and start a guided release (job 5).") \
    X(PIN_LOST, 22, HOLDER, NONE, ABORT, "the pin left its seat while docked", \
      "Lock out drives and air, look at the pin and its sensor, give Clear and Reset, then start a guided " \
      "release (job 5).") \
    X(PIN_UNPROVEN, 23, NONE, NONE, HOLD, "the pin is not proven out; guided release comes first", \
      "Give Stop if the unit is Held, give Reset, and start a guided release (job 5). If the pin is not " \
      "proven out then, lock out drives and air and look at the pin and its sensors.") \
    X(BRAKE_NOT_OPEN, 24, HOLDER, COUNT, HOLD, "the brake does not open in %v ms", \
      "Lock out drives and air, look at the brake, its valve and its sensor, then give Unhold.") \
    X(BRAKE_NOT_CLOSED, 25, HOLDER, COUNT, HOLD, "the brake does not close in %v ms", \
      "Lock out drives and air, look at the brake, its valve and its sensor, then give Unhold.") \
    X(CLAMP_NOT_OPEN, 26, NONE, COUNT, HOLD, "the common clamp does not open in %v ms", \
      "Lock out drives and air, look at the clamp, its valve and its sensor, then give Unhold.") \
    X(CLAMP_NOT_CLOSED, 27, NONE, COUNT, HOLD, "the common clamp does not close in %v ms", \
      "Lock out drives and air, look at the clamp, its valve and its sensor, then give Unhold.") \
    X(CLAMP_LOST, 28, NONE, NONE, HOLD, "the common clamp changed by itself", \
      "Look at the air pressure; lock out drives and air, look at the clamp's valve and sensor, then give " \
      "Unhold.") \
    X(BRAKE_LOST, 29, HOLDER, NONE, ABORT, "the brake changed by itself while docked", \
      "Look at the air pressure; lock out drives and air, look at the brake's valve and sensor, then give " \
      "Clear.") \
    X(FLAG_MISSING, 30, HOLDER, COUNT, HOLD, \
      "no flag was found for holder %i (0: nobody can tell for which); %v flags of %l", \
      "Lock out drives and air, look whether the holder is on the rail and its flag is clean and " \
      "straight; a holder that was taken off is set to absent. Then give Unhold.") \
    X(FLAG_EXTRA, 31, HOLDER, LENGTH, HOLD, \
      "a flag stands at %v, on the drive side of holder %i, that belongs to none", \
      "Lock out drives and air, look what stands there, and take it away; a holder that was put on is " \
      "inserted by a maintenance request. Then give Unhold.") \
    X(FLAG_DISPLACED, 32, HOLDER, LENGTH, NONE, "holder %i was found %v away from its known place", \
      "See who or what moved the holder; if nobody did, its brake wants maintenance.") \
    X(SCAN_UNTRUSTED, 33, NONE, COUNT, HOLD, "the passes of the scan disagree: %v flags and %l", \
      "Lock out drives and air, look at the proximity switch and its cable, then give Unhold.") \
    X(EDGES_LOST, 34, NONE, COUNT, HOLD, \
      "edges of flags were lost in the scan: too fast for the cycle, a switch that bounces, or flags " \
      "too near", \
      "Scan more slowly; or lock out drives and air, look at the proximity switch, then give Unhold.") \
    X(SWITCH_STUCK, 35, NONE, NONE, HOLD, "the proximity switch sees a flag where none can be", \
      "Lock out drives and air, look at the proximity switch, and look for something that stands under " \
      "it, then give Unhold.") \
    X(PASSES_APART, 36, HOLDER, LENGTH, HOLD, \
      "the two passes see holder %i %v apart; at most %l is possible", \
      "Lock out drives and air, look at the play of the carriage's drive and at the proximity switch's " \
      "bracket, then give Unhold.") \
    X(FLAG_WIDTH, 37, NONE, LENGTH, HOLD, \
      "the flag at %v is not %l wide: something stands beside it, or the switch bounces", \
      "Lock out drives and air, look for chips or tape beside the flag, then give Unhold.") \
    X(RAIL_SHIFTED, 80, NONE, LENGTH, HOLD, \
      "the holders that nobody moved were found off by %v, all alike; %l is allowed: it is the rail's " \
      "datum or its switch, and nothing on the rail is measured", \
      "Lock out drives and air, look at the switch's bracket, coupling and encoder, and for exchanged " \
      "drives, mend that, then give Unhold. If the holders stand right, maintenance confirms it: " \
      "kniferail set shift RAIL SHIFT.") \
    X(RAIL_SCALED, 81, NONE, LENGTH, HOLD, \
      "the holders that nobody moved were found off by up to %v, growing along the rail; %l is allowed: " \
      "the drive's scale changed, and nothing on the rail is measured", \
      "Look at the drive's scale, and whether it is the rail's own drive, mend that, then give Unhold. If " \
      "the holders stand right, maintenance confirms it: kniferail set shift RAIL SHIFT.") \
    X(SWITCH_SHIFTED, 82, NONE, LENGTH, HOLD, \
      "all holders were found off by %v, also those that the carriage has just released; %l is allowed: " \
      "the switch moved against the pin, and nothing on the rail is measured", \
      "Lock out drives and air, set the switch's bracket back, then give Unhold. If the switch stays where " \
      "it is now, its offset has to be set anew: kniferail set switch. Don't confirm this as a " \
      "shift: that would set every knife off by it.") \
    X(REFERENCES_UNSEEN, 83, NONE, COUNT, HOLD, \
      "the scan found %v good reference flags of %l, too few to say where the rail is: it measured nothing", \
      "Lock out drives and air, look whether the reference flags are clean, straight and in their places, " \
      "then " \
      "give Unhold.") \
    X(REFERENCES_SHIFTED, 84, NONE, LENGTH, HOLD, \
      "the reference flags were found off by %v; %l is allowed: the rail's datum, its scale or its switch " \
      "moved, and nothing on the rail is measured", \
      "Lock out drives and air, look at the switch's bracket, coupling and encoder and at the reference " \
      "flags, " \
      "mend that, then give Unhold. If the flags stand where they were taught, maintenance confirms the " \
      "shift: kniferail set shift RAIL SHIFT.") \
    X(REFERENCE_BAD, 85, REFERENCE, LENGTH, NONE, \
      "reference flag %i was not used: it looks %v wide (0: it was not seen), it should be %l, or it " \
      "stands beside " \
      "the others' line", \
      "The others are enough for now. Lock out drives and air, clean the flag, or set it straight.") \
    X(REFERENCES_EXCHANGED, 86, RAIL, NONE, HOLD, \
      "the reference flags that the scan found are not this rail's but those of rail %i (0: of no rail of " \
      "this " \
      "station): the drives are exchanged, and nothing on the rail is measured", \
      "Lock out drives and air, see which drive's cables and address belong to which rail, and whether a " \
      "reference flag was moved; set that right, then give Unhold.") \
    X(REFERENCES_MIRRORED, 87, NONE, COUNT, HOLD, \
      "the reference flags were found in mirrored order, %v of %l: the drive counts the wrong way, and " \
      "nothing " \
      "on the rail is measured", \
      "Look at the drive's direction (counts_towards, and the drive's own polarity), set it right, then " \
      "give " \
      "Unhold.") \
    X(OUT_OF_TOLERANCE, 40, HOLDER, LENGTH, HOLD, "holder %i is off its target by %v; tolerance %l", \
      "Give Unhold, which corrects the holder again; if it stays off, its brake or the carriage wants " \
      "maintenance.") \
    X(PAIR_OUT_OF_WINDOW, 41, CUT, LENGTH, HOLD, "upper and lower knife of cut %i are %v off; window %l", \
      "Give Unhold, which corrects the pair again; if it stays off, check the edge offsets of both " \
      "knives.") \
    X(SLIT_OUT_OF_TOLERANCE, 42, SLIT, LENGTH, HOLD, "slit %i is off its width by %v; tolerance %l", \
      "Give Unhold, which corrects the knives again; if the slit stays off, check the edge offsets of " \
      "its knives.") \
    X(PATH_BLOCKED, 43, HOLDER, LENGTH, HOLD, "holder %i has %v to its neighbour on its way; %l is needed", \
      "Give Unhold, which measures and plans anew; if it comes back, look for a holder that moved or " \
      "whose size is wrong.") \
    X(MANY_RETRIES, 44, HOLDER, COUNT, NONE, \
      "docking holder %i took %v retries in all; it wants maintenance", \
      "Plan maintenance of the holder's pin seat and of its brake.") \
    X(SWITCHES_APART, 103, NONE, LENGTH, HOLD, \
      "the holders that nobody moved were found off by %v, all alike; %l is allowed: the references on the " \
      "frame say that the drive is right, so the holders' switch or the references' switch moved, and " \
      "nothing " \
      "on the rail is measured", \
      "Lock out drives and air, set the bumped bracket back, then give Unhold. If a switch stays as it is, " \
      "set " \
      "its offset in the station file. If holders were moved, maintenance confirms it: kniferail set shift " \
      "RAIL SHIFT.") \
    X(REFERENCE_SWITCH_STUCK, 104, NONE, NONE, HOLD, \
      "the references' own switch sees a flag where none can be", \
      "Lock out drives and air, look at that switch, and look for something that stands under it, then " \
      "give " \
      "Unhold.") \
    X(REFERENCE_SWITCH_DEAD, 105, NONE, COUNT, HOLD, \
      "the references' own switch saw none of %l flags: it or its input is dead, or no flag is left, and " \
      "nothing on the rail is measured", \
      "Lock out drives and air, look at that switch, its cable, the drive's touch probe 2 and at the " \
      "references' flags, then give Unhold.") \
    X(KNIFE_METRES, 45, HOLDER, COUNT, NONE, "the knife of holder %i has cut %v m; %l m call for a regrind", \
      "Lock out drives and air, regrind or change the knife, and enter that by a maintenance request.") \
    X(GRIND_SOON, 96, HOLDER, COUNT, NONE, \
      "the knife of holder %i is soon due for a grind: it has cut %v m of the %l m of its kind", \
      "Have a ground knife ready, or plan the grind: kniferail knives due tells for about how many orders " \
      "the " \
      "knife will do.") \
    X(GRIND_DUE, 97, HOLDER, COUNT, NONE, \
      "the knife of holder %i is due for a grind: it has cut %v m, and its kind may cut %l m", \
      "Lock out drives and air, regrind or change the knife, and enter that by a maintenance request.") \
    X(MANY_SLIPS, 46, HOLDER, COUNT, NONE, \
      "holder %i was found off its place %v times after its release; its brake wants maintenance", \
      "Plan maintenance of the holder's brake.") \
    X(STOP_COMMANDED, 47, NONE, NONE, NONE, "a client's Stop ended the job", \
      "Nothing is wrong with the machine; who gave the command is in the log.") \
    X(ABORT_COMMANDED, 48, NONE, NONE, NONE, "a client's Abort ended the job", \
      "Ask why it was given; what may have moved is measured by the next job.") \
    X(GATEWAY_ENDED, 49, NONE, NONE, NONE, "the gateway was told to end", \
      "Start the job again when the gateway runs again.") \
    X(NOT_VERIFIED, 92, NONE, NONE, NONE, "the job ran to its end, and its knives are not verified", \
      "A job that parks or moves holders verifies none: give Start for the order. After a changeover or a " \
      "verification places became doubtful as it ended, because guards were opened or a drive lost its " \
      "power: " \
      "give the same job again.") \
    X(STOOD_STILL, 50, NONE, COUNT, SUSPEND, \
      "the gateway itself stood still for %v ms and saw nothing of PLC and drives; limit %l ms", \
      "See what kept the gateway's computer busy or asleep, then give Unsuspend.") \
    X(NETWORK_SILENT, 51, HOLDER, COUNT, SUSPEND, \
      "the network to the drive is silent: answers are %v ms old, and nothing confirms what was sent; at " \
      "most %l ms is possible in motion", \
      "Look at cables, switches and other traffic between gateway and drive, then give Unsuspend.") \
    X(LINE_WAITS, 52, RAIL, COUNT, SUSPEND, \
      "the line waits for the drive of rail %i, which is silent: answers are %v ms old; at most %l ms is " \
      "possible in motion", \
      "Look at that drive and at the line that both share, then give Unsuspend.") \
    X(POSITION_IMPLAUSIBLE, 60, HOLDER, LENGTH, ABORT, \
      "the drive puts the carriage at %v, and its travel ends at %l", \
      "Look at the drive's word order, scale (position_units) and direction (counts_towards) and at its " \
      "datum. After Clear and Reset homing (job 4) is possible, and a jog at no more than 10 " \
      "mm/s.") \
    X(JOG_ASTRAY, 61, NONE, LENGTH, ABORT, "a jog without a datum went %v, and could have gone %l", \
      "Look at the drive's word order, scale (position_units, speed_units) and direction (counts_towards), " \
      "then give Clear.") \
    X(LINE_CONTRADICTS, 63, NONE, COUNT, SUSPEND, \
      "'line stopped' is given while LINE_SPEED says %v; a line that stands shows at most %l (0.1 m/min)", \
      "Look at the line first: one of the two signals is wrong. Mend that, then give Unsuspend.") \
    X(ENCODER_BLAMED, 62, HOLDER, MASK, HOLD, \
      "the drive blames its encoder or the encoder's battery, error code %v: the datum is doubted", \
      "Mend what the code names. Give Stop if the unit is Held, give Reset, then home the carriage (job " \
      "4), " \
      "or find its references (job 10). Reset alone doesn't take the doubt away.") \
    X(CARRIAGE_DRIFTED, 64, NONE, LENGTH, HOLD, \
      "the carriage is found %v from where it rested; at most %l is possible: the datum is doubted", \
      "See whether the carriage was pushed or the encoder lost its place. Give Stop if the unit is Held, " \
      "give " \
      "Reset, then home the carriage (job 4), or find its references (job 10).") \
    X(DATUM_DECLARED, 65, NONE, COUNT, HOLD, \
      "homing method %v went nowhere and called the present place home: the datum is still doubted", \
      "Give Stop if the unit is Held, give Reset, then find the references (job 10). Without them: lock " \
      "out " \
      "drives and air, measure where the carriage stands, and let maintenance confirm it: kniferail set " \
      "datum RAIL POSITION.") \
    X(DRIVE_NOT_OFF, 66, NONE, MASK, ABORT, \
      "an output was to be tried, and the drive is not off: statusword %v", \
      "See what enables the drive beside this program, then give Clear.") \
    X(DRIVE_PARAMETER, 77, PARAMETER, COUNT, ABORT, \
      "the drive is refused: parameter %i of its list (0: its communication watchdog) shows %v, and %l is " \
      "expected", \
      "The log and DRIVE_PARAMETER_NAME_1 and on name the parameter. Give a drive that was exchanged its " \
      "settings as they were commissioned; what was changed on purpose is changed in the station file, " \
      "too. Then give Clear, or Reset.") \
    X(OTHER_GATEWAY, 78, NONE, COUNT, ABORT, \
      "another gateway works the drive, number %v (0: it shows none); this one is number %l", \
      "Find out which gateways have this drive's address, by the numbers in their logs, and switch off the " \
      "one that must not work it. Then give Clear, or Reset.") \
    X(METRES_IMPLAUSIBLE, 75, NONE, COUNT, NONE, \
      "LINE_METRES stepped by %v m at once; no line can have run more than %l m since it stepped last", \
      "Look at the word order of LINE_METRES, and write both of its registers in one request; the step was " \
      "not counted.") \
    X(LINE_SPEED_IMPLAUSIBLE, 76, NONE, COUNT, NONE, \
      "LINE_SPEED says %v m/min; at most %l m/min is possible", \
      "Write LINE_SPEED in 0.1 m/min; meanwhile no metres are counted.") \
    X(ACCESS_COUNTED, 94, NONE, COUNT, NONE, \
      "the PLC's count of accesses is %v (0: it sends none), and was %l when the knives were measured: " \
      "hands " \
      "may have moved a knife", \
      "Stop the line, and let job 2 (verify only) measure the knives again. If nobody was there, see why " \
      "the " \
      "PLC counts, or why it does not write ACCESS_COUNT together with its heartbeat.") \
    X(RETURNED_OTHERWISE, 95, RAIL, MASK, NONE, \
      "after a loss of power or link, of the PLC or of the gateway the carriage does not stand as it stood " \
      "before: inputs %v, before %l; or its place or its datum is another", \
      "Stop the line, look at pin, brake and carriage with drives and air locked out, then let job 2 " \
      "(verify " \
      "only) measure the knives again.") \
    X(TEMPERATURE_LOST, 98, NONE, COUNT, NONE, \
      "the PLC sends no temperature of the frame that can be: %v (in 0.01 K, 0: none); the last one still " \
      "counts, %l", \
      "See whether the frame's sensor is connected, and whether the PLC writes FRAME_TEMPERATURE in 0.01 " \
      "K: " \
      "29315 is 20 C.") \
    X(FLAGS_UNCLEAR, 99, NONE, COUNT, HOLD, \
      "the scan found %v flags, and %l stand on the rail with its references: nobody can say which of them " \
      "is " \
      "the dragged holder's", \
      "Look which flag is missing or too many, and whether the list of holders is right; then start the " \
      "job " \
      "again.") \
    X(EDGE_UNPROVEN, 88, HOLDER, COUNT, NONE, \
      "holder %i cuts, and nobody has proven its edge (%v such on the rail)", \
      "The line may not run before that. Lock out drives and air, measure the edge at the bench or with a " \
      "feeler gauge and confirm it (kniferail set bench or feeler), or let a test cut prove it (kniferail " \
      "set trial).") \
    X(KNIFE_STRUCK, 89, HOLDER, COUNT, HOLD, \
      "the PLC reported a crash: holder %i has to be looked at (%v such on the rail)", \
      "Lock out drives and air, look at the knife and its partner. Confirm each that is sound (kniferail " \
      "set bench or feeler); enter each that broke and its successor (broken, then mount; or swap), or set " \
      "the holder out. Then start the order.") \
    X(BOOK_GONE, 70, NONE, NONE, HOLD, \
      "the book's file was deleted, moved or replaced, or has a second name; the log says which", \
      "Move the book's file back, or take the second name away. If it was deleted, put a copy in its place " \
      "and restart the gateway.") \
    X(BOOK_DISK_FULL, 71, NONE, NONE, NONE, "less than %l kB are free for the book; soon it can't store", \
      "Make room on the disk on which the book lies.")

enum kr_alarm_code {
    KR_ALARM_NONE = 0,
#define X(name, number, item, value, reaction, text, remedy) KR_ALARM_##name = number,
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
    const char *remedy;
};
const struct kr_alarm_info *kr_alarm_info(int number);      /* NULL if there is none */
const struct kr_alarm_info *kr_alarm_info_at(size_t index); /* by number; NULL behind the last */

/* One English sentence, as kr_result_text. */
int kr_alarm_text(const struct kr_alarm *alarm, enum kr_length_unit unit, char *text, size_t size);

#endif
