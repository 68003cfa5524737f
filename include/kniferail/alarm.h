/* alarm: every alarm of a station, in one table. The table belongs to base, because the station raises the alarms,
 * and the map's documents and the command line list them. */
#ifndef KNIFERAIL_ALARM_H
#define KNIFERAIL_ALARM_H

#include "kniferail/base.h"

/* What the unit does when an alarm is raised during a job.
 * SUSPEND: the job stops in a controlled way; a command resumes it once the condition is good again.
 * HOLD: the job stops in a controlled way; a person has to look at the machine, then a command resumes the job.
 * ABORT: quick stop, and the drives are switched off, because motion can't be trusted. */
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

/* The numbers are part of the register map: a number is never used again.
 *  name, number, item, value, reaction,
 *    text: a sentence without capital and full stop; %i stands for the item, %v for the value, %l for the limit
 *    remedy: what to do about the alarm, in whole sentences */
#define KR_ALARMS(X) \
    X(PERMISSIVE_LOST, 1, NONE, MASK, SUSPEND, "permissives were lost during motion: mask %v", \
      "Give the missing permissives again, then give Unsuspend.") \
    X(HEARTBEAT_STALE, 2, NONE, COUNT, SUSPEND, "the PLC's heartbeat has not changed for %v ms; the limit is %l ms", \
      "Make sure that the PLC writes its heartbeat and its permissives in time again, then give Unsuspend.") \
    X(CONTROL_CHANGED, 3, NONE, NONE, SUSPEND, "the client in control changed during motion", \
      "The client that is in control now makes sure that the job is still wanted, then gives Unsuspend.") \
    X(BOOK_FAILED, 4, NONE, CODE, HOLD, "the book could not store a change that must be stored", \
      "Check that the book's disk has room and works; the log says why storing failed. The gateway tries " \
      "again by itself.") \
    X(PLAN_LATE, 5, NONE, COUNT, HOLD, "there is no plan after %v ms; the gateway waits for at most %l ms", \
      "Relieve the computer of other work, or allow more time by plan_limit_ms, then give Unhold.") \
    X(PLAN_REFUSED, 6, HOLDER, CODE, HOLD, "no plan is possible from the present places: result %v", \
      "Look up the result that stands beside the alarm: it says why no plan is possible. Change the order " \
      "or the holders, then start the job again.") \
    X(JOB_LATE, 7, NONE, COUNT, NONE, "the moves of the job have taken %v ms, but %l ms were planned", \
      "Look for a carriage that moves slowly or docks more than once. Nothing was stopped.") \
    X(JOG_ENABLE_LOST, 8, RAIL, NONE, SUSPEND, "the hold-to-run device was released", \
      "Press the hold-to-run device again, then give Unsuspend; or give Stop.") \
    X(BOOK_LATE, 9, NONE, COUNT, NONE, "the station waits for the book, which has stored nothing for %v ms", \
      "Find out what keeps the book's disk busy.") \
    X(LINK_LOST, 10, RAIL, COUNT, ABORT, "the drive does not answer", \
      "Check the drive's supply, the network and the drive's address, then give Clear.") \
    X(DRIVE_FAULT, 11, HOLDER, MASK, ABORT, "the drive reports a fault, error code %v", \
      "Look up the error code in the drive's manual, correct the cause, then give Clear.") \
    X(DRIVE_NOT_ENABLED, 12, NONE, MASK, HOLD, "the drive cannot be enabled: statusword %v", \
      "Check the drive's supply and its own enable inputs, then give Unhold.") \
    X(DRIVE_DROPPED_OUT, 13, HOLDER, MASK, ABORT, "the drive left operation by itself: statusword %v", \
      "Find out what took away the drive's power or its enable, then give Clear.") \
    X(SETPOINT_NOT_TAKEN, 14, NONE, LENGTH, HOLD, "the drive does not accept the set-point %v", \
      "Check the drive's position limits and its operating mode, then give Unhold.") \
    X(MOVE_LATE, 15, HOLDER, LENGTH, HOLD, "the carriage is at %v, and not at %l, when the time for its move is over", \
      "Lock out drives and air, look for an object that stops or slows the carriage, then give Unhold.") \
    X(POSITION_JUMPED, 16, HOLDER, LENGTH, ABORT, "the drive's position jumped by %v; at most %l is possible", \
      "Lock out drives and air. Check the encoder, its cable and its coupling. Then give Clear, and let a " \
      "scan measure the rail.") \
    X(HOMING_FAILED, 17, NONE, MASK, HOLD, "homing failed: statusword %v", \
      "Lock out drives and air, check the reference switch and the way to it, then give Unhold.") \
    X(REFERENCE_LOST, 18, NONE, NONE, ABORT, "the carriage has lost its datum", \
      "Give Clear and Reset, then home the carriage (job 4).") \
    X(ANSWERS_LATE, 19, HOLDER, COUNT, SUSPEND, \
      "the drive is silent: its last answer is %v ms old; during motion at most %l ms are allowed", \
      "Check the drive, and any other program that asks it, then give Unsuspend.") \
    X(PIN_NOT_IN, 20, HOLDER, COUNT, HOLD, "the pin does not seat after %v tries", \
      "Lock out drives and air. Check that the holder is where the carriage is, and that the pin moves " \
      "freely. Then give Unhold.") \
    X(PIN_NOT_OUT, 21, HOLDER, COUNT, HOLD, "the pin did not come out within %v ms", \
      "Lock out drives and air. Check whether the pin is stuck and whether its sensor works. Then give " \
      "Stop if the unit is Held, give Reset, and start a guided release (job 5).") \
    X(PIN_LOST, 22, HOLDER, NONE, ABORT, "the pin left its seat while the carriage was docked", \
      "Lock out drives and air, check the pin and its sensor, give Clear and Reset, then start a guided " \
      "release (job 5).") \
    X(PIN_UNPROVEN, 23, NONE, NONE, HOLD, "the pin is not proven out; a guided release is needed first", \
      "Give Stop if the unit is Held, give Reset, and start a guided release (job 5). If the pin is still " \
      "not proven out, lock out drives and air and check the pin and its sensors.") \
    X(BRAKE_NOT_OPEN, 24, HOLDER, COUNT, HOLD, "the brake did not open within %v ms", \
      "Lock out drives and air, check the brake, its valve and its sensor, then give Unhold.") \
    X(BRAKE_NOT_CLOSED, 25, HOLDER, COUNT, HOLD, "the brake did not close within %v ms", \
      "Lock out drives and air, check the brake, its valve and its sensor, then give Unhold.") \
    X(CLAMP_NOT_OPEN, 26, NONE, COUNT, HOLD, "the common clamp did not open within %v ms", \
      "Lock out drives and air, check the clamp, its valve and its sensor, then give Unhold.") \
    X(CLAMP_NOT_CLOSED, 27, NONE, COUNT, HOLD, "the common clamp did not close within %v ms", \
      "Lock out drives and air, check the clamp, its valve and its sensor, then give Unhold.") \
    X(CLAMP_LOST, 28, NONE, NONE, HOLD, "the common clamp changed its state without a command", \
      "Check the air pressure. Lock out drives and air, check the clamp's valve and its sensor, then give " \
      "Unhold.") \
    X(BRAKE_LOST, 29, HOLDER, NONE, ABORT, \
      "the brake changed its state without a command while the carriage was docked", \
      "Check the air pressure. Lock out drives and air, check the brake's valve and its sensor, then give " \
      "Clear.") \
    X(FLAG_MISSING, 30, HOLDER, COUNT, HOLD, \
      "the scan found no flag for holder %i (0: it is not known which holder's flag is missing); it found " \
      "%v flags of %l", \
      "Lock out drives and air. Check that the holder is on the rail, and that its flag is clean and " \
      "straight. If the holder was taken off, set it to absent. Then give Unhold.") \
    X(FLAG_EXTRA, 31, HOLDER, LENGTH, HOLD, \
      "the scan found a flag at %v, on the drive side of holder %i, that belongs to no holder", \
      "Lock out drives and air. Find out what the object is, and take it away. If a holder was put on the " \
      "rail, insert it by a maintenance request. Then give Unhold.") \
    X(FLAG_DISPLACED, 32, HOLDER, LENGTH, NONE, "holder %i was found %v away from its known place", \
      "Find out who or what moved the holder. If nobody did, its brake needs maintenance.") \
    X(SCAN_UNTRUSTED, 33, NONE, COUNT, HOLD, "the passes of the scan disagree: one found %v flags, the other %l", \
      "Lock out drives and air, check the proximity switch and its cable, then give Unhold.") \
    X(EDGES_LOST, 34, NONE, COUNT, HOLD, \
      "the scan lost edges of flags: it is too fast for the cycle, the switch bounces, or flags are too " \
      "close together", \
      "Scan more slowly; or lock out drives and air, check the proximity switch, then give Unhold.") \
    X(SWITCH_STUCK, 35, NONE, NONE, HOLD, "the proximity switch sees a flag where none can be", \
      "Lock out drives and air, check the proximity switch, look for an object under it, then give Unhold. " \
      "If there is none, the datum may have shifted: give Stop and Reset, then home the carriage (job 4), " \
      "or find its references (job 10).") \
    X(PASSES_APART, 36, HOLDER, LENGTH, HOLD, \
      "the two passes of the scan find holder %i at places that are %v apart; at most %l is possible", \
      "Lock out drives and air, check the play of the carriage's drive and the bracket of the proximity " \
      "switch, then give Unhold.") \
    X(FLAG_WIDTH, 37, NONE, LENGTH, HOLD, \
      "the flag at %v is not %l wide: an object is beside it, or the switch bounces", \
      "Lock out drives and air, look for chips or tape beside the flag, then give Unhold.") \
    X(RAIL_SHIFTED, 80, NONE, LENGTH, HOLD, \
      "the holders that nobody moved were found off by the same %v (limit %l): the rail's datum or its " \
      "switch has shifted, and nothing on the rail counts as measured", \
      "Lock out drives and air. Check the switch's bracket, the coupling and the encoder, and look for " \
      "exchanged drives. Correct that, then give Unhold. If the holders stand right, maintenance confirms " \
      "it: kniferail set shift RAIL SHIFT.") \
    X(RAIL_SCALED, 81, NONE, LENGTH, HOLD, \
      "the holders that nobody moved were found off by up to %v (limit %l), more and more along the rail: " \
      "the drive's scale has changed, and nothing on the rail counts as measured", \
      "Check the drive's scale, and that it is the rail's own drive. Correct that, then give Unhold. If " \
      "the holders stand right, maintenance confirms it: kniferail set shift RAIL SHIFT.") \
    X(SWITCH_SHIFTED, 82, NONE, LENGTH, HOLD, \
      "all holders were found off by %v (limit %l), also those that the carriage has just released: the " \
      "switch has moved against the pin, and nothing on the rail counts as measured", \
      "Lock out drives and air, set the switch's bracket back, then give Unhold. If the switch stays where " \
      "it is, set its offset anew: kniferail set switch. Don't confirm this as a shift: every knife would " \
      "then stand off by it.") \
    X(REFERENCES_UNSEEN, 83, NONE, COUNT, HOLD, \
      "the scan found %v good reference flags of %l, too few to tell where the rail is, and measured " \
      "nothing", \
      "Lock out drives and air. Check that the reference flags are clean, straight and in their places. " \
      "Then give Unhold.") \
    X(REFERENCES_SHIFTED, 84, NONE, LENGTH, HOLD, \
      "the reference flags were found off by %v (limit %l): the rail's datum, its scale or its switch has " \
      "moved, and nothing on the rail counts as measured", \
      "Lock out drives and air. Check the switch's bracket, the coupling, the encoder and the flags. " \
      "Correct that, then give Unhold. If the flags stand where they were taught, maintenance confirms the " \
      "shift: kniferail set shift RAIL SHIFT.") \
    X(REFERENCE_BAD, 85, REFERENCE, LENGTH, NONE, \
      "reference flag %i was not used: it appears %v wide (0: it was not seen) and should be %l wide, or " \
      "its place does not agree with the other reference flags", \
      "The other reference flags are enough for now. Lock out drives and air, then clean the flag, or set " \
      "it straight.") \
    X(REFERENCES_EXCHANGED, 86, RAIL, NONE, HOLD, \
      "the scan found reference flags that do not belong to this rail but to rail %i (0: to no rail of " \
      "this station): the drives are exchanged, and nothing on the rail counts as measured", \
      "Lock out drives and air. Find out which drive's cables and address belong to which rail, and " \
      "whether a reference flag was moved. Correct that, then give Unhold.") \
    X(REFERENCES_MIRRORED, 87, NONE, COUNT, HOLD, \
      "%v of %l reference flags were found in mirrored order: the drive counts in the wrong direction, and " \
      "nothing on the rail counts as measured", \
      "Check the drive's direction (counts_towards, and the drive's own polarity), correct it, then give " \
      "Unhold.") \
    X(OUT_OF_TOLERANCE, 40, HOLDER, LENGTH, HOLD, "holder %i is off its target by %v; the tolerance is %l", \
      "Give Unhold, which corrects the holder again. If the holder stays off, its brake or the carriage " \
      "needs maintenance.") \
    X(PAIR_OUT_OF_WINDOW, 41, CUT, LENGTH, HOLD, \
      "the upper and the lower knife of cut %i are off each other by %v; at most %l is allowed", \
      "Give Unhold, which corrects the pair again. If the pair stays off, check the edge offsets of both " \
      "knives.") \
    X(SLIT_OUT_OF_TOLERANCE, 42, SLIT, LENGTH, HOLD, "slit %i is off its width by %v; the tolerance is %l", \
      "Give Unhold, which corrects the knives again. If the slit stays off, check the edge offsets of its " \
      "knives.") \
    X(PATH_BLOCKED, 43, HOLDER, LENGTH, HOLD, \
      "holder %i would have %v to its neighbour on its way; at least %l is needed", \
      "Give Unhold, which measures and plans anew. If the alarm comes back, look for a holder that was " \
      "moved or whose size is wrong.") \
    X(MANY_RETRIES, 44, HOLDER, COUNT, NONE, \
      "docking at holder %i has needed %v retries in all; the holder needs maintenance", \
      "Plan maintenance of the holder's pin seat and of its brake.") \
    X(SWITCHES_APART, 103, NONE, LENGTH, HOLD, \
      "the holders that nobody moved were found off by the same %v (limit %l), but the references show " \
      "that the drive is right: one of the two switches has moved, and nothing on the rail counts as " \
      "measured", \
      "Lock out drives and air, set the moved bracket back, then give Unhold. If a switch stays as it is, " \
      "set its offset in the station file. If holders were moved, maintenance confirms it: kniferail set " \
      "shift RAIL SHIFT.") \
    X(REFERENCE_SWITCH_STUCK, 104, NONE, NONE, HOLD, "the references' own switch sees a flag where none can be", \
      "Lock out drives and air, check the references' switch, look for an object under it, then give " \
      "Unhold. If there is none, the datum may have shifted: give Stop and Reset, then home the carriage " \
      "(job 4).") \
    X(REFERENCE_SWITCH_DEAD, 105, NONE, COUNT, HOLD, \
      "the references' own switch saw none of %l flags: the switch or its input has failed, or no flag is " \
      "left, and nothing on the rail counts as measured", \
      "Lock out drives and air. Check the references' switch, its cable, the drive's touch probe 2 and the " \
      "reference flags. Then give Unhold.") \
    X(KNIFE_METRES, 45, HOLDER, COUNT, NONE, "the knife of holder %i has cut %v m; it should be reground after %l m", \
      "Lock out drives and air, regrind or change the knife, and enter that by a maintenance request.") \
    X(GRIND_SOON, 96, HOLDER, COUNT, NONE, \
      "the knife of holder %i is soon due for a grind: it has cut %v m, and its kind may cut %l m", \
      "Have a ground knife ready, or plan the grind: kniferail knives due estimates for how many more " \
      "orders the knife is good.") \
    X(GRIND_DUE, 97, HOLDER, COUNT, NONE, \
      "the knife of holder %i is due for a grind: it has cut %v m, and its kind may cut %l m", \
      "Lock out drives and air, regrind or change the knife, and enter that by a maintenance request.") \
    X(MANY_SLIPS, 46, HOLDER, COUNT, NONE, \
      "holder %i was found off its place %v times after its release; its brake needs maintenance", \
      "Plan maintenance of the holder's brake.") \
    X(STOP_COMMANDED, 47, NONE, NONE, NONE, "a client's Stop ended the job", \
      "Nothing is wrong with the machine. The log names the client that gave the command.") \
    X(ABORT_COMMANDED, 48, NONE, NONE, NONE, "a client's Abort ended the job", \
      "Ask why the command was given. The next job measures the holders that may have moved.") \
    X(GATEWAY_ENDED, 49, NONE, NONE, NONE, "the gateway was told to end", \
      "Start the job again once the gateway runs again.") \
    X(NOT_VERIFIED, 92, NONE, NONE, NONE, "the job ran to its end, but its knives are not verified", \
      "A job that parks or moves holders verifies none: give Start for the order. After a changeover or a " \
      "verification, places became doubtful at its end because guards were opened or a drive lost its " \
      "power: give the same job again.") \
    X(STOOD_STILL, 50, NONE, COUNT, SUSPEND, \
      "the gateway program did not run for %v ms and saw neither the PLC nor the drives; the limit is %l " \
      "ms", \
      "Find out what kept the gateway's computer busy or asleep, then give Unsuspend.") \
    X(NETWORK_SILENT, 51, HOLDER, COUNT, SUSPEND, \
      "the network to the drive is silent: the drive's last answer is %v ms old, and nothing confirms that " \
      "it received the questions; during motion at most %l ms are allowed", \
      "Check the cables, the network switches and other traffic between the gateway and the drive, then " \
      "give Unsuspend.") \
    X(LINE_WAITS, 52, RAIL, COUNT, SUSPEND, \
      "the drive of rail %i, on the same bus, is silent and is waited for: this drive's last answer is %v " \
      "ms old; during motion at most %l ms are allowed", \
      "Check the silent drive, and the bus that both drives share, then give Unsuspend.") \
    X(POSITION_IMPLAUSIBLE, 60, HOLDER, LENGTH, ABORT, \
      "the drive reports the carriage at %v, but its travel ends at %l", \
      "Check the drive's word order, its scale (position_units), its direction (counts_towards) and its " \
      "datum. After Clear and Reset homing (job 4) is possible, and a jog at no more than 10 mm/s.") \
    X(JOG_ASTRAY, 61, NONE, LENGTH, ABORT, "a jog without a datum moved the carriage by %v; at most %l was possible", \
      "Check the drive's word order, its scale (position_units, speed_units) and its direction " \
      "(counts_towards), then give Clear.") \
    X(LINE_CONTRADICTS, 63, NONE, COUNT, SUSPEND, \
      "the permissive 'line stopped' is given while LINE_SPEED reads %v; a line that stands shows at most " \
      "%l (both in 0.1 m/min)", \
      "Look at the line first: one of the two signals is wrong. Correct it, then give Unsuspend.") \
    X(ENCODER_BLAMED, 62, HOLDER, MASK, HOLD, \
      "the drive reports a fault of its encoder or of the encoder's battery, error code %v: the datum is " \
      "in doubt", \
      "Correct the cause that the error code names. Give Stop if the unit is Held, give Reset, then home " \
      "the carriage (job 4), or find its references (job 10). Reset alone does not end the doubt.") \
    X(CARRIAGE_DRIFTED, 64, NONE, LENGTH, HOLD, \
      "the carriage was found %v away from its last resting place; at most %l is possible: the datum is in " \
      "doubt", \
      "Find out whether the carriage was pushed or the encoder lost its position. Give Stop if the unit is " \
      "Held, give Reset, then home the carriage (job 4), or find its references (job 10).") \
    X(DATUM_DECLARED, 65, NONE, COUNT, HOLD, \
      "homing method %v moved nothing and declared the present place to be home: the datum is still in " \
      "doubt", \
      "Give Stop if the unit is Held, give Reset, then find the references (job 10). Without references: " \
      "lock out drives and air, measure where the carriage stands, and let maintenance confirm it: " \
      "kniferail set datum RAIL POSITION.") \
    X(DRIVE_NOT_OFF, 66, NONE, MASK, ABORT, "an output was to be tried, but the drive is not off: statusword %v", \
      "Find out what enables the drive besides this program, then give Clear.") \
    X(DRIVE_PARAMETER, 77, PARAMETER, COUNT, ABORT, \
      "the drive is refused: parameter %i of its list (0: its communication watchdog) shows %v, but %l is " \
      "expected", \
      "The log and DRIVE_PARAMETER_NAME_1 to _4 name the parameter. Give an exchanged drive the settings " \
      "that it was commissioned with. If the change was intended, change the station file too. Then give " \
      "Clear, or Reset.") \
    X(OTHER_GATEWAY, 78, NONE, COUNT, ABORT, \
      "another gateway controls the drive: its number is %v (0: it shows none), and this gateway's number " \
      "is %l", \
      "Find out by the numbers in the logs which gateways have this drive's address, and switch off the " \
      "one that must not control it. Then give Clear, or Reset.") \
    X(METRES_IMPLAUSIBLE, 75, NONE, COUNT, NONE, \
      "LINE_METRES stepped by %v m at once; no line can have run more than %l m since the step before", \
      "Check the word order of LINE_METRES, and write both of its registers in one request. The step was " \
      "not counted.") \
    X(LINE_SPEED_IMPLAUSIBLE, 76, NONE, COUNT, NONE, "LINE_SPEED reads %v m/min; at most %l m/min is possible", \
      "Write LINE_SPEED in 0.1 m/min. Meanwhile no metres are counted.") \
    X(ACCESS_COUNTED, 94, NONE, COUNT, NONE, \
      "the PLC's count of accesses is %v (0: the PLC sends none) and was %l when the knives were measured: " \
      "hands may have moved a knife", \
      "Stop the line, and let job 2 (verify only) measure the knives again. If nobody was at the knives, " \
      "find out why the PLC counts, or why it does not write ACCESS_COUNT together with its heartbeat.") \
    X(RETURNED_OTHERWISE, 95, RAIL, MASK, NONE, \
      "after the PLC, the gateway, the power or the link was lost, the carriage is not as it was before: " \
      "its inputs are %v and were %l, or its place or its datum differs", \
      "Stop the line. Lock out drives and air, and check the pin, the brake and the carriage. Then let job " \
      "2 (verify only) measure the knives again.") \
    X(TEMPERATURE_LOST, 98, NONE, COUNT, NONE, \
      "the PLC sends no plausible temperature of the frame: it sends %v (in 0.01 K, 0: none); the last " \
      "plausible one, %l, still counts", \
      "Check that the frame's sensor is connected, and that the PLC writes FRAME_TEMPERATURE in 0.01 K: " \
      "29315 is 20 C.") \
    X(FLAGS_UNCLEAR, 99, NONE, COUNT, HOLD, \
      "the scan found %v flags, but %l stand on the rail with its references: it is not known which flag " \
      "belongs to the dragged holder", \
      "Lock out drives and air. Find out which flag is missing or extra, and whether the list of holders is right. " \
      "Then start the job again.") \
    X(EDGE_UNPROVEN, 88, HOLDER, COUNT, NONE, \
      "holder %i cuts, but its cutting edge is not proven (unproven edges on this rail: %v)", \
      "Until then the line may not run. Lock out drives and air, measure the edge at the bench or with a " \
      "feeler gauge and confirm it (kniferail set bench or feeler), or look at each pair and let a test cut " \
      "prove it (set trial).") \
    X(KNIFE_STRUCK, 89, HOLDER, COUNT, HOLD, \
      "the PLC reported a crash: the knife of holder %i has to be inspected (such knives on this rail: %v)", \
      "Lock out drives and air, inspect the knife and its partner. Confirm each sound one (kniferail set " \
      "bench or feeler); enter each broken one and its successor (broken, then mount; or swap), or set its " \
      "holder out. Then start the order.") \
    X(BOOK_GONE, 70, NONE, NONE, HOLD, \
      "the book's file was deleted, moved or replaced, or has a second name; the log says which", \
      "Move the book's file back, or remove its second name. If the file was deleted, put a copy in its " \
      "place and restart the gateway.") \
    X(BOOK_DISK_FULL, 71, NONE, NONE, NONE, \
      "less than %l kB are free on the book's disk; soon the book cannot store any more", \
      "Make room on the disk on which the book lies.")

enum kr_alarm_code {
    KR_ALARM_NONE = 0,
#define X(name, number, item, value, reaction, text, remedy) KR_ALARM_##name = number,
    KR_ALARMS(X)
#undef X
};

/* Alarms in the list that clients read. The first alarms explain the later ones, so they stay; but an alarm with a
 * stronger reaction displaces one with a weaker reaction. */
#define KR_ALARMS_MAX 16
/* Alarms that stand at once, including those beyond the list. Further alarms are only counted. */
#define KR_ALARMS_KNOWN_MAX 96

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
const struct kr_alarm_info *kr_alarm_info(int number);      /* NULL: no alarm has this number */
const struct kr_alarm_info *kr_alarm_info_at(size_t index); /* sorted by number; NULL behind the last */

/* Writes the alarm as one English sentence, as kr_result_text() writes a result. */
int kr_alarm_text(const struct kr_alarm *alarm, enum kr_length_unit unit, char *text, size_t size);

#endif
