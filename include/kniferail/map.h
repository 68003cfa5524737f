/* map: the register map as data (regmap.def), and typed access to the words that it lays out. Belongs to base:
 * the station writes its image with it, the face serves the words, and neither knows the other. Pure. */
#ifndef KNIFERAIL_MAP_H
#define KNIFERAIL_MAP_H

#include "kniferail/base.h"

#define KR_MAP_VERSION          2        /* open: regmap.def says when it grows */
#define KR_MAP_WORD_ORDER_PROOF 16909060 /* 0x01020304 */
#define KR_MAP_WINDOW           10000 /* input register a reads also as holding register KR_MAP_WINDOW + a */
#define KR_MAP_RAIL_FIRST       2000
#define KR_MAP_RAIL_STRIDE      2000
#define KR_MAP_RAIL_BITS_FIRST  1000 /* discrete inputs */
#define KR_MAP_RAIL_BITS_STRIDE 200
#define KR_MAP_INPUT_WORDS      17000 /* every input register lies below */
#define KR_MAP_HOLDING_WORDS    1000  /* every writable holding register lies below */
#define KR_MAP_BLOCK_WORDS_MAX  420   /* of a block with a trigger */
#define KR_MAP_READ_WORDS_MAX   100   /* of a block that is meant for one read: some masters can do no more */

#define KR_AREAS(X) /* name, word */ \
    X(COIL, "coil") \
    X(DISCRETE, "discrete") \
    X(HOLDING, "holding") \
    X(INPUT, "input")
enum kr_area {
#define X(name, word) KR_AREA_##name,
    KR_AREAS(X)
#undef X
};
#define KR_REG_TYPES(X) /* name, type of IEC 61131-3 */ \
    X(U16, "UINT") \
    X(I16, "INT") \
    X(U32, "UDINT") \
    X(I32, "DINT") \
    X(TEXT, "WORD")
enum kr_reg_type {
#define X(name, iec) KR_TYPE_##name,
    KR_REG_TYPES(X)
#undef X
};
/* LENGTH: counts of the station's unit. BY_CODE: as the result or alarm code says, lengths in that unit. */
#define KR_REG_UNITS(X) /* name, word */ \
    X(NONE, "") \
    X(LENGTH, "length") \
    X(MS, "ms") \
    X(S, "s") \
    X(PPM, "ppm") \
    X(PERCENT, "%") \
    X(MASK, "bits") \
    X(BY_CODE, "by code")
enum kr_reg_unit {
#define X(name, word) KR_REGUNIT_##name,
    KR_REG_UNITS(X)
#undef X
};
/* Who may write it. CONTROL: the client in control. MAINTAIN: clients that may maintain. HALT: every client that may
 * control or maintain, whether it is in control or not. */
#define KR_ACCESSES(X) /* name, word */ \
    X(READ, "read") \
    X(CONTROL, "control") \
    X(MAINTAIN, "maintain") \
    X(HALT, "halt")
enum kr_access {
#define X(name, word) KR_ACCESS_##name,
    KR_ACCESSES(X)
#undef X
};

/* One number for each row: KR_REG_<name>, KR_BLOCK_<name>. */
enum kr_reg {
    KR_REG_NONE,
#define REG(name, area, address, type, n, unit, access, meaning) KR_REG_##name,
#define RAIL(name, offset, type, n, unit, meaning)               KR_REG_##name,
#include "kniferail/regmap.def"
    KR_REG_COUNT
};
enum kr_block_id {
#define BLOCK(name, area, first, words, access, trigger, depth, meaning) KR_BLOCK_##name,
#include "kniferail/regmap.def"
    KR_BLOCK_COUNT
};

struct kr_reg_info {
    const char *name;
    enum kr_area area; /* HOLDING or INPUT */
    uint16_t address;  /* of the first element; per rail: of rail 1 */
    enum kr_reg_type type;
    uint16_t n;
    enum kr_reg_unit unit;
    enum kr_access access;
    bool per_rail;
    const char *meaning;
};
struct kr_block_info {
    const char *name;
    enum kr_area area;
    uint16_t first, words;
    enum kr_access access;
    enum kr_reg trigger; /* KR_REG_NONE: none */
    uint8_t depth;
    const char *meaning;
};
struct kr_bits_info {
    const char *name;
    enum kr_area area; /* COIL or DISCRETE */
    uint16_t address;  /* per rail: of rail 1 */
    uint16_t bits;
    enum kr_reg word;
    bool per_rail;
    const char *meaning;
};
struct kr_room_info {
    enum kr_area area; /* HOLDING or INPUT */
    uint16_t first, words;
    const char *meaning;
};
/* A difference of this version from the one before. */
struct kr_map_change_info {
    const char *kind; /* "NEW", "CHANGED", "GONE" */
    const char *name, *what;
};
const struct kr_reg_info *kr_reg_info(enum kr_reg reg);            /* of KR_REG_NONE or beyond: NULL */
const struct kr_block_info *kr_block_info(enum kr_block_id block); /* beyond the last: NULL */
const struct kr_bits_info *kr_bits_info(size_t index);             /* beyond the last: NULL */
const struct kr_room_info *kr_room_info(size_t index);             /* beyond the last: NULL */
const struct kr_map_change_info *kr_map_change_info(size_t index); /* beyond the last: NULL */
uint16_t kr_reg_words(enum kr_reg_type type);                      /* registers of one element */
/* Address of an element; rail is read only if the row is per rail. */
uint16_t kr_reg_address(enum kr_reg reg, uint16_t rail, uint16_t index);

/* ---- named bits and numbers: part of the map -------------------------------------------------------------- */

/* Permissives, in the PLC's word and as they count. */
#define KR_PERMISSIVES(X) \
    X(LINE_STOPPED, 0, "the line stands and is kept from starting") \
    X(KNIVES_RAISED, 1, "all knives are raised") \
    X(GUARDS_CLOSED, 2, "the guards are closed") \
    X(AIR, 3, "compressed air is there") \
    X(ENABLE, 4, "the positioner is enabled")
enum {
#define X(name, bit, text) KR_PERMIT_##name = 1 << (bit),
    KR_PERMISSIVES(X)
#undef X
};

#define KR_STATUS_BITS(X) \
    X(VERIFIED, 0, "every knife of the order in force was measured at its place") \
    X(STAGED, 1, "an order is staged") \
    X(IN_FORCE, 2, "an order is in force") \
    X(MOVING, 3, "something moves or may move") \
    X(SCAN_DUE, 4, \
      "positions are not measured: a scan comes before the next move; the holder that a job is just moving " \
      "does not count") \
    X(HEARTBEAT_FRESH, 5, "the PLC's heartbeat is seen changing") \
    X(LINK, 6, "every positioner answers") \
    X(BOOK, 7, "what must be stored is stored, where a book is configured") \
    X(REFERENCED, 8, "every carriage has its datum") \
    X(PINS_OUT, 9, "every pin is proven out") \
    X(CLAMPED, 10, "every clamp is proven closed") \
    X(PARKED, 11, "every carriage is parked clear") \
    X(PERMITTED, 12, "all permissives that a changeover needs are there") \
    X(REDUCED_SPEED, 13, "the job runs at reduced speed")
enum {
#define X(name, bit, text) KR_STATUS_##name = 1 << (bit),
    KR_STATUS_BITS(X)
#undef X
};

#define KR_LINE_BITS(X) \
    X(MAY_RUN, 0, \
      "a line that runs may go on: since MAY_START was 1 nothing has happened that could have moved a " \
      "knife") \
    X(MAY_LOWER, 1, "the knives in CUTTING may be lowered") \
    X(RAISE, 2, "raise the knives: a job is under way") \
    X(TEST_CUT, 3, \
      "knives in CUTTING may be lowered for a test cut, and for nothing else: an edge is not proven yet") \
    X(MAY_START, 4, "the line may be started: everything is proven now")
enum {
#define X(name, bit, text) KR_LINE_##name = 1 << (bit),
    KR_LINE_BITS(X)
#undef X
};

/* Why something that was proven does not count at present. */
#define KR_LINE_DOUBTS(X) \
    X(ACCESS, 0, "an access is open, or nobody says that it is closed: hands may be at the knives") \
    X(DRIVES, 1, "a drive has no power, or no link") \
    X(SET_ASIDE, 2, \
      "what was proven is set aside: it counts again once ACCESS_COUNT and the drives show that nobody was " \
      "there")
enum {
#define X(name, bit, text) KR_DOUBT_##name = 1 << (bit),
    KR_LINE_DOUBTS(X)
#undef X
};

/* What the PLC reports of the line. */
#define KR_CRASHES(X) \
    X(KNIFE_BROKEN, 0, "a knife broke or was struck") \
    X(WEB_WRAPPED, 1, "the web wrapped round knives or their shaft")
enum {
#define X(name, bit, text) KR_CRASH_##name = 1 << (bit),
    KR_CRASHES(X)
#undef X
};

/* Unit states: the PackML state model (ISA-TR88.00.02), by the numbers that OPC 30050 publishes. */
#define KR_UNIT_STATES(X) \
    X(CLEARING, 1, "winds down after an abort") \
    X(STOPPED, 2, "rests; Reset leads to Idle") \
    X(STARTING, 3, "checks whether the job may begin") \
    X(IDLE, 4, "ready for Start") \
    X(SUSPENDED, 5, "a permissive, the heartbeat or control was lost: Unsuspend resumes") \
    X(EXECUTE, 6, "the job runs; all motion happens here") \
    X(STOPPING, 7, "winds down to Stopped") \
    X(ABORTING, 8, "quick stop") \
    X(ABORTED, 9, "motion could not be trusted; Clear leads to Stopped") \
    X(HOLDING, 10, "winds down to Held") \
    X(HELD, 11, "an operator or a fault holds the job; Unhold resumes") \
    X(UNHOLDING, 12, "checks whether the job may go on") \
    X(SUSPENDING, 13, "winds down to Suspended") \
    X(UNSUSPENDING, 14, "checks whether the job may go on") \
    X(RESETTING, 15, "acknowledges alarms whose cause is gone") \
    X(COMPLETING, 16, "drives off, record") \
    X(COMPLETE, 17, "the job is done; Reset leads to Idle")
enum kr_unit_state {
#define X(name, number, text) KR_STATE_##name = number,
    KR_UNIT_STATES(X)
#undef X
};

/* Commands by the numbers of PackML's tag Command.CntrlCmd, as open source that implements the report has them
 * (tests/reference/data/packml_commands.csv). OPC 30050 has no numbers for them: there they are methods. */
#define KR_COMMANDS(X) \
    X(RESET, 1, "acknowledge, and to Idle") \
    X(START, 2, "start the job in COMMAND_JOB") \
    X(STOP, 3, "stop in a controlled way and end the job; orders stay; not an emergency stop") \
    X(HOLD, 4, "stop in a controlled way; Unhold resumes") \
    X(UNHOLD, 5, "acknowledge, and resume") \
    X(SUSPEND, 6, "stop in a controlled way; Unsuspend resumes") \
    X(UNSUSPEND, 7, "resume") \
    X(ABORT, 8, "quick stop and drives off; what may have moved is unknown then; not an emergency stop") \
    X(CLEAR, 9, "acknowledge after an abort, and to Stopped")
enum kr_command {
#define X(name, number, text) KR_COMMAND_##name = number,
    KR_COMMANDS(X)
#undef X
};

/* What the register HALT takes: those commands that only stop, by their own numbers. */
#define KR_HALTS(X) \
    X(STOP, KR_COMMAND_STOP, "as Stop: in a controlled way, and the job ends") \
    X(HOLD, KR_COMMAND_HOLD, "as Hold: in a controlled way; Unhold resumes") \
    X(SUSPEND, KR_COMMAND_SUSPEND, "as Suspend: in a controlled way; Unsuspend resumes") \
    X(ABORT, KR_COMMAND_ABORT, "as Abort: quick stop and drives off; what may have moved is unknown then")
/* How strong a halt is: Suspend 1, Hold 2, Stop 3, Abort 4; 0 for a number that is none. */
int kr_halt_strength(uint16_t command);

#define KR_JOBS(X) \
    X(CHANGEOVER, 1, "set up the staged order, or the one in force again: COMMAND_ORDER says which") \
    X(VERIFY, 2, "scan and compare; nothing is moved") \
    X(PARK, 3, "all holders clear of the web") \
    X(HOME, 4, "reference the carriages") \
    X(RELEASE, 5, "guided release: brake closed, pin out, where the carriage stands") \
    X(JOG, 6, "hold-to-run: the rail's empty carriage, at reduced speed") \
    X(MOVE, 7, "move one holder to one place") \
    X(SCAN, 8, "look where the holders are, and nothing else: it needs no order") \
    X(TRY, 9, "hold-to-run: one output of one rail, COMMAND_OUTPUT, while the drive is off") \
    X(FIND, 10, "find the rail's references: takes its datum from them at reduced speed, then scans") \
    X(SCAN_BIAS, 11, \
      "scan both ways several times: measures the scan bias and its hysteresis, and sets nothing") \
    X(SWITCH_OFFSET, 12, \
      "drag one holder a little to and fro at reduced speed and scan it: measures how far the switch is " \
      "from " \
      "the pin, and sets nothing")
enum kr_job {
#define X(name, number, text) KR_JOB_##name = number,
    KR_JOBS(X)
#undef X
};
#define KR_JOB_LAST KR_JOB_SWITCH_OFFSET

#define KR_SPEEDS(X) \
    X(PRODUCTION, 0, "as configured") \
    X(REDUCED, 1, "reduced speed, for setting up")
enum kr_command_speed {
#define X(name, number, text) KR_SPEED_##name = number,
    KR_SPEEDS(X)
#undef X
};

#define KR_REQUEST_KINDS(X) \
    X(STAGE, 1, "judge the order and stage it") \
    X(CHECK, 2, "judge the order, stage nothing") \
    X(CANCEL, 3, "drop the staged order; the one behind it moves up") \
    X(QUEUE, 4, "judge the order and set it behind the staged one; stage it if there is none") \
    X(CLEAR, 5, "drop the staged order and all behind it") \
    X(STORE_RECIPE, 6, "judge the order and keep it as recipe RECIPE") \
    X(STAGE_RECIPE, 7, "judge recipe RECIPE and stage it, under ORDER_NUMBER") \
    X(QUEUE_RECIPE, 8, "judge recipe RECIPE and set it behind the staged order, under ORDER_NUMBER") \
    X(DROP_RECIPE, 9, "forget recipe RECIPE")
enum kr_request_kind {
#define X(name, number, text) KR_REQUEST_##name = number,
    KR_REQUEST_KINDS(X)
#undef X
};
#define KR_REQUEST_LAST KR_REQUEST_DROP_RECIPE

/* Maintenance requests; what of a holder each of them says is in the block EDIT. */
#define KR_EDIT_KINDS(X) \
    X(OFFSET, 1, "set the edge offset: it was measured better") \
    X(REGRIND, 2, "the knife is reground: set the edge offset, metres run begin anew") \
    X(SWAP, 3, "another knife or holder: set edge offset and size, metres and docking retries begin anew") \
    X(SIZE, 4, "set the size") \
    X(IN, 5, "back into service") \
    X(OUT, 6, "out of service: it no longer cuts, takes room, may be moved") \
    X(FIXED, 7, "seized: it stays where it stands") \
    X(ABSENT, 8, "taken off the rail") \
    X(INSERT, 9, "on the rail again, in service, at EDIT_POSITION") \
    X(TEST_CUT, 10, \
      "propose edge offsets from the measured strips of a test cut, for one rail: the first lower one, the " \
      "first upper one where there is none") \
    X(TEST_CUT_MORE, 11, "the same, along with the strips of the test cuts before") \
    X(APPLY, 12, "set the edge offsets that are proposed") \
    X(DATUM, 13, "the carriage stands at EDIT_POSITION: confirms a homing that went nowhere") \
    X(SHIFT, 14, \
      "the rail's holders were found off alike by EDIT_POSITION, the value of the alarm, and stand right " \
      "where they are found: confirms it, and the next scan measures them there") \
    X(BENCH, 18, \
      "confirms an edge offset that was measured at the bench; EDIT_HOLDER 0: those of the whole rail") \
    X(FEELER, 19, \
      "confirms an edge offset that was measured in place with a feeler gauge; EDIT_HOLDER 0: those of the " \
      "whole rail") \
    X(TRIAL, 20, \
      "the holder and its partners may be lowered for a test cut until their strips are entered; " \
      "EDIT_HOLDER 0: all that cut") \
    X(TRACE, 23, "keep what was recorded of the last minutes; in every unit state") \
    X(ENTER, 24, "enter a new knife in the ledger: it is on the shelf") \
    X(MOUNT, 25, \
      "the knife EDIT_KNIFE is mounted on the holder; a holder out of service comes back into service") \
    X(DISMOUNT, 26, \
      "the holder's knife is off, at EDIT_KNIFE_TO, and the holder out of service; EDIT_RAIL 0: the knife " \
      "EDIT_KNIFE is brought there") \
    X(REGROUND, 27, \
      "the holder's knife is reground: metres run begin anew; EDIT_RAIL 0: the knife EDIT_KNIFE came back " \
      "reground, on the shelf") \
    X(BROKEN, 28, \
      "the holder's knife is broken: it is off, and the holder out of service; EDIT_RAIL 0: the knife " \
      "EDIT_KNIFE broke off the machine") \
    X(SCRAP, 29, \
      "the holder's knife is scrapped: it is off, and the holder out of service; EDIT_RAIL 0: the knife " \
      "EDIT_KNIFE is") \
    X(FRAME, 32, \
      "set where the rail's carriage stands in the machine's frame, by what its drive says: offset, scale " \
      "and " \
      "table; only while the unit is Stopped or Idle") \
    X(FRAME_BACK, 33, \
      "take the last such request of the rail back: its frame is again what it was before; once more, and " \
      "it is " \
      "set anew") \
    X(SWITCH, 34, \
      "set the rail's proximity switch: its offset from the pin, and the bias of scans that go one way; " \
      "only " \
      "while the unit is Stopped or Idle") \
    X(SWITCH_BACK, 35, \
      "take the last such request of the rail back: both are again what they were before; once more, and " \
      "they are set anew")
enum kr_edit_kind {
#define X(name, number, text) KR_EDIT_##name = number,
    KR_EDIT_KINDS(X)
#undef X
};
#define KR_EDIT_LAST KR_EDIT_SWITCH_BACK

/* Where a knife of the ledger is. */
#define KR_KNIFE_PLACES(X) /* name, number, word, text */ \
    X(NONE, 0, "none", "it is not in the ledger") \
    X(HOLDER, 1, "holder", "on a holder") \
    X(SHELF, 2, "shelf", "on the shelf, ready to be mounted") \
    X(GRINDER, 3, "grinder", "at the grinder's") \
    X(BROKEN, 4, "broken", "broken") \
    X(SCRAPPED, 5, "scrapped", "scrapped")
enum kr_knife_place {
#define X(name, number, word, text) KR_KNIFE_##name = number,
    KR_KNIFE_PLACES(X)
#undef X
};

/* Why it broke. */
#define KR_KNIFE_CAUSES(X) /* name, number, word, text */ \
    X(UNKNOWN, 0, "unknown", "nobody knows") \
    X(CRASH, 1, "crash", "knives that touched, or a web that wrapped") \
    X(FOREIGN_BODY, 2, "foreign-body", "something hard in the web") \
    X(SETTING, 3, "setting", "overlap, side load or place were wrong") \
    X(HANDLING, 4, "handling", "it was dropped or struck") \
    X(CRACK, 5, "crack", "a crack that grew, or wear")
enum kr_knife_cause {
#define X(name, number, word, text) KR_CAUSE_##name = number,
    KR_KNIFE_CAUSES(X)
#undef X
};

#define KR_KNIFE_FRAGMENTS(X) /* name, number, word, text */ \
    X(NOT_SOUGHT, 0, "not-sought", "nobody has looked for them") \
    X(COMPLETE, 1, "complete", "all are there") \
    X(MISSING, 2, "missing", "some are missing: they may be in a roll or in the machine")
enum kr_knife_fragments {
#define X(name, number, word, text) KR_FRAGMENTS_##name = number,
    KR_KNIFE_FRAGMENTS(X)
#undef X
};

/* Which figures of a request about a knife count as written. */
#define KR_KNIFE_GIVENS(X) \
    X(OFFSET, 0, \
      "EDIT_OFFSET; else mount takes the edge position that the ledger has, and enter and reground leave " \
      "it " \
      "unknown") \
    X(METRES, 1, "with enter and mount: EDIT_KNIFE_METRES; else 0, and what the ledger has")
enum {
#define X(name, bit, text) KR_KNIFE_GIVEN_##name = 1 << (bit),
    KR_KNIFE_GIVENS(X)
#undef X
};

/* Where a rail's frame comes from, and what is known of its switch. */
#define KR_FRAME_ORIGINS(X) /* name, number, word, text */ \
    X(NONE, 0, "none", "the station has no such rail") \
    X(FILE, 1, "station file", "the station file has seeded it") \
    X(PERSON, 2, "maintenance", "a maintenance request has set it; EDIT_KIND FRAME_BACK takes that back")
enum kr_frame_origin {
#define X(name, number, word, text) KR_FRAME_FROM_##name = number,
    KR_FRAME_ORIGINS(X)
#undef X
};

#define KR_PHASES(X) \
    X(NONE, 0, "no job runs") \
    X(SCAN, 2, "holders are looked for") \
    X(PLAN, 3, "a plan is made") \
    X(UNCLAMP, 4, "common clamps open") \
    X(MOVE, 5, "holders are moved") \
    X(CLAMP, 6, "common clamps close") \
    X(VERIFY, 7, "the verification scan") \
    X(TRAVEL, 8, "carriages go to rest") \
    X(REFERENCE, 9, "carriages are homed") \
    X(FREE, 10, "pins are driven out") \
    X(JOG, 11, "hold-to-run") \
    X(TRY, 12, "one output is tried") \
    X(FIND, 13, "references are looked for") \
    X(GAUGE, 14, "the proximity switch is measured")
enum kr_phase {
#define X(name, number, text) KR_PHASE_##name = number,
    KR_PHASES(X)
#undef X
};

#define KR_CARRIAGE_PHASES(X) \
    X(OFF, 0, "drive off") \
    X(ENABLING, 1, "drive coming on") \
    X(READY, 2, "drive on, standing") \
    X(TRAVELLING, 3, "empty travel") \
    X(DOCKING, 4, "pin going in") \
    X(FREEING, 5, "brake opening") \
    X(DRAGGING, 6, "dragging a holder") \
    X(SETTLING, 7, "standing at the target") \
    X(BRAKING, 8, "brake closing") \
    X(UNDOCKING, 9, "pin coming out") \
    X(SCANNING, 10, "scan pass") \
    X(HOMING, 11, "homing") \
    X(STOPPING, 12, "coming to a stop") \
    X(BACKING, 13, "pin out again before another try to dock") \
    X(JOGGING, 14, "hold-to-run") \
    X(TRYING, 15, "one output is tried, the drive is off") \
    X(FINDING, 16, "looking for the references")
enum kr_carriage_phase {
#define X(name, number, text) KR_CARRIAGE_##name = number,
    KR_CARRIAGE_PHASES(X)
#undef X
};

/* Lists with words besides: what people read of the number. */

#define KR_ALIGNMENTS(X) \
    X(CENTRED, 0, "centred", "the slits lie centred on the web") \
    X(FROM_OPERATOR_EDGE, 1, "from the operator edge", "TRIM is given from the operator side")
enum kr_alignment {
#define X(name, number, word, text) KR_##name = number,
    KR_ALIGNMENTS(X)
#undef X
};

#define KR_EDGE_FLAG_BITS(X) \
    X(OPERATOR, 0, "operator edge untrimmed", \
      "the first slit's outer edge is the web's own edge: no trim there") \
    X(DRIVE, 1, "drive edge untrimmed", "the last slit's outer edge is the web's own edge: no trim there")
enum {
#define X(name, bit, word, text) KR_UNTRIMMED_##name = 1 << (bit),
    KR_EDGE_FLAG_BITS(X)
#undef X
};

#define KR_OUTCOMES(X) \
    X(NONE, 0, "none", "there is no record yet") \
    X(VERIFIED, 1, "verified", "every knife was measured at its place") \
    X(ENDED, 2, "ended without verification", \
      "the job ended, nothing says that the knives are at their places") \
    X(ABORTED, 3, "aborted", "the job was aborted")
enum kr_outcome {
#define X(name, number, word, text) KR_OUTCOME_##name = number,
    KR_OUTCOMES(X)
#undef X
};

/* What a run of the gateway could not say itself, the next one concludes: it ended without a word on a computer that
 * ran on, or that has started anew since. */
#define KR_RUN_ENDS(X) \
    X(UNKNOWN, 0, "unknown", "nobody knows: there is no book, it was the first run, or an older program's") \
    X(ASKED, 1, "asked", "it was asked to end, and came to rest and stored everything first") \
    X(HURRIED, 2, "hurried", "it was asked to end, and did before everything was at rest and stored") \
    X(NOT_STARTED, 3, "not started", "it could not start; its log says why") \
    X(KILLED, 4, "killed", "it ended without being asked, by a kill or a failure, and the computer ran on") \
    X(POWER, 5, "power lost", "the computer went down with it: the power was lost, or the computer was reset")
enum kr_run_end {
#define X(name, number, word, text) KR_RUN_##name = number,
    KR_RUN_ENDS(X)
#undef X
};

#define KR_WORD_ORDERS(X) /* word: in files; what people read is the text */ \
    X(HIGH_FIRST, 0, "high_word_first", "of a 32-bit value the first register has the higher 16 bits") \
    X(LOW_FIRST, 1, "low_word_first", "of a 32-bit value the first register has the lower 16 bits")
enum kr_word_order {
#define X(name, number, word, text) KR_WORD_ORDER_##name = number,
    KR_WORD_ORDERS(X)
#undef X
};

#define KR_CONTROLS(X) \
    X(FREE, 0, "free", "nobody is in control") \
    X(HELD, 1, "held", "CONTROL_HOLDER is in control") \
    X(PASSING, 2, "passing", "it was taken over and passes to CONTROL_HOLDER when nothing moves")
enum kr_control {
#define X(name, number, word, text) KR_CONTROL_##name = number,
    KR_CONTROLS(X)
#undef X
};

#define KR_ACCESS_REQUESTS(X) \
    X(TAKE, 1, "take", "takes control if nobody has it") \
    X(RELEASE, 2, "release", "releases it") \
    X(TAKE_OVER, 3, "take over", "takes it over (maintain right; motion stops first)")
enum kr_access_request {
#define X(name, number, word, text) KR_ACCESS_REQUEST_##name = number,
    KR_ACCESS_REQUESTS(X)
#undef X
};

#define KR_OWN_ROLES(X) \
    X(READ, 0, "read", "reads") \
    X(CONTROL, 1, "control", "reads, and commands while it is in control") \
    X(MAINTAIN, 2, "maintain", "changes holders' data besides, and may take control over")
enum kr_own_role {
#define X(name, number, word, text) KR_OWN_ROLE_##name = number,
    KR_OWN_ROLES(X)
#undef X
};

/* Why a request was refused, or is taken and does what hardly anybody means. */
#define KR_ODD_REASONS(X) \
    X(NONE, 0, "nothing was wrong") \
    X(NO_RIGHT, 1, "this address may not write there: the station file's rules say who may") \
    X(NOT_IN_CONTROL, 2, \
      "this client is not in control: write 1 to ACCESS_REQUEST (holding 16) where nobody is") \
    X(NO_ADDRESS, 3, "there is no such register or bit; addresses count from 0") \
    X(LEAVES_BLOCK, 4, "the write leaves its block: nothing of it was taken") \
    X(READ_ONLY, 5, "input registers are read at 10000 and more, and can't be written") \
    X(MALFORMED, 6, "quantity, length or value is none that the function or the register has") \
    X(FUNCTION, 7, "the function is unknown, or this address may not even read") \
    X(BUSY, 8, "another request is judged, or too many wait: the same request a little later is taken") \
    X(NUMBER_0, 9, \
      "a command was written with the number 0, which gives none: take the number behind COMMAND_ECHO") \
    X(ONE_TOO_HIGH, 10, \
      "COMMAND_OUTPUT was written without the job that it is for: the command's registers stand one too " \
      "high") \
    X(HALF_VALUE, 11, "half of a 32-bit value was written: write both registers in one request") \
    X(KEPT_NOWHERE, 12, \
      "the register means nothing and keeps nothing: look for an address that is off by one") \
    X(READS_WRITTEN, 13, \
      "function 03 at these addresses reads what clients wrote: input register a is read by function 04, " \
      "or by 03 at 10000 + a")
enum kr_odd_reason {
#define X(name, number, text) KR_ODD_##name = number,
    KR_ODD_REASONS(X)
#undef X
};

struct kr_named_number {
    const char *set; /* the register that names it: "PERMISSIVES", "STATUS", "UNIT_STATE", ... */
    const char *name;
    int number; /* a bit's number in a set of bits */
    const char *text;
    const char *word; /* what people read; NULL: the name */
};
/* Every named bit and number of the map, for documents; beyond the last: NULL. */
const struct kr_named_number *kr_named_number(size_t index);
/* That number, or bit, of that list; NULL if the list has none of it, or if set is NULL. */
const struct kr_named_number *kr_named(const char *set, int number);
/* The word of a number of a list that has words, "out of service" for ("HOLDER_STATE", 1); "?" where there is none. */
const char *kr_number_word(const char *set, int number);

/* ---- typed access to words --------------------------------------------------------------------------------- */

struct kr_format {
    enum kr_length_unit length_unit;
    bool low_word_first;
};

/* The station's input registers; word[a] is input register a, in host byte order. */
struct kr_image {
    struct kr_format format;
    uint16_t word[KR_MAP_INPUT_WORDS];
};
void kr_image_clear(struct kr_image *image, struct kr_format format);
void kr_image_set_u16(struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index, uint16_t value);
void kr_image_set_32(struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index, uint32_t value);
void kr_image_set_um(struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index, int32_t um);
void kr_image_set_text(struct kr_image *image, enum kr_reg reg, const char *text);

/* The same the other way, of an image that was read from a station: its values are whatever came over the wire. Of a
 * text what is not printable ASCII becomes a '?'; it is closed with a 0. */
uint16_t kr_get_u16(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index);
int32_t kr_get_i32(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index);
int32_t kr_get_um(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index);
void kr_get_text(const struct kr_image *image, enum kr_reg reg, char *text, size_t size);
/* The name of a size of holders; "?" if the station lists none of that number. */
void kr_get_size_name(const struct kr_image *image, uint16_t number, char text[KR_SIZE_NAME_MAX]);
/* Rails, holders of a rail and cut lines of an order, as the image says, within what the map has room for. */
uint16_t kr_get_rails(const struct kr_image *image);
uint16_t kr_get_holders(const struct kr_image *image, uint16_t rail);
/* The registers of an order's cut lines: of the order in force, and of the staged one. [0] is the operator side. */
struct kr_cut_registers {
    enum kr_reg order, count, trim[2], web[2], line;
};
extern const struct kr_cut_registers kr_cuts_in_force, kr_cuts_staged;
uint16_t kr_get_cut_lines(const struct kr_image *image, const struct kr_cut_registers *of);

/* A register of a writable block; word[0] is the block's first register, as the face keeps it. */
uint16_t kr_block_u16(const uint16_t *word, enum kr_block_id block, enum kr_reg reg, uint16_t index);
uint32_t kr_block_u32(const uint16_t *word, enum kr_block_id block, enum kr_reg reg, uint16_t index,
                      struct kr_format format);

/* A copy of a writable block, as it stood when its trigger was written. word[0] is the block's first register. */
struct kr_snapshot {
    bool present;
    bool overtaken; /* a HALT was written after it was handed over, and before the station took it */
    uint16_t word[KR_MAP_BLOCK_WORDS_MAX];
};
uint16_t kr_snapshot_u16(const struct kr_snapshot *snapshot, enum kr_block_id block, enum kr_reg reg,
                         uint16_t index);
int32_t kr_snapshot_i32(const struct kr_snapshot *snapshot, enum kr_block_id block, enum kr_reg reg,
                        uint16_t index, struct kr_format format);
int64_t kr_snapshot_nm(const struct kr_snapshot *snapshot, enum kr_block_id block, enum kr_reg reg,
                       uint16_t index, struct kr_format format);

#endif
