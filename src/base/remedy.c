#include "kniferail/base.h"

/* There is no default, so the compiler names a code that has no remedy. */
const char *kr_code_remedy(enum kr_code code)
{
    switch (code) {
    case KR_OK: return "";
    case KR_STALE_SESSION:
        return "The gateway has restarted: read SESSION, then give the request or command anew if it is "
               "still wanted.";
    case KR_NUMBER_REUSED: return "Take another number: the number that follows the one the gateway shows.";
    case KR_UNKNOWN_KIND:
    case KR_UNKNOWN_COMMAND:
    case KR_UNKNOWN_JOB:
    case KR_UNKNOWN_SPEED:
    case KR_ALIGNMENT:
    case KR_EDGE_FLAGS:
        return "Write a number that the map lists. If you meant a listed number, check whether the registers "
               "were written one address too high.";
    case KR_NOTHING_STAGED: return "Stage an order first.";
    case KR_NOT_STORED:
        return "Check that the book's disk has room and works, then give the request anew with the next "
               "number.";
    case KR_BUSY: return "Wait until the busy register reads 0, then give the request anew with the next number.";
    case KR_NO_PLAN_IN_TIME: return "Relieve the computer of other work, or allow more time by plan_limit_ms.";
    case KR_NOT_IN_THIS_STATE: return "Read UNIT_STATE, and give the command that leads on from there.";
    case KR_PERMISSIVE_MISSING:
        return "Give the missing permissives, wait until PERMISSIVES_MISSING reads 0, then give the command "
               "anew.";
    case KR_NO_ORDER: return "Stage an order first.";
    case KR_ALARM_STANDS: return "Correct the cause of the alarm, give Stop, then Reset, then the command anew.";
    case KR_POSITION_UNKNOWN: return "Start a scan (job 8) first.";
    case KR_RELEASE_NEEDED: return "Start a guided release (job 5) first.";
    case KR_NOT_HOMED: return "Home the carriage (job 4) first, or find its references (job 10).";
    case KR_UNKNOWN_RAIL: return "Name a rail that the station has: RAIL_COUNT says how many there are.";
    case KR_SLIT_COUNT: return "Write the number of the order's widths to SLIT_COUNT.";
    case KR_SLIT_WIDTH: return "Check the width of that slit and its unit: LENGTH_UNIT has the unit.";
    case KR_SUM_MISMATCH:
        return "Write all widths, then their sum, then the number: some widths are from another order.";
    case KR_WEB_WIDTH: return "Check the width of the web and its unit: LENGTH_UNIT has the unit.";
    case KR_WEB_TOO_NARROW: return "Take a wider web, or fewer or narrower slits.";
    case KR_TRIM_TOO_SMALL:
        return "Take a wider web or fewer slits, move the slits, or set the flag that the edge is not "
               "trimmed.";
    case KR_TRIM_TOO_LARGE: return "Take a narrower web, or move the slits.";
    case KR_COMPENSATION: return "Write the compensation in parts per million, within the limit.";
    case KR_SHIFT: return "Write a shift within the limit.";
    case KR_TOLERANCE: return "Write a tolerance within the limit, or 0 for the station's own.";
    case KR_UNTRIMMED_SUM: return "Let the widths add up to the web's width, or trim an edge.";
    case KR_ORDER_NUMBER: return "Give the order a number of 1 or more.";
    case KR_QUEUE_FULL: return "Wait until an order was set up, or drop one.";
    case KR_RECIPE_NUMBER: return "Name a recipe within the range.";
    case KR_RECIPE_EMPTY: return "Store the recipe first, or name a recipe that RECIPES_STORED shows.";
    case KR_SLIT_TOO_NARROW: return "Make the slit wider, or use narrower holders there.";
    case KR_TOO_FEW_HOLDERS: return "Bring holders back into service, or order fewer slits.";
    case KR_CUT_OFF_RAIL: return "Move the slits by TRIM or SHIFT, or take a narrower web.";
    case KR_NO_ROOM_FOR_IDLE:
        return "Order fewer or wider slits; or lock out drives and air, and take holders that don't cut off "
               "the rail.";
    case KR_FIXED_IN_THE_WAY:
        return "Move the slits; or lock out drives and air, free the fixed holder, then bring it back into "
               "service.";
    case KR_SPACING: return "Make the slits beside the holder wider, or use narrower holders there.";
    case KR_HOLDERS_DISORDERED: return "Check the places that are entered for the holders, and scan the rail (job 8).";
    case KR_UNKNOWN_HOLDER: return "Name a holder that the rail has: RAIL_HOLDERS says how many there are.";
    case KR_NOT_ON_RAIL: return "Insert the holder by a maintenance request once it is on the rail.";
    case KR_ON_RAIL_ALREADY: return "Nothing has to be inserted. If the holder was taken off, set it absent first.";
    case KR_SEIZED: return "Lock out drives and air, free the holder, then bring it back into service.";
    case KR_HOLDER_SIZE: return "Name a size that block SIZES lists.";
    case KR_EDGE_OFFSET: return "Check the edge offset, its sign and its unit: LENGTH_UNIT has the unit.";
    case KR_HOLDER_OFF_RAIL: return "Check the position and its unit: LENGTH_UNIT has the unit.";
    case KR_HOLDER_DOCKED: return "Start a guided release (job 5) first.";
    case KR_RAIL_NEEDED: return "Name one rail in COMMAND_RAIL.";
    case KR_JOG_NOT_ENABLED: return "Press the hold-to-run device, then give the command anew.";
    case KR_STRIP_COUNT: return "Give a width, or 0, for each slit of the order that was set up.";
    case KR_STRIP_WIDTH:
        return "Check the width of that strip, and that the strips are counted from the operator side.";
    case KR_NO_STRIP: return "Measure at least one strip that has a knife on either side.";
    case KR_STRIPS_FULL: return "Begin anew with a test cut of its own (kind 10).";
    case KR_NOT_PLACED: return "Set up an order, make a test cut of it, and measure its strips.";
    case KR_NOTHING_PROPOSED: return "Enter a test cut first.";
    case KR_LINE_RUNS:
        return "Look at the line first: one of the two signals is wrong. Correct it, then give the command "
               "anew.";
    case KR_NO_DATUM_TO_CONFIRM: return "Home the rail (job 4) first.";
    case KR_NO_SHIFT_TO_CONFIRM: return "Read RAIL_SHIFT, and name a rail for which it is not 0.";
    case KR_NO_REFERENCE_PAIR:
        return "Home the carriage (job 4); or lock out drives and air, mount such a pair, and list it under references "
               "in the station file.";
    case KR_SHIFT_DIFFERS:
        return "Lock out drives and air, and check the machine. Read RAIL_SHIFT anew, then confirm its "
               "present value with the next number.";
    case KR_DATUM_DIFFERS:
        return "Lock out drives and air, measure the place of the carriage's pin again, and check the "
               "drive's scale.";
    case KR_UNKNOWN_OUTPUT: return "Name one output that the rail has.";
    case KR_OTHER_ORDER:
        return "Stage the order that you mean, or read ORDER_STAGED and ORDER_IN_FORCE, and name one of "
               "them.";
    case KR_OFFSET_STEP:
        return "Check the offset, its sign and its unit. If it is intended, give the request once more with "
               "the next number.";
    case KR_NOT_CUTTING:
        return "Name a holder that cuts in the order in force, or set up an order in which this holder cuts.";
    case KR_LOOK_FIRST:
        return "Lock out drives and air and inspect the knife. If it is sound, confirm it by the holder's "
               "own number. If it broke, enter that and its successor (broken, then mount; or swap).";
    case KR_KNIFE_NAME: return "Write the name that stands on the knife, at most 24 characters; a kind has at most 16.";
    case KR_KNIFE_UNKNOWN: return "Check the name (`kniferail knives` lists them), or enter the knife first.";
    case KR_KNIFE_KNOWN: return "Give the new knife a name of its own; `kniferail knives` lists the names in use.";
    case KR_KNIFE_THERE:
        return "Lock out drives and air, take the present knife off the holder, dismount it in the ledger, "
               "then mount the other one.";
    case KR_NO_KNIFE: return "Check the holder's number. A knife without a name is changed by regrind and swap.";
    case KR_KNIFE_ELSEWHERE:
        return "Look up the knife's place in the ledger (`kniferail knives`). Name a knife on a holder by "
               "rail and holder. A knife at the grinder's comes back by reground, or to the shelf. A broken "
               "or scrapped knife is never mounted again.";
    case KR_KNIFE_EDGE:
        return "Measure the distance from the centre that the scan finds to the edge, at the bench or from "
               "the plant's table, and give it as the offset.";
    case KR_KNIFE_FIGURE: return "Check the figure and its unit: LENGTH_UNIT has the unit.";
    case KR_CRASH_STANDS:
        return "Lock out drives and air, clear the crash, let the PLC write 0 to CRASH, then give the "
               "request once more.";
    case KR_FRAME_OFFSET:
    case KR_FRAME_SCALE:
        return "Check the unit of the value, and the drive's position_units and position_um in the station "
               "file: a frame corrects a small remaining error, not a wrong unit.";
    case KR_FRAME_POINTS: return "Take fewer targets, and let kniferail calibrate make the table of them.";
    case KR_FRAME_POINT:
        return "Check the readings of that point and of the point before it. Lock out drives and air, and look for "
               "loose parts there.";
    case KR_FRAME_TRAVEL:
        return "Check the offset. If it is right, then the rail's limits, its references, park_mm or the "
               "travel in the station file are wrong.";
    case KR_NO_FRAME_BEFORE:
        return "Set the frame by EDIT_KIND FRAME; the frame of the station file was never replaced.";
    case KR_SWITCH_OFFSET:
    case KR_SCAN_BIAS:
        return "Check the unit of the value, and the results of the jobs that measure it (SWITCH_FOUND, "
               "BIAS_FOUND).";
    case KR_NO_SWITCH_BEFORE:
        return "Set both by EDIT_KIND SWITCH; the values of the station file were never replaced.";
    case KR_DOCK_TIME:
    case KR_UNDOCK_TIME:
    case KR_ROUNDING_TIME:
        return "Check the unit of the value, and what kniferail report --table times finds in the records.";
    case KR_SETPOINT_TIME:
        return "Check the unit of the value, and what kniferail report --table times finds in the records. "
               "If the carriage scans fast between flags, the time must be at least two cycles of the gateway.";
    case KR_NO_TIMES_BEFORE:
        return "Set the times by EDIT_KIND TIMES; the values of the station file were never replaced.";
    case KR_PRODUCTION_SPEED:
        return "Write 0 into COMMAND_SPEED. Close the guards, and keep everybody out of the zone.";
    case KR_NO_ROOM_TO_DRAG: return "Take another holder of the rail, or move its neighbour away first.";
    case KR_HALTED: return "Find out who wrote HALT and why, then give the command anew with the next number.";
    }
    return "This number is not in the gateway's list of results: ask the person who maintains the gateway.";
}
