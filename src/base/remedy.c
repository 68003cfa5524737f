#include "kniferail/base.h"

/* No default: the compiler names the code that has no remedy. */
const char *kr_code_remedy(enum kr_code code)
{
    switch (code) {
    case KR_OK: return "";
    case KR_STALE_SESSION:
        return "The gateway restarted: read SESSION, then give the request or command anew if it is still "
               "wanted.";
    case KR_NUMBER_REUSED: return "Take another number: the one behind the number that the gateway shows.";
    case KR_UNKNOWN_KIND:
    case KR_UNKNOWN_COMMAND:
    case KR_UNKNOWN_JOB:
    case KR_UNKNOWN_SPEED:
    case KR_ALIGNMENT:
    case KR_EDGE_FLAGS:
        return "Write a number that the map lists. If a listed number was meant, look whether the registers "
               "were written one address too high.";
    case KR_NOTHING_STAGED: return "Stage an order first.";
    case KR_NOT_STORED:
        return "See that the book's disk has room and works, then give the request anew with the next "
               "number.";
    case KR_BUSY:
        return "Wait until the busy register reads 0, then give the request anew with the next number.";
    case KR_NO_PLAN_IN_TIME:
        return "Relieve the computer of other work, or allow more time by plan_limit_ms.";
    case KR_NOT_IN_THIS_STATE: return "Look at UNIT_STATE, and give the command that leads on from there.";
    case KR_PERMISSIVE_MISSING:
        return "Give the missing permissives, wait until PERMISSIVES_MISSING reads 0, then give the command "
               "anew.";
    case KR_NO_ORDER: return "Stage an order first.";
    case KR_ALARM_STANDS: return "Mend the cause of the alarm, give Stop, then Reset, then the command anew.";
    case KR_POSITION_UNKNOWN: return "Start a scan (job 8) first.";
    case KR_RELEASE_NEEDED: return "Start a guided release (job 5) first.";
    case KR_NOT_HOMED: return "Home the carriage (job 4) first, or find its references (job 10).";
    case KR_UNKNOWN_RAIL: return "Name a rail that the station has: RAIL_COUNT says how many there are.";
    case KR_SLIT_COUNT: return "Write the number of widths that the order has into SLIT_COUNT.";
    case KR_SLIT_WIDTH:
        return "Look at the width of that slit and at its unit: LENGTH_UNIT says what a count is.";
    case KR_SUM_MISMATCH:
        return "Write all widths, then their sum, then the number: some widths are from another order.";
    case KR_WEB_WIDTH:
        return "Look at the width of the web and at its unit: LENGTH_UNIT says what a count is.";
    case KR_WEB_TOO_NARROW: return "Take a wider web, or fewer or narrower slits.";
    case KR_TRIM_TOO_SMALL:
        return "Take a wider web or fewer slits, move the slits, or say that the edge is not trimmed.";
    case KR_TRIM_TOO_LARGE: return "Take a narrower web, or move the slits.";
    case KR_COMPENSATION: return "Write the compensation in parts per million, within the limit.";
    case KR_SHIFT: return "Write a shift within the limit.";
    case KR_TOLERANCE: return "Write a tolerance within the limit, or 0 for the station's own.";
    case KR_UNTRIMMED_SUM: return "Let the widths add up to the web's width, or trim an edge.";
    case KR_ORDER_NUMBER: return "Give the order a number of 1 or more.";
    case KR_QUEUE_FULL: return "Wait until an order was set up, or drop one.";
    case KR_RECIPE_NUMBER: return "Name a recipe within the range.";
    case KR_RECIPE_EMPTY: return "Store the recipe first, or name one that RECIPES_STORED shows.";
    case KR_SLIT_TOO_NARROW: return "Make the slit wider, or use narrower holders there.";
    case KR_TOO_FEW_HOLDERS: return "Bring holders back into service, or order fewer slits.";
    case KR_CUT_OFF_RAIL: return "Move the slits by TRIM or SHIFT, or take a narrower web.";
    case KR_NO_ROOM_FOR_IDLE:
        return "Order fewer or wider slits; or lock out drives and air, and take holders that don't cut off "
               "the rail.";
    case KR_FIXED_IN_THE_WAY:
        return "Move the slits; or lock out drives and air, free the fixed holder, then bring it back into "
               "service.";
    case KR_SPACING: return "Make the slits beside it wider, or use narrower holders there.";
    case KR_HOLDERS_DISORDERED:
        return "Look whether the places that are entered for the holders are true, and scan the rail (job "
               "8).";
    case KR_UNKNOWN_HOLDER: return "Name a holder that the rail has: RAIL_HOLDERS says how many there are.";
    case KR_NOT_ON_RAIL: return "Insert the holder first, once it is on the rail.";
    case KR_ON_RAIL_ALREADY:
        return "Nothing has to be inserted; set the holder absent first if it was taken off.";
    case KR_SEIZED: return "Lock out drives and air, free the holder, then bring it back into service.";
    case KR_HOLDER_SIZE: return "Name a size that block SIZES lists.";
    case KR_EDGE_OFFSET:
        return "Look at the edge offset, its sign and its unit: LENGTH_UNIT says what a count is.";
    case KR_HOLDER_OFF_RAIL: return "Look at the position and at its unit: LENGTH_UNIT says what a count is.";
    case KR_HOLDER_DOCKED: return "Start a guided release (job 5) first.";
    case KR_RAIL_NEEDED: return "Name one rail in COMMAND_RAIL.";
    case KR_JOG_NOT_ENABLED: return "Press the hold-to-run device, then give the command anew.";
    case KR_STRIP_COUNT: return "Give a width, or 0, for each slit of the order that was placed.";
    case KR_STRIP_WIDTH:
        return "Look at the width of that strip, and that the strips are counted from the operator side.";
    case KR_NO_STRIP: return "Measure at least one strip that has a knife on either side.";
    case KR_STRIPS_FULL: return "Begin anew with a test cut of its own (kind 10).";
    case KR_NOT_PLACED: return "Set up an order, make a test cut of it, and measure that.";
    case KR_NOTHING_PROPOSED: return "Enter a test cut first.";
    case KR_LINE_RUNS:
        return "Look at the line first: one of the two signals is wrong. Mend that, then give the command "
               "anew.";
    case KR_NO_DATUM_TO_CONFIRM: return "Home the rail (job 4) first.";
    case KR_NO_SHIFT_TO_CONFIRM:
        return "Look at RAIL_SHIFT, and name the rail whose holders were found off alike.";
    case KR_NO_REFERENCE_PAIR:
        return "Home the carriage (job 4); or mount such a pair, and list it in references.";
    case KR_SHIFT_DIFFERS:
        return "Lock out drives and air, look at the machine and at RAIL_SHIFT anew, then confirm what "
               "RAIL_SHIFT says now, with the next number.";
    case KR_DATUM_DIFFERS:
        return "Lock out drives and air, measure again where the carriage's pin stands, and look at the "
               "drive's scale.";
    case KR_UNKNOWN_OUTPUT: return "Name one output that the rail has.";
    case KR_OTHER_ORDER:
        return "Stage the order that is meant, or look at ORDER_STAGED and ORDER_IN_FORCE, and name one of "
               "them.";
    case KR_OFFSET_STEP:
        return "Look at the offset, its sign and its unit; if it is meant, give the request once more with "
               "the next number.";
    case KR_NOT_CUTTING:
        return "Name a holder that cuts in the order in force, or set up an order in which this one cuts.";
    case KR_LOOK_FIRST:
        return "Lock out drives and air and look at the knife. If it is sound, confirm it by its own number; "
               "else enter that it broke and its successor (broken, then mount; or swap).";
    case KR_KNIFE_NAME:
        return "Write the name that stands on the knife, 24 characters at most; a kind has 16 at most.";
    case KR_KNIFE_UNKNOWN:
        return "Look at the name (`kniferail knives` lists them), or enter the knife first.";
    case KR_KNIFE_KNOWN:
        return "Give the new knife a name of its own; `kniferail knives` lists those there are.";
    case KR_KNIFE_THERE:
        return "Lock out drives and air, take the knife that is on the holder off, dismount it in the "
               "ledger, "
               "then mount the other one.";
    case KR_NO_KNIFE:
        return "Look at the holder's number; a knife without a name is changed by regrind and swap.";
    case KR_KNIFE_ELSEWHERE:
        return "See where the ledger has the knife (`kniferail knives`). One on a holder is named by rail "
               "and "
               "holder; one at the grinder's comes back as reground or to the shelf; a broken or scrapped "
               "one "
               "is never mounted again.";
    case KR_KNIFE_EDGE:
        return "Measure where the edge is from the centre that the scan finds, at the bench or from the "
               "plant's table, and give it as the offset.";
    case KR_KNIFE_FIGURE: return "Look at the figure and its unit: LENGTH_UNIT says what a count is.";
    case KR_CRASH_STANDS:
        return "Lock out drives and air, clear the crash, let the PLC write 0 to CRASH, then give the "
               "request once more.";
    case KR_FRAME_OFFSET:
    case KR_FRAME_SCALE:
        return "Look at the unit of the value, and at the drive's position_units and position_um in the "
               "station "
               "file: a frame takes off what is left of an error, not a wrong unit.";
    case KR_FRAME_POINTS: return "Take fewer targets, and let kniferail calibrate make the table of them.";
    case KR_FRAME_POINT:
        return "Look at the reading of that point and of the one before it, and at what is loose there.";
    case KR_FRAME_TRAVEL:
        return "Look at the offset. If it is right, the rail's limits, its references, park_mm or the travel "
               "in "
               "the station file are not.";
    case KR_NO_FRAME_BEFORE:
        return "Set the frame by EDIT_KIND FRAME; the station file's was never replaced.";
    case KR_SWITCH_OFFSET:
    case KR_SCAN_BIAS:
        return "Look at the unit of the value, and at what the jobs that measure it have found "
               "(SWITCH_FOUND, "
               "BIAS_FOUND).";
    case KR_NO_SWITCH_BEFORE: return "Set both by EDIT_KIND SWITCH; the station file's were never replaced.";
    case KR_NO_ROOM_TO_DRAG: return "Take another holder of the rail, or move its neighbour away first.";
    case KR_HALTED: return "See who wrote HALT and why, then give the command anew with the next number.";
    }
    return "Ask whoever keeps the gateway: this number is none of its list.";
}
