/* map: the register map as data (regmap.def), and typed access to the registers that the map describes. The map
 * belongs to base: the station writes its image through it, the face serves the registers, and neither part knows the
 * other. Pure. */
#ifndef KNIFERAIL_MAP_H
#define KNIFERAIL_MAP_H

#include "kniferail/base.h"

#define KR_MAP_VERSION          2        /* open: regmap.def says when it grows */
#define KR_MAP_WORD_ORDER_PROOF 16909060 /* 0x01020304 */
#define KR_MAP_WINDOW           10000    /* input register a can also be read as holding register KR_MAP_WINDOW + a */
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
/* LENGTH: counts of the station's unit of length. BY_CODE: the kind that the result or alarm code has; a length is in
 * counts of the station's unit. */
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
/* Who may write a register. CONTROL: the client in control. MAINTAIN: clients that may maintain. HALT: every client
 * that may control or maintain, whether it is in control or not. */
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

/* Each row has one number: KR_REG_<name>, KR_BLOCK_<name>. */
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
    uint16_t address;  /* of the first element; in a row per rail: that of rail 1 */
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
    enum kr_reg trigger; /* KR_REG_NONE: the block has none */
    uint8_t depth;
    const char *meaning;
};
struct kr_bits_info {
    const char *name;
    enum kr_area area; /* COIL or DISCRETE */
    uint16_t address;  /* in a row per rail: that of rail 1 */
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
/* A difference of this version of the map from the version before. */
struct kr_map_change_info {
    const char *kind; /* "NEW", "CHANGED", "GONE" */
    const char *name, *what;
};
/* Each returns NULL for a number beyond its last row, and kr_reg_info() for KR_REG_NONE, too. */
const struct kr_reg_info *kr_reg_info(enum kr_reg reg);
const struct kr_block_info *kr_block_info(enum kr_block_id block);
const struct kr_bits_info *kr_bits_info(size_t index);
const struct kr_room_info *kr_room_info(size_t index);
const struct kr_map_change_info *kr_map_change_info(size_t index);
uint16_t kr_reg_words(enum kr_reg_type type); /* number of registers of one element */
/* Address of an element. The parameter rail is read only if the row is per rail. */
uint16_t kr_reg_address(enum kr_reg reg, uint16_t rail, uint16_t index);

/* ---- named bits and numbers: part of the map -------------------------------------------------------------- */

/* Permissives: the bits of PERMISSIVES, which the PLC writes, and of PERMISSIVES_SEEN, which has those that count. */
#define KR_PERMISSIVES(X) \
    X(LINE_STOPPED, 0, "the line stands and is kept from starting") \
    X(KNIVES_RAISED, 1, "all knives are raised") \
    X(GUARDS_CLOSED, 2, "the guards are closed") \
    X(AIR, 3, "compressed air is available") \
    X(ENABLE, 4, "the positioner may be enabled")
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
      "positions are not measured, so a scan comes before the next move; the holder that a job is just " \
      "moving does not count") \
    X(HEARTBEAT_FRESH, 5, "the PLC's heartbeat keeps changing in time") \
    X(LINK, 6, "every positioner answers") \
    X(BOOK, 7, "everything that must be stored is stored, where a book is configured") \
    X(REFERENCED, 8, "every carriage has its datum") \
    X(PINS_OUT, 9, "every pin is proven out") \
    X(CLAMPED, 10, "every clamp is proven closed") \
    X(PARKED, 11, "every carriage is parked clear") \
    X(PERMITTED, 12, "all permissives that a changeover needs are given") \
    X(REDUCED_SPEED, 13, "the job runs at reduced speed")
enum {
#define X(name, bit, text) KR_STATUS_##name = 1 << (bit),
    KR_STATUS_BITS(X)
#undef X
};

#define KR_LINE_BITS(X) \
    X(MAY_RUN, 0, \
      "a line that runs may go on: since MAY_START was 1, nothing has happened that could have moved a " \
      "knife") \
    X(MAY_LOWER, 1, "the knives in CUTTING may be lowered") \
    X(RAISE, 2, "the knives have to be raised: a job is under way") \
    X(TEST_CUT, 3, "the knives in CUTTING may be lowered for a test cut alone: an edge is not proven yet") \
    X(MAY_START, 4, "the line may be started: everything is proven now")
enum {
#define X(name, bit, text) KR_LINE_##name = 1 << (bit),
    KR_LINE_BITS(X)
#undef X
};

/* Why a proof does not count at present. */
#define KR_LINE_DOUBTS(X) \
    X(ACCESS, 0, "an access is open, or no signal says that it is closed: hands may be at the knives") \
    X(DRIVES, 1, "a drive has no power or no link") \
    X(SET_ASIDE, 2, \
      "proofs are set aside: they count again once ACCESS_COUNT and the drives show that nobody was at the " \
      "knives")
enum {
#define X(name, bit, text) KR_DOUBT_##name = 1 << (bit),
    KR_LINE_DOUBTS(X)
#undef X
};

/* Crashes that the PLC reports. */
#define KR_CRASHES(X) \
    X(KNIFE_BROKEN, 0, "a knife broke or was struck") \
    X(WEB_WRAPPED, 1, "the web wrapped round knives or round their shaft")
enum {
#define X(name, bit, text) KR_CRASH_##name = 1 << (bit),
    KR_CRASHES(X)
#undef X
};

/* Unit states of the PackML state model (ISA-TR88.00.02), with the numbers that OPC 30050 publishes. */
#define KR_UNIT_STATES(X) \
    X(CLEARING, 1, "the unit winds down after an abort") \
    X(STOPPED, 2, "the unit rests; Reset leads to Idle") \
    X(STARTING, 3, "the unit checks whether the job may begin") \
    X(IDLE, 4, "the unit is ready for Start") \
    X(SUSPENDED, 5, "a permissive, the heartbeat or control was lost: Unsuspend resumes") \
    X(EXECUTE, 6, "the job runs; all motion happens here") \
    X(STOPPING, 7, "the unit winds down to Stopped") \
    X(ABORTING, 8, "the unit makes a quick stop") \
    X(ABORTED, 9, "motion could not be trusted; Clear leads to Stopped") \
    X(HOLDING, 10, "the unit winds down to Held") \
    X(HELD, 11, "an operator or a fault holds the job; Unhold resumes") \
    X(UNHOLDING, 12, "the unit checks whether the job may go on") \
    X(SUSPENDING, 13, "the unit winds down to Suspended") \
    X(UNSUSPENDING, 14, "the unit checks whether the job may go on") \
    X(RESETTING, 15, "the unit acknowledges alarms whose cause is gone") \
    X(COMPLETING, 16, "the unit switches the drives off and makes the record") \
    X(COMPLETE, 17, "the job is done; Reset leads to Idle")
enum kr_unit_state {
#define X(name, number, text) KR_STATE_##name = number,
    KR_UNIT_STATES(X)
#undef X
};

/* Commands, with the numbers of PackML's tag Command.CntrlCmd as they stand in open source that implements the report
 * (tests/reference/data/packml_commands.csv). OPC 30050 has no numbers for commands: they are methods there. */
#define KR_COMMANDS(X) \
    X(RESET, 1, "acknowledges alarms and leads to Idle") \
    X(START, 2, "starts the job in COMMAND_JOB") \
    X(STOP, 3, "stops in a controlled way and ends the job; orders stay; it is not an emergency stop") \
    X(HOLD, 4, "stops in a controlled way; Unhold resumes") \
    X(UNHOLD, 5, "acknowledges alarms and resumes") \
    X(SUSPEND, 6, "stops in a controlled way; Unsuspend resumes") \
    X(UNSUSPEND, 7, "resumes") \
    X(ABORT, 8, \
      "makes a quick stop and switches the drives off; places of holders that may have moved are unknown " \
      "then; it is not an emergency stop") \
    X(CLEAR, 9, "acknowledges alarms after an abort and leads to Stopped")
enum kr_command {
#define X(name, number, text) KR_COMMAND_##name = number,
    KR_COMMANDS(X)
#undef X
};

/* The commands that the register HALT takes: those that only stop, with their own numbers. */
#define KR_HALTS(X) \
    X(STOP, KR_COMMAND_STOP, "stops in a controlled way and ends the job, as Stop does") \
    X(HOLD, KR_COMMAND_HOLD, "stops in a controlled way, as Hold does; Unhold resumes") \
    X(SUSPEND, KR_COMMAND_SUSPEND, "stops in a controlled way, as Suspend does; Unsuspend resumes") \
    X(ABORT, KR_COMMAND_ABORT, \
      "makes a quick stop and switches the drives off, as Abort does; places of holders that may have " \
      "moved are unknown then")
/* How strong a halt is: Suspend 1, Hold 2, Stop 3, Abort 4; 0 for a number that is no halt. */
int kr_halt_strength(uint16_t command);

#define KR_JOBS(X) \
    X(CHANGEOVER, 1, "sets up the staged order, or the order in force again: COMMAND_ORDER says which") \
    X(VERIFY, 2, "scans and compares; it moves no holder") \
    X(PARK, 3, "moves all holders clear of the web") \
    X(HOME, 4, "homes the carriages, which gives them their datum") \
    X(RELEASE, 5, "guided release: closes the brake and drives the pin out where the carriage stands") \
    X(JOG, 6, "moves the rail's empty carriage, held to run, at reduced speed") \
    X(MOVE, 7, "moves one holder to one place") \
    X(SCAN, 8, "scans where the holders are, and does nothing else; it needs no order") \
    X(TRY, 9, "switches one output of one rail (COMMAND_OUTPUT), held to run, while the drive is off") \
    X(FIND, 10, "finds the rail's references at reduced speed, takes the datum from them, then scans") \
    X(SCAN_BIAS, 11, \
      "scans both ways several times, which measures the scan bias and its hysteresis; it sets nothing") \
    X(SWITCH_OFFSET, 12, \
      "drags one holder a little to and fro at reduced speed and scans it, which measures how far the " \
      "switch is from the pin; it sets nothing")
enum kr_job {
#define X(name, number, text) KR_JOB_##name = number,
    KR_JOBS(X)
#undef X
};
#define KR_JOB_LAST KR_JOB_SWITCH_OFFSET

#define KR_SPEEDS(X) \
    X(PRODUCTION, 0, "the speed that is configured") \
    X(REDUCED, 1, "reduced speed, for setting up")
enum kr_command_speed {
#define X(name, number, text) KR_SPEED_##name = number,
    KR_SPEEDS(X)
#undef X
};

#define KR_REQUEST_KINDS(X) \
    X(STAGE, 1, "judges the order and stages it") \
    X(CHECK, 2, "judges the order and stages nothing") \
    X(CANCEL, 3, "drops the staged order; the order behind it moves up") \
    X(QUEUE, 4, "judges the order and puts it behind the staged one, or stages it if there is none") \
    X(CLEAR, 5, "drops the staged order and all orders behind it") \
    X(STORE_RECIPE, 6, "judges the order and stores it as the recipe of number RECIPE") \
    X(STAGE_RECIPE, 7, "judges the recipe of number RECIPE and stages it under ORDER_NUMBER") \
    X(QUEUE_RECIPE, 8, "judges the recipe of number RECIPE and puts it behind the staged order under ORDER_NUMBER") \
    X(DROP_RECIPE, 9, "deletes the recipe of number RECIPE")
enum kr_request_kind {
#define X(name, number, text) KR_REQUEST_##name = number,
    KR_REQUEST_KINDS(X)
#undef X
};
#define KR_REQUEST_LAST KR_REQUEST_DROP_RECIPE

/* Maintenance requests. Their data are in the block EDIT. */
#define KR_EDIT_KINDS(X) \
    X(OFFSET, 1, "sets the edge offset, because it was measured more accurately") \
    X(REGRIND, 2, "sets the edge offset of a reground knife; its metres begin anew") \
    X(SWAP, 3, "sets edge offset and size of another knife or holder; metres and docking retries begin anew") \
    X(SIZE, 4, "sets the size") \
    X(IN, 5, "puts the holder back into service") \
    X(OUT, 6, "takes the holder out of service: it no longer cuts, but it takes room and may be moved") \
    X(FIXED, 7, "marks the holder as seized: it stays where it stands") \
    X(ABSENT, 8, "tells that the holder was taken off the rail") \
    X(INSERT, 9, "tells that the holder is on the rail again, in service, at EDIT_POSITION") \
    X(TEST_CUT, 10, \
      "proposes edge offsets for one rail from the measured strips of a test cut; the rail is the first " \
      "lower one, or the first upper one where there is no lower one. Strips within tolerance prove the edges " \
      "of that rail that are on trial; those of its partners only where EDIT_PAIRS_LOOKED_AT states that a " \
      "person has looked at each pair") \
    X(TEST_CUT_MORE, 11, "does the same as TEST_CUT, and uses the strips of the earlier test cuts as well") \
    X(APPLY, 12, "sets the edge offsets that are proposed") \
    X(DATUM, 13, "confirms that the carriage stands at EDIT_POSITION after a homing that moved nothing") \
    X(SHIFT, 14, \
      "confirms that the rail's holders stand right although they were found off by EDIT_POSITION, which " \
      "is the alarm's value; the next scan measures them there") \
    X(BENCH, 18, "confirms an edge offset that was measured at the bench; EDIT_HOLDER 0 means the whole rail") \
    X(FEELER, 19, \
      "confirms an edge offset that was measured in place with a feeler gauge; EDIT_HOLDER 0 means the " \
      "whole rail") \
    X(TRIAL, 20, \
      "allows the holder and its partners to be lowered for a test cut until their strips are entered; " \
      "EDIT_HOLDER 0 means all holders that cut. Before they are lowered a person has to look, with drives and " \
      "air locked out, whether each upper blade stands beside its counter-knife") \
    X(TRACE, 23, "keeps the recording of the last minutes; it is possible in every unit state") \
    X(ENTER, 24, "enters a new knife in the ledger; it is on the shelf") \
    X(MOUNT, 25, \
      "tells that the knife EDIT_KNIFE was mounted on the holder; a holder out of service comes back into " \
      "service") \
    X(DISMOUNT, 26, \
      "tells that the holder's knife was taken off and is at EDIT_KNIFE_TO; the holder goes out of " \
      "service. With EDIT_RAIL 0, the knife EDIT_KNIFE was brought there") \
    X(REGROUND, 27, \
      "tells that the holder's knife was reground; its metres begin anew. With EDIT_RAIL 0, the knife " \
      "EDIT_KNIFE came back reground and is on the shelf") \
    X(BROKEN, 28, \
      "tells that the holder's knife broke and was taken off; the holder goes out of service. With " \
      "EDIT_RAIL 0, the knife EDIT_KNIFE broke off the machine") \
    X(SCRAP, 29, \
      "tells that the holder's knife was taken off and scrapped; the holder goes out of service. With " \
      "EDIT_RAIL 0, the knife EDIT_KNIFE was scrapped") \
    X(FRAME, 32, \
      "sets the rail's frame, which turns its drive's positions into places: offset, scale and table; only " \
      "while the unit is Stopped or Idle") \
    X(FRAME_BACK, 33, \
      "takes the rail's last such request back and restores the frame before it; the same request again " \
      "brings the newer frame back") \
    X(SWITCH, 34, \
      "sets the offset of the rail's proximity switch from the pin, and the bias of scans that go one way; " \
      "only while the unit is Stopped or Idle") \
    X(SWITCH_BACK, 35, \
      "takes the rail's last such request back and restores both values before it; the same request again " \
      "brings the newer values back") \
    X(TIMES, 36, \
      "sets the rail's planned times of docking and undocking, and those of each travel of its carriage for " \
      "the set-point and the rounding; only while the unit is Stopped or Idle") \
    X(TIMES_BACK, 37, \
      "takes the rail's last such request back and restores the four times before it; the same request " \
      "again brings the newer times back")
enum kr_edit_kind {
#define X(name, number, text) KR_EDIT_##name = number,
    KR_EDIT_KINDS(X)
#undef X
};
#define KR_EDIT_LAST KR_EDIT_TIMES_BACK

/* Where a knife of the ledger is. */
#define KR_KNIFE_PLACES(X) /* name, number, word, text */ \
    X(NONE, 0, "none", "the knife is not in the ledger") \
    X(HOLDER, 1, "holder", "the knife is on a holder") \
    X(SHELF, 2, "shelf", "the knife is on the shelf and may be mounted") \
    X(GRINDER, 3, "grinder", "the knife is at the grinder's") \
    X(BROKEN, 4, "broken", "the knife is broken") \
    X(SCRAPPED, 5, "scrapped", "the knife is scrapped")
enum kr_knife_place {
#define X(name, number, word, text) KR_KNIFE_##name = number,
    KR_KNIFE_PLACES(X)
#undef X
};

/* Why a knife broke. */
#define KR_KNIFE_CAUSES(X) /* name, number, word, text */ \
    X(UNKNOWN, 0, "unknown", "the cause is not known") \
    X(CRASH, 1, "crash", "knives touched each other, or a web wrapped round them") \
    X(FOREIGN_BODY, 2, "foreign-body", "a hard object was in the web") \
    X(SETTING, 3, "setting", "overlap, side load or place was wrong") \
    X(HANDLING, 4, "handling", "the knife was dropped or struck") \
    X(CRACK, 5, "crack", "a crack grew, or the knife was worn")
enum kr_knife_cause {
#define X(name, number, word, text) KR_CAUSE_##name = number,
    KR_KNIFE_CAUSES(X)
#undef X
};

/* Whether the fragments of a broken knife were found. */
#define KR_KNIFE_FRAGMENTS(X) /* name, number, word, text */ \
    X(NOT_SOUGHT, 0, "not-sought", "nobody has looked for the fragments") \
    X(COMPLETE, 1, "complete", "all fragments were found") \
    X(MISSING, 2, "missing", "fragments are missing: they may be in a roll or in the machine")
enum kr_knife_fragments {
#define X(name, number, word, text) KR_FRAGMENTS_##name = number,
    KR_KNIFE_FRAGMENTS(X)
#undef X
};

/* Which registers of a request about a knife count as written. */
#define KR_KNIFE_GIVENS(X) \
    X(OFFSET, 0, \
      "EDIT_OFFSET counts as written; without this bit, mount takes the edge position from the ledger, and " \
      "enter and reground leave it unknown") \
    X(METRES, 1, \
      "EDIT_KNIFE_METRES counts as written, with enter and mount; without this bit, enter takes 0, and " \
      "mount takes the metres from the ledger")
enum {
#define X(name, bit, text) KR_KNIFE_GIVEN_##name = 1 << (bit),
    KR_KNIFE_GIVENS(X)
#undef X
};

/* The origin of a rail's frame, of its switch offset and scan bias, or of its planned times. */
#define KR_FRAME_ORIGINS(X) /* name, number, word, text */ \
    X(NONE, 0, "none", "the station has no such rail") \
    X(FILE, 1, "station file", "the values come from the station file") \
    X(PERSON, 2, "maintenance", \
      "a maintenance request has set the values; FRAME_BACK, SWITCH_BACK or TIMES_BACK takes it back")
enum kr_frame_origin {
#define X(name, number, word, text) KR_FRAME_FROM_##name = number,
    KR_FRAME_ORIGINS(X)
#undef X
};

#define KR_PHASES(X) \
    X(NONE, 0, "no job runs") \
    X(SCAN, 2, "the carriages look for the holders") \
    X(PLAN, 3, "the planner makes a plan") \
    X(UNCLAMP, 4, "the common clamps open") \
    X(MOVE, 5, "the carriages move holders") \
    X(CLAMP, 6, "the common clamps close") \
    X(VERIFY, 7, "the verification scan runs") \
    X(TRAVEL, 8, "the carriages travel to their park positions") \
    X(REFERENCE, 9, "the carriages are homed") \
    X(FREE, 10, "the pins are driven out") \
    X(JOG, 11, "the carriage is jogged, held to run") \
    X(TRY, 12, "one output is tried") \
    X(FIND, 13, "the carriages look for the references") \
    X(GAUGE, 14, "the proximity switch is measured")
enum kr_phase {
#define X(name, number, text) KR_PHASE_##name = number,
    KR_PHASES(X)
#undef X
};

#define KR_CARRIAGE_PHASES(X) \
    X(OFF, 0, "the drive is off") \
    X(ENABLING, 1, "the drive is being enabled") \
    X(READY, 2, "the drive is on, and the carriage stands") \
    X(TRAVELLING, 3, "the carriage travels without a holder") \
    X(DOCKING, 4, "the pin goes in") \
    X(FREEING, 5, "the brake opens") \
    X(DRAGGING, 6, "the carriage drags a holder") \
    X(SETTLING, 7, "the carriage stands at the target") \
    X(BRAKING, 8, "the brake closes") \
    X(UNDOCKING, 9, "the pin comes out") \
    X(SCANNING, 10, "the carriage makes a pass of a scan") \
    X(HOMING, 11, "the carriage is homed") \
    X(STOPPING, 12, "the carriage comes to a stop") \
    X(BACKING, 13, "the pin comes out again before another attempt to dock") \
    X(JOGGING, 14, "the carriage is jogged, held to run") \
    X(TRYING, 15, "one output is tried while the drive is off") \
    X(FINDING, 16, "the carriage looks for the references")
enum kr_carriage_phase {
#define X(name, number, text) KR_CARRIAGE_##name = number,
    KR_CARRIAGE_PHASES(X)
#undef X
};

/* The following lists have a word for each number besides, which people read instead of the number. */

#define KR_ALIGNMENTS(X) \
    X(CENTRED, 0, "centred", "the slits lie centred on the web") \
    X(FROM_OPERATOR_EDGE, 1, "from the operator edge", "TRIM gives the trim at the operator side")
enum kr_alignment {
#define X(name, number, word, text) KR_##name = number,
    KR_ALIGNMENTS(X)
#undef X
};

#define KR_EDGE_FLAG_BITS(X) \
    X(OPERATOR, 0, "operator edge untrimmed", "the first slit's outer edge is the web's own edge: there is no trim") \
    X(DRIVE, 1, "drive edge untrimmed", "the last slit's outer edge is the web's own edge: there is no trim")
enum {
#define X(name, bit, word, text) KR_UNTRIMMED_##name = 1 << (bit),
    KR_EDGE_FLAG_BITS(X)
#undef X
};

#define KR_OUTCOMES(X) \
    X(NONE, 0, "none", "there is no record yet") \
    X(VERIFIED, 1, "verified", "every knife was measured at its place") \
    X(ENDED, 2, "ended without verification", "the job ended, and nothing proves that the knives are at their places") \
    X(ABORTED, 3, "aborted", "the job was aborted")
enum kr_outcome {
#define X(name, number, word, text) KR_OUTCOME_##name = number,
    KR_OUTCOMES(X)
#undef X
};

/* How a run of the gateway ended. A run that was killed could not store that itself. The next run then concludes it
 * from whether the computer ran on, or has started anew since. */
#define KR_RUN_ENDS(X) \
    X(UNKNOWN, 0, "unknown", \
      "it is not known: there is no book, this is the first run, or an older program ran before") \
    X(ASKED, 1, "asked", \
      "the gateway was told to end; before that it brought everything to rest and stored everything") \
    X(HURRIED, 2, "hurried", "the gateway was told to end, and ended before everything was at rest and stored") \
    X(NOT_STARTED, 3, "not started", "the gateway could not start; its log says why") \
    X(KILLED, 4, "killed", "the gateway ended by a kill or a failure without being told to, and the computer ran on") \
    X(POWER, 5, "power lost", "the computer went down with the gateway: the power was lost, or the computer was reset")
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
    X(PASSING, 2, "passing", "control was taken over, and passes to CONTROL_HOLDER once nothing moves")
enum kr_control {
#define X(name, number, word, text) KR_CONTROL_##name = number,
    KR_CONTROLS(X)
#undef X
};

#define KR_ACCESS_REQUESTS(X) \
    X(TAKE, 1, "take", "takes control if no client has it") \
    X(RELEASE, 2, "release", "releases control") \
    X(TAKE_OVER, 3, "take over", "takes control over; this needs the right to maintain, and motion stops first")
enum kr_access_request {
#define X(name, number, word, text) KR_ACCESS_REQUEST_##name = number,
    KR_ACCESS_REQUESTS(X)
#undef X
};

#define KR_OWN_ROLES(X) \
    X(READ, 0, "read", "the client may read") \
    X(CONTROL, 1, "control", "the client may read, and may command while it is in control") \
    X(MAINTAIN, 2, "maintain", "the client may do the same, may change holders' data, and may take control over")
enum kr_own_role {
#define X(name, number, word, text) KR_OWN_ROLE_##name = number,
    KR_OWN_ROLES(X)
#undef X
};

/* Why a request was refused, or was taken although it does something that hardly anybody intends. */
#define KR_ODD_REASONS(X) \
    X(NONE, 0, "nothing was wrong") \
    X(NO_RIGHT, 1, "this address may not write there; the station file's rules say which addresses may") \
    X(NOT_IN_CONTROL, 2, "this client is not in control: write 1 to ACCESS_REQUEST (holding 16) while no client is") \
    X(NO_ADDRESS, 3, "there is no such register or bit; addresses count from 0") \
    X(LEAVES_BLOCK, 4, "the write leaves its block, so nothing of it was taken") \
    X(READ_ONLY, 5, "input registers are read at 10000 and more, and cannot be written") \
    X(MALFORMED, 6, "the function or the register does not allow this quantity, length or value") \
    X(FUNCTION, 7, "the function is unknown, or this address may not even read") \
    X(BUSY, 8, "another request is being judged, or too many wait: the same request is taken a little later") \
    X(NUMBER_0, 9, \
      "a command was written with the number 0, which gives no command: take the number that follows " \
      "COMMAND_ECHO") \
    X(ONE_TOO_HIGH, 10, \
      "COMMAND_OUTPUT was written without the job that it is for: the command's registers were written one " \
      "address too high") \
    X(HALF_VALUE, 11, "half of a 32-bit value was written: write both registers in one request") \
    X(KEPT_NOWHERE, 12, "the register has no meaning and keeps no value: look for an address that is off by one") \
    X(READS_WRITTEN, 13, \
      "function 03 at these addresses reads what clients wrote: input register a is read by function 04, " \
      "or by 03 at 10000 + a")
enum kr_odd_reason {
#define X(name, number, text) KR_ODD_##name = number,
    KR_ODD_REASONS(X)
#undef X
};

struct kr_named_number {
    const char *set; /* the register that has the list: "PERMISSIVES", "STATUS", "UNIT_STATE", ... */
    const char *name;
    int number; /* a bit's number in a set of bits */
    const char *text;
    const char *word; /* people read this word; NULL: they read the name */
};
/* Every named bit and number of the map, for documents; NULL beyond the last. */
const struct kr_named_number *kr_named_number(size_t index);
/* The row of a number or bit in a list; NULL if the list does not have it, or if set is NULL. */
const struct kr_named_number *kr_named(const char *set, int number);
/* The word of a number in a list that has words, such as "out of service" for ("HOLDER_STATE", 1); "?" if the list has
 * no word for the number. */
const char *kr_number_word(const char *set, int number);

/* ---- typed access to registers ----------------------------------------------------------------------------- */

struct kr_format {
    enum kr_length_unit length_unit;
    bool low_word_first;
};

/* The station's input registers: word[a] is input register a, in host byte order. */
struct kr_image {
    struct kr_format format;
    uint16_t word[KR_MAP_INPUT_WORDS];
};
void kr_image_clear(struct kr_image *image, struct kr_format format);
void kr_image_set_u16(struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index, uint16_t value);
void kr_image_set_32(struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index, uint32_t value);
void kr_image_set_um(struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index, int32_t um);
void kr_image_set_text(struct kr_image *image, enum kr_reg reg, const char *text);

/* These functions read an image that came from a station; its values can be anything that came over the wire. In a
 * text, each character that is not printable ASCII becomes a '?'. The text is closed with a 0. */
uint16_t kr_get_u16(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index);
int32_t kr_get_i32(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index);
int32_t kr_get_um(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index);
void kr_get_text(const struct kr_image *image, enum kr_reg reg, char *text, size_t size);
/* The name of a size of holders; "?" if the station lists none of that number. */
void kr_get_size_name(const struct kr_image *image, uint16_t number, char text[KR_SIZE_NAME_MAX]);
/* The numbers of rails, of a rail's holders, and of an order's cut lines, as the image has them, but no more than the
 * map has room for. */
uint16_t kr_get_rails(const struct kr_image *image);
uint16_t kr_get_holders(const struct kr_image *image, uint16_t rail);
/* The registers of an order's cut lines, for the order in force and for the staged order. [0] is the operator side. */
struct kr_cut_registers {
    enum kr_reg order, count, trim[2], web[2], line;
};
extern const struct kr_cut_registers kr_cuts_in_force, kr_cuts_staged;
uint16_t kr_get_cut_lines(const struct kr_image *image, const struct kr_cut_registers *of);

/* A register of a writable block as the face keeps it. word[0] is the block's first register. */
uint16_t kr_block_u16(const uint16_t *word, enum kr_block_id block, enum kr_reg reg, uint16_t index);
uint32_t kr_block_u32(const uint16_t *word, enum kr_block_id block, enum kr_reg reg, uint16_t index,
                      struct kr_format format);

/* A copy of a writable block, made when its trigger was written. word[0] is the block's first register. */
struct kr_snapshot {
    bool present;
    bool overtaken; /* a HALT was written after the block was handed over and before the copy was taken */
    uint16_t word[KR_MAP_BLOCK_WORDS_MAX];
};
uint16_t kr_snapshot_u16(const struct kr_snapshot *snapshot, enum kr_block_id block, enum kr_reg reg, uint16_t index);
int32_t kr_snapshot_i32(const struct kr_snapshot *snapshot, enum kr_block_id block, enum kr_reg reg, uint16_t index,
                        struct kr_format format);
int64_t kr_snapshot_nm(const struct kr_snapshot *snapshot, enum kr_block_id block, enum kr_reg reg, uint16_t index,
                       struct kr_format format);

#endif
