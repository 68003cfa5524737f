#include "settings.h"

#include "kniferail/map.h"

#define USUAL " (the default is common practice, no published source)"

/* Positions: the simulated machine's range, far from where 32 bits of micrometres end. */
#define LOW_UM  (-1000000)
#define HIGH_UM 20000000
#define MM      ((int64_t)1000) /* in micrometres */
#define MM_NM   ((int64_t)1000000)

static const char *const length_units[] = {
#define X(name, number, word, text) [number] = (word),
    KR_LENGTH_UNITS(X)
#undef X
        NULL};
const char *const kr_word_orders[] = {
#define X(name, number, word, text) [number] = (word),
    KR_WORD_ORDERS(X)
#undef X
        NULL};
static const char *const number_ends[] = {
    [false] = "ignored", [true] = "required", NULL}; /* whole_by_both_numbers */
static const char *const rails_moves[] = {
    [false] = "one_after_other", [true] = "together", NULL}; /* rails_together */
static const char *const scan_policies[] = {[KR_SCAN_AFTER_ACCESS] = "after_access",
                                            [KR_SCAN_ALWAYS] = "always",
                                            [KR_SCAN_UNKNOWN] = "unknown",
                                            NULL};
static const char *const metres_sources[] = {
    [KR_METRES_COUNTER] = "counter", [KR_METRES_SPEED] = "speed", NULL};
static const char *const cuts[] = {
#define X(name, word) [KR_CUT_##name] = (word),
    KR_CUT_KINDS(X)
#undef X
        NULL};
static const char *const positioners[] = {
#define X(name, word, text) [KR_POSITIONER_##name] = (word),
    KR_POSITIONERS(X)
#undef X
        NULL};
static const char *const logs[] = {
#define X(name, word) [KR_LOG_##name] = (word),
    KR_LOGS(X)
#undef X
        NULL};
static const char *const idle_policies[] = {
    [KR_IDLE_ANYWHERE] = "anywhere", [KR_IDLE_OUTSIDE_WEB] = "outside_web", NULL};
static const char *const roles[] = {
#define X(name, number, word, text) [number] = (word),
    KR_ROLES(X)
#undef X
        NULL};
static const char *const clampings[] = {
    [KR_CLAMP_PER_HOLDER] = "per_holder", [KR_CLAMP_COMMON] = "common", NULL};
static const char *const approaches[] = {"either", "growing", "falling", NULL}; /* 0, +1, -1 */
static const char *const holder_states[] = {
#define X(name, number, setting, word, text) [number] = (setting),
    KR_HOLDER_STATES(X)
#undef X
        NULL};
static const char *const controls[] = {
    [false] = "by_request", [true] = "by_first_write", NULL}; /* control_by_first_write */
static const char *const rights[] = {[KR_RIGHT_READ] = "read",
                                     [KR_RIGHT_CONTROL] = "control",
                                     [KR_RIGHT_MAINTAIN] = "maintain",
                                     [KR_RIGHT_NONE] = "nothing",
                                     NULL};

static const char *const setup_modes[] = {"nobody", "safety_system", NULL}; /* setup_mode_enforced */
static const char *const unpowered[] = {[false] = "may_move", [true] = "brakes_hold", NULL}; /* brakes_hold */
static const char *const permissives[] = {
#define X(name, bit, text) [bit] = #name,
    KR_PERMISSIVES(X)
#undef X
        NULL};

/* What a simulated machine's wires may give: the permissives, and the device that no register gives. */
static const char *const machine_inputs[] = {
#define X(name, bit, text) [bit] = #name,
    KR_PERMISSIVES(X)
#undef X
        "JOG_ENABLE",
    NULL};
_Static_assert(KR_DI_JOG_ENABLE == KR_DI_LINE_STOPPED << 5,
               "the hold-to-run device stands behind five permissives");

const char *kr_positioner_text(enum kr_positioner_kind kind)
{
    static const char *const texts[] = {
#define X(name, word, text) [KR_POSITIONER_##name] = (text),
        KR_POSITIONERS(X)
#undef X
    };
    return texts[kind];
}

/* ---- the daemon ------------------------------------------------------------------------------------------------ */

#define S struct kr_config
static const struct kr_setting daemon_rows[] = {
    KR_NUMBER(S, "period_ms", period_ms, 1, 100, 10, RESTART, "period of the cycle"),
    KR_NUMBER(S, "speed_factor", speed_factor, 1, 1000, 1, RESTART,
              "the simulated machines run this much faster than the clock; 1 with any other machine"),
    KR_TEXT(
        S, "book", book_path, 1, 0, RESTART,
        "file that keeps holder data, positions, orders and records; without it nothing survives a restart"),
    KR_WORD(
        S, "log", log, logs, KR_LOG_EVENTS, LIVE,
        "what the log tells: events, that is commands, requests, unit states, alarms, and what went wrong "
        "with "
        "clients and drives; steps, besides, at priority 7 (debug), each step of each carriage with what it "
        "waited for, how long, and against which limit"),
    KR_NUMBER(
        S, "history_days", history_days, 0, 36500, 0, LIVE,
        "rows of the book's history that are older than so many days are taken out of it; 0: they are kept "
        "for ever"),
    KR_NUMBER(
        S, "history_mb", history_mb, 0, 1000000, 0, LIVE,
        "when the book holds more than so many megabytes (1,000,000 bytes), the oldest rows of its history "
        "are taken out of it; 0: all are kept"),
    KR_INNER("face", KR_SETTING_GROUP, 0, NONE, "the Modbus/TCP server"),
    KR_INNER("stations", KR_SETTING_LIST, KR_MUST, RESTART, "the stations behind this gateway, 1 to 32"),
};
#undef S
const struct kr_table kr_daemon_table = KR_TABLE("", daemon_rows);

/* ---- the face -------------------------------------------------------------------------------------------------- */

#define S struct face_settings
static const struct kr_setting face_rows[] = {
    KR_INNER("listen", KR_SETTING_LIST, 0, RESTART,
             "where it listens, 1 to 8 groups; default: 127.0.0.1, port 1502"),
    KR_TEXT(S, "default_station", default_station, 1, KR_OPTIONAL, RESTART,
            "name of the station that unit identifiers 0 and 255 mean; without it they mean the only "
            "station, if there is one only"),
    KR_WORD(S, "control", face.control_by_first_write, controls, 0, LIVE,
            "how control is taken that nobody has: by a request in ACCESS, or besides by the first order or "
            "command; heartbeat and permissives alone never take it"),
    KR_NUMBER(S, "connections", face.limits.connections, 1, 4096, 64, RESTART,
              "connections in all; an eighth of them, one at least, is kept for addresses that may control "
              "or maintain, and these "
              "displace readers" USUAL),
    KR_NUMBER(S, "connections_per_address", face.limits.connections_per_address, 1, 4096, 16, LIVE,
              "of one client address; IPv6 addresses with the same first 64 bits count as one" USUAL),
    KR_NUMBER(S, "queued_answers", face.limits.queued_answers, 1, 64, 16, RESTART,
              "answers that may wait unsent for one connection" USUAL),
    KR_NUMBER(S, "requests_per_s", face.limits.requests_per_s, 0, 1000000, 0, LIVE,
              "of one connection; faster ones wait; 0: no limit"),
    KR_NUMBER(S, "idle_ms", face.limits.idle_ms, 0, 86400000, 120000, LIVE,
              "a connection silent for so long is closed; 0: never" USUAL),
    KR_NUMBER(S, "partial_ms", face.limits.partial_ms, 10, 60000, 2000, LIVE,
              "time for the rest of a frame, and for a client to read its answers" USUAL),
    KR_INNER("rules", KR_SETTING_LIST, 0, LIVE,
             "who may do what, up to 64; the longest prefix that matches decides; default: loopback may "
             "maintain, others read"),
    KR_INNER("groups", KR_SETTING_LIST, 0, LIVE, "addresses that share control, up to 16 groups"),
    KR_TEXT(S, "user_application", face.user_application, 0, 0, RESTART,
            "the plant's own words in the device identification (function 43/14, object 06)"),
};
#undef S
const struct kr_table kr_face_table = KR_TABLE("face", face_rows);

#define S struct kr_face_listen
static const struct kr_setting listen_rows[] = {
    KR_TEXT(S, "address", address, 2, KR_MUST, RESTART,
            "IPv4 or IPv6 address of this computer; 0.0.0.0 or :: for all"),
    KR_NUMBER(S, "port", port, 0, 65535, 1502, RESTART,
              "TCP port; 502 is registered for Modbus and needs a privilege; 0: any that is free"),
};
#undef S
const struct kr_table kr_listen_table = KR_TABLE("face.listen", listen_rows);

#define S struct rule_settings
static const struct kr_setting rule_rows[] = {
    KR_TEXT(S, "address", address, 2, KR_MUST, LIVE,
            "an address, or a prefix such as 192.0.2.0/24 or 2001:db8::/32; 0.0.0.0/0 covers every IPv4 "
            "address, ::/0 "
            "every address of both kinds that no longer prefix covers; loopback keeps its own rule unless "
            "127.0.0.0/8 or "
            "::1 is named"),
    KR_WORD(S, "may", right, rights, KR_MUST, LIVE,
            "what it may do; control includes read, maintain includes control"),
    KR_TEXT(S, "station", station, 1, KR_OPTIONAL, LIVE,
            "name of the station that the rule is for; without it, for every station. At each station the "
            "longest prefix "
            "decides, among equal ones a rule for this station alone, then the later one"),
};
#undef S
const struct kr_table kr_rule_table = KR_TABLE("face.rules", rule_rows);

#define S struct kr_face_group
static const struct kr_setting group_rows[] = {
    KR_TEXT(S, "name", name, 1, KR_MUST, LIVE, "shown as the holder of control"),
    KR_INNER("addresses", KR_SETTING_TEXTS, KR_MUST, LIVE, "its addresses and prefixes, 1 to 8"),
};
#undef S
const struct kr_table kr_group_table = KR_TABLE("face.groups", group_rows);

/* ---- a station ------------------------------------------------------------------------------------------------- */

#define S struct kr_config_station
static const struct kr_setting station_rows[] = {
    KR_TEXT(S, "name", station.name, 1, KR_MUST, RESTART, "name of the station, readable in the map"),
    KR_NUMBER(S, "unit_id", unit_id, 1, 247, KR_MUST, RESTART, "Modbus unit identifier"),
    KR_WORD(S, "length_unit", station.format.length_unit, length_units, KR_LENGTH_MM, RESTART,
            "of the length registers: mm counts 0.001 mm, in counts 0.0001 in"),
    KR_WORD(S, "word_order", station.format.low_word_first, kr_word_orders, 0, RESTART,
            "of 32-bit registers"),
    KR_WORD(S, "positioner", positioner, positioners, KR_POSITIONER_SIMULATED, RESTART,
            "what moves the carriages"),
    KR_WORD(S, "cut", cut, cuts, KR_CUT_SHEAR, LIVE,
            "how the knives part the web, for check's sake: shear, each upper knife past a lower one "
            "(without a lower "
            "rail nothing is judged by it); score, an upper knife pressed against a plain roll (crush cut); "
            "razor, a "
            "blade through the web"),
    KR_INNER("sizes", KR_SETTING_LIST, KR_MUST, RESTART,
             "the sizes of its holders, 1 to 8; a size's number is its place in the list, from 1, and a book "
             "keeps "
             "the number"),
    KR_WORD(
        S, "request_number_end", whole_by_both_numbers, number_ends, false, RESTART,
        "required: an order is taken when REQUEST_NUMBER_END, behind the widths, agrees with REQUEST_NUMBER "
        "before them, so that it is whole whatever the sequence in which an I/O scanner writes"),
    KR_WORD(S, "rails_move", station.geometry.rails_together, rails_moves, 1, GEOMETRY,
            "whether the rails' carriages work at the same time"),
    KR_WORD(
        S, "scan_before", station.scan_policy, scan_policies, KR_SCAN_AFTER_ACCESS, LIVE,
        "when a scan comes before a changeover: when hands may have moved holders, the gateway's restart "
        "included; always; or only where a place is unknown. The last accepts what the book remembers: it is "
        "for holders that no hand can move, since one that was moved is run into"),
    KR_NUMBER(S, "heartbeat_limit_ms", station.heartbeat_limit_ms, 100, 60000, 1000, LIVE,
              "when the PLC's heartbeat stands still for so long, motion stops; a third of it is the longest "
              "that the heartbeat should stand still" USUAL),
    KR_NUMBER(S, "control_limit_ms", station.control_limit_ms, 100, 600000, 3000, LIVE,
              "when the PLC's heartbeat stands still for so long, the PLC loses control; at least "
              "heartbeat_limit_ms, which it is where it is not given and would be less" USUAL),
    KR_NUMBER(S, "plan_limit_ms", station.plan_limit_ms, 100, 60000, 5000, LIVE,
              "a plan that takes longer is an alarm"),
    KR_WORD(
        S, "metres", station.metres_source, metres_sources, KR_METRES_COUNTER, LIVE,
        "where the metres that knives cut come from: the PLC's counter in LINE_METRES, or its LINE_SPEED"),
    KR_NUMBER(
        S, "line_stands_mm_per_s", station.line_stands_um_per_s, 0, 1000 * MM, 20 * MM, LIVE,
        "with metres from LINE_SPEED: a line that is faster does not stand, and 'line stopped' contradicts "
        "it" USUAL),
    KR_NUMBER(S, "job_late_percent", station.job_late_percent, 0, 1000, 150, LIVE,
              "a changeover that takes this much of its planned time is named; 0: never"),
    KR_INNER("web", KR_SETTING_GROUP, KR_MUST, NONE, "what webs and orders are possible"),
    KR_INNER("placement", KR_SETTING_GROUP, 0, NONE, "how near to its place a knife has to be"),
    KR_INNER("idle", KR_SETTING_GROUP, 0, NONE, "where holders rest that do not cut"),
    KR_INNER("permissives", KR_SETTING_GROUP, KR_MUST, NONE, "what has to be there before anything moves"),
    KR_INNER("acceptance", KR_SETTING_GROUP, 0, NONE,
             "what the machine's acceptance asks for (kniferail commission)"),
    KR_INNER("carriage", KR_SETTING_GROUP, 0, NONE,
             "the carriages of all rails; a rail may differ in a group of its own"),
    KR_INNER("simulated", KR_SETTING_GROUP, 0, NONE,
             "the simulated machine; a rail may differ in a group of its own"),
    KR_INNER("drive", KR_SETTING_GROUP, 0, RESTART,
             "with the positioner modbus: the drives; a rail may differ in a group of its own"),
    KR_INNER(
        "knife_kinds", KR_SETTING_LIST, 0, LIVE,
        "when knives of a kind are due for a grind, up to 16 kinds; a knife of another kind has no limit"),
    KR_INNER("rails", KR_SETTING_LIST, KR_MUST, RESTART, "the rails, 1 to 4"),
};
const struct kr_table kr_station_table = KR_TABLE("stations", station_rows);
#undef S

#define S struct kr_knife_limit
static const struct kr_setting knife_kind_rows[] = {
    KR_TEXT(S, "kind", kind, 1, KR_MUST, LIVE, "the kind as the ledger of knives has it"),
    KR_NUMBER(S, "due_metres", due_metres, 1, INT32_MAX, KR_MUST, LIVE,
              "metres that a knife of this kind may cut between two grinds; then GRIND_DUE names it"),
    KR_NUMBER(S, "notice_metres", notice_metres, 0, INT32_MAX, 0, LIVE,
              "so many metres before that, GRIND_SOON names it; less than due_metres; 0: nothing does"),
};
#undef S
const struct kr_table kr_knife_kind_table = KR_TABLE("stations.knife_kinds", knife_kind_rows);

#define S struct size_settings
static const struct kr_setting size_rows[] = {
    KR_TEXT(S, "name", name, 1, KR_MUST, RESTART, "name of the size, readable in the map; more than digits"),
    KR_NUMBER(S, "spacing_mm", spacing_um, MM, 1000 * MM, KR_MUST, GEOMETRY,
              "nearest centre-to-centre spacing of two holders of this size; of two sizes the mean counts"),
    KR_NUMBER(
        S, "body_mm", body_um, 100, 1000 * MM, KR_OPTIONAL, RESTART,
        "width of a simulated holder's body: nearer is a collision; without it 0.4 mm less than the spacing, "
        "invented for the simulator"),
};
#undef S
const struct kr_table kr_size_table = KR_TABLE("stations.sizes", size_rows);

#define S struct kr_config_station

static const struct kr_setting web_rows[] = {
    KR_NUMBER(S, "centre_mm", station.geometry.web_centre_um, LOW_UM, HIGH_UM, KR_MUST, GEOMETRY,
              "the web's centre line with shift 0, from the datum"),
    KR_NUMBER(S, "widest_mm", station.geometry.web_max_nm, MM_NM, 20000 * MM_NM, KR_MUST, GEOMETRY,
              "widest web"),
    KR_NUMBER(S, "trim_least_mm", station.geometry.trim_min_nm, 0, 20000 * MM_NM, KR_MUST, GEOMETRY,
              "narrowest trim that the chutes take"),
    KR_NUMBER(S, "trim_most_mm", station.geometry.trim_max_nm, 0, 20000 * MM_NM, KR_MUST, GEOMETRY,
              "widest trim that the chutes take"),
    KR_NUMBER(S, "shift_most_mm", station.geometry.shift_max_um, 0, 5000 * MM, 0, GEOMETRY,
              "largest shift of web and cuts, either way"),
    KR_NUMBER(S, "compensation_most_ppm", station.geometry.compensation_max_ppm, 0, 100000, 0, GEOMETRY,
              "largest compensation of all widths, either way"),
};
const struct kr_table kr_web_table = KR_TABLE("stations.web", web_rows);

static const struct kr_setting placement_rows[] = {
    KR_NUMBER(S, "knife_mm", station.geometry.tolerance_um, 1, 10 * MM, KR_MUST, UNVERIFY,
              "tolerance of a knife's place, either way; 0.2032 (0.008 in) is common practice, no published "
              "source"),
    KR_NUMBER(S, "knife_most_mm", station.geometry.tolerance_max_um, 1, 10 * MM, 1000, LIVE,
              "the widest tolerance that an order may ask for"),
    KR_NUMBER(S, "pair_mm", station.pair_window_um, 1, 20 * MM, 300, UNVERIFY,
              "how far upper and lower knife of a cut may be off their clearance, either way"),
    KR_NUMBER(S, "slit_mm", station.slit_tolerance_um, 1, 20 * MM, 300, UNVERIFY,
              "tolerance of a slit's width, edge to edge, either way"),
    KR_NUMBER(S, "deadband_mm", station.deadband_um, 0, 5 * MM, 50, LIVE,
              "a holder this near to its target stays"),
    KR_NUMBER(S, "offset_step_mm", station.offset_step_um, 0, 200 * MM, 1000, LIVE,
              "a change of an edge offset by more than this has to be written twice; 0: none has to" USUAL),
    KR_NUMBER(S, "corrections_most", station.corrections_max, 0, 9, 3, LIVE,
              "rounds of correction after the verification scan"),
};
const struct kr_table kr_placement_table = KR_TABLE("stations.placement", placement_rows);

static const struct kr_setting idle_rows[] = {
    KR_WORD(S, "rest", station.geometry.idle_policy, idle_policies, KR_IDLE_ANYWHERE, GEOMETRY,
            "where spacing permits, or only outside the web"),
    KR_NUMBER(S, "clearance_mm", station.geometry.idle_clearance_um, 0, 5000 * MM, 0, GEOMETRY,
              "with outside_web, and when all are parked clear: distance of the centre from the web's edge"),
};
const struct kr_table kr_idle_table = KR_TABLE("stations.idle", idle_rows);

static const char *const by_hand[] = {
#define BY_HAND(name, situation, brief, act, undo, caution) [KR_BY_HAND_##name] = #name,
#include "kniferail/provoke.def"
    NULL};
static const struct kr_setting acceptance_rows[] = {
    KR_NUMBER(S, "dockings", acceptance.dockings, 1, 1000, 10, LIVE,
              "how often each holder in service is docked to"),
    KR_NUMBER(S, "changeovers", acceptance.changeovers, 1, 1000, 30, LIVE,
              "how many changeovers to random orders are made at production speed"),
    KR_NUMBER(S, "faults_most", acceptance.faults_most, 0, 1000, 0, LIVE,
              "faults that are allowed: jobs that do not end Complete, and dockings that are repeated"),
    KR_NUMBER(S, "cpk_least_permille", acceptance.cpk_least_permille, 0, 10000, 1330, LIVE,
              "the least that the lower end of the 95 % interval of Cpk may be, for the placement of each "
              "rail's knives "
              "against knife_mm; 1330 is 1.33" USUAL),
    KR_NUMBER(
        S, "time_apart_most_permille", acceptance.time_most_permille, 1, 10000, 50, LIVE,
        "by how much the time taken may differ from the time planned, either way, over all changeovers"),
    KR_WORDS(S, "alarms", acceptance.alarms, by_hand,
             1 << KR_BY_HAND_PERMISSIVE_LOST | 1 << KR_BY_HAND_HEARTBEAT_STALE |
                 1 << KR_BY_HAND_JOG_ENABLE_LOST | 1 << KR_BY_HAND_LINK_LOST,
             LIVE,
             "alarms that are provoked once at the machine, because here that does no harm; the others are "
             "provoked against kniferail-sim"),
};
const struct kr_table kr_acceptance_table = KR_TABLE("stations.acceptance", acceptance_rows);

static const struct kr_setting permissives_rows[] = {
    KR_WORDS(S, "scan", station.need_scan, permissives, KR_MUST, LIVE,
             "needed while a carriage scans or travels alone"),
    KR_WORDS(S, "drag", station.need_drag, permissives, KR_MUST, LIVE, "needed while holders are moved"),
    KR_WORDS(S, "home", station.need_home, permissives, KR_MUST, LIVE, "needed while carriages are homed"),
    KR_WORDS(
        S, "jog", station.need_jog, permissives,
        KR_PERMIT_LINE_STOPPED | KR_PERMIT_KNIVES_RAISED | KR_PERMIT_GUARDS_CLOSED | KR_PERMIT_ENABLE, LIVE,
        "needed, besides the hold-to-run device, while a carriage is jogged or an output is tried; without "
        "guards_closed only where setup_mode says why"),
    KR_WORD(S, "setup_mode", station.setup_mode_enforced, setup_modes, 0, LIVE,
            "who bounds a jog with open guards: nobody, so that the guards have to be closed; or "
            "safety_system: this is your statement that the machine's safety system enforces the mode "
            "(selector, enabling device, limited speed). The gateway neither verifies nor replaces that"),
    KR_WORDS(S, "drive_inputs", station.drive_inputs, permissives, 0, LIVE,
             "those that come from inputs of the drives, not from the PLC's register"),
    KR_WORDS(S, "access", station.access, permissives, KR_MUST, LIVE,
             "those without which hands may move holders"),
    KR_WORD(S, "unpowered", station.brakes_hold, unpowered, 0, LIVE,
            "what becomes of holders while a drive has no power or no link: they may move, so that they have "
            "to be measured again; or brakes_hold: this is your statement that brakes and clamps hold them "
            "without power, so that a line that runs may go on, and what was proven counts again after a "
            "restart. The gateway neither verifies nor replaces that"),
};
#undef S
const struct kr_table kr_permissives_table = KR_TABLE("stations.permissives", permissives_rows);

/* ---- carriages and rails --------------------------------------------------------------------------------------- */

#define S struct rail_settings
static const struct kr_setting carriage_rows[] = {
    KR_NUMBER(S, "empty_speed_mm_per_s", geometry.empty.v_um_per_s, MM, 5000 * MM, KR_MUST, GEOMETRY,
              "top speed without a holder"),
    KR_NUMBER(S, "empty_accel_mm_per_s2", geometry.empty.a_um_per_s2, 10 * MM, 50000 * MM, KR_MUST, GEOMETRY,
              "acceleration without a holder"),
    KR_NUMBER(S, "drag_speed_mm_per_s", geometry.drag.v_um_per_s, MM, 5000 * MM, KR_MUST, GEOMETRY,
              "top speed with a holder"),
    KR_NUMBER(S, "drag_accel_mm_per_s2", geometry.drag.a_um_per_s2, 10 * MM, 50000 * MM, KR_MUST, GEOMETRY,
              "acceleration with a holder"),
    KR_NUMBER(S, "dock_ms", geometry.dock_us, 1000, 60000000, KR_MUST, GEOMETRY,
              "planned time to dock: pin in, brake open, with their proof"),
    KR_NUMBER(S, "undock_ms", geometry.undock_us, 1000, 60000000, KR_MUST, GEOMETRY,
              "planned time to undock: settled, brake closed, pin out, ready for the next move"),
    KR_NUMBER(S, "setpoint_ms", geometry.setpoint_us, 0, 10000000, 0, GEOMETRY,
              "planned time, of each way of the carriage, to hand its set-point over: until the drive "
              "acknowledges it"),
    KR_NUMBER(S, "rounding_ms", geometry.rounding_us, 0, 10000000, 0, GEOMETRY,
              "planned time that each way of the carriage takes beyond its speeds and accelerations: of a "
              "drive that "
              "limits its jerk, acceleration divided by jerk, and until target reached is seen"),
    KR_NUMBER(S, "enable_ms", carriage.enable_ms, 0, 60000, 0, LIVE,
              "planned time, of a job, until the drives are on, and until they are off again in its end"),
    KR_NUMBER(S, "clamp_ms", carriage.clamp_ms, 0, 60000, 0, LIVE,
              "planned time of a common clamp to open, and as much to close"),
    KR_WORD(S, "approach", approach_word, approaches, 0, GEOMETRY,
            "final approach of every holder, to take up backlash: growing from the operator side, falling, "
            "or either way"),
    KR_NUMBER(S, "overtravel_mm", geometry.overtravel_um, 0, 100 * MM, 0, GEOMETRY,
              "a holder that arrives against the approach goes this far past its target and back"),
    KR_WORD(S, "clamping", carriage.clamping, clampings, KR_CLAMP_PER_HOLDER, GEOMETRY,
            "each holder has a brake; or besides one clamp holds the whole rail"),
    KR_NUMBER(S, "travel_least_mm", carriage.travel_min_um, LOW_UM, HIGH_UM, KR_MUST, GEOMETRY,
              "travel of the carriage's pin, operator side: the drive's own position"),
    KR_NUMBER(S, "travel_most_mm", carriage.travel_max_um, LOW_UM, HIGH_UM, KR_MUST, GEOMETRY,
              "travel of the carriage's pin, drive side: the drive's own position"),
    KR_NUMBER(S, "travel_margin_mm", carriage.travel_margin_um, 0, 1000 * MM, 5 * MM, LIVE,
              "a position that is further beyond the travel is not believed, and nothing is enabled" USUAL),
    KR_NUMBER(
        S, "drift_mm", carriage.drift_um, 0, 1000 * MM, 20 * MM, LIVE,
        "a carriage at rest is not found further from where it was seen last, else its datum is doubted; 0: "
        "it may be anywhere" USUAL),
    KR_NUMBER(
        S, "battery_code", carriage.battery_code, 0, 65535, 0, LIVE,
        "error code (603Fh) by which the drive warns of the encoder's battery, where that is not one of "
        "73xxh; 0: none"),
    KR_NUMBER(S, "park_mm", carriage.park_um, LOW_UM, HIGH_UM, KR_MUST, GEOMETRY,
              "where the carriage rests, clear of the web"),
    KR_NUMBER(S, "park_window_mm", carriage.park_window_um, 1, 100 * MM, 1 * MM, LIVE,
              "this near to it counts as parked"),
    KR_NUMBER(S, "switch_offset_mm", carriage.switch_offset_um, -KR_SWITCH_OFFSET_MAX_UM,
              KR_SWITCH_OFFSET_MAX_UM, 0, SEED,
              "from the pin to the proximity switch, positive towards the drive side; job 12 measures it"),
    KR_NUMBER(S, "flag_width_mm", carriage.flag_width_um, 100, 1000 * MM, KR_MUST, GEOMETRY,
              "width of a holder's flag, as the switch sees it"),
    KR_NUMBER(S, "scan_speed_mm_per_s", carriage.scan_speed_um_per_s, MM, 5000 * MM, KR_MUST, GEOMETRY,
              "speed of a scan"),
    KR_NUMBER(
        S, "setup_speed_mm_per_s", carriage.setup_speed_um_per_s, MM, 5000 * MM, 50 * MM, LIVE,
        "reduced speed: of a hold-to-run jog, and of a job started so; what is low enough, the machine's "
        "risk assessment says"),
    KR_NUMBER(S, "homing_creep_mm_per_s", carriage.homing_creep_um_per_s, MM / 10, 1000 * MM, 5 * MM, LIVE,
              "speed of homing towards the zero mark, where the drive's register takes it; homing runs at "
              "setup_speed_mm_per_s at most" USUAL),
    KR_NUMBER(S, "torque_permille", carriage.torque_permille, 1, 10000, 1000, LIVE,
              "the most torque, in per mille of the rated torque, where the drive's register takes it" USUAL),
    KR_NUMBER(S, "setup_torque_permille", carriage.setup_torque_permille, 1, 10000, 500, LIVE,
              "the same in a jog, in homing, and in a job that is started at reduced speed" USUAL),
    KR_NUMBER(S, "frame_expansion_ppm", carriage.expansion_ppb, 0, 50000, 0, GEOMETRY,
              "parts of a million by which the machine's frame expands with each kelvin; its temperature "
              "comes from the PLC in FRAME_TEMPERATURE. 0: places are not corrected for it"),
    KR_NUMBER(
        S, "scan_bias_mm", carriage.scan_bias_um, -KR_SCAN_BIAS_MAX_UM, KR_SCAN_BIAS_MAX_UM, 0, SEED,
        "0: a scan goes both ways; else one way, growing, and this calibrated bias is taken off; job 11 "
        "measures it"),
    KR_NUMBER(S, "gauge_rounds", carriage.gauge_rounds, 2, 20, 5, LIVE,
              "rounds of the jobs that measure the switch: job 11 scans so often at each of two speeds, job "
              "12 drags "
              "so often each way" USUAL),
    KR_NUMBER(S, "passes_apart_mm", carriage.passes_apart_um, 1, 50 * MM, 600, LIVE,
              "the two passes of a scan may see a flag this far apart"),
    KR_NUMBER(S, "displaced_mm", carriage.displaced_um, 1, 1000 * MM, 1 * MM, LIVE,
              "a holder found further from its known place is named"),
    KR_NUMBER(S, "alike_mm", carriage.alike_um, 1, 10 * MM, 100, LIVE,
              "most of the holders that nobody moved found off alike by more: it is the rail's datum, scale "
              "or switch that "
              "is off, and nothing on the rail is measured until that is mended or a person confirms it"),
    KR_NUMBER(S, "jump_mm", carriage.jump_um, 1, 100 * MM, 2 * MM, LIVE,
              "a position may change this much more in a cycle than the top speed allows"),
    KR_NUMBER(S, "settle_ms", carriage.settle_ms, 0, 10000, 50, LIVE,
              "standing at the target before the brake closes"),
    KR_NUMBER(S, "enable_limit_ms", carriage.enable_limit_ms, 10, 60000, 3000, LIVE, "time limit: drive on"),
    KR_NUMBER(S, "setpoint_limit_ms", carriage.setpoint_limit_ms, 10, 60000, 500, LIVE,
              "time limit: set-point taken"),
    KR_NUMBER(S, "pin_limit_ms", carriage.pin_limit_ms, 10, 60000, 1500, LIVE, "time limit: pin in, pin out"),
    KR_NUMBER(S, "brake_limit_ms", carriage.brake_limit_ms, 10, 60000, 1500, LIVE,
              "time limit: brake open, brake closed"),
    KR_NUMBER(S, "clamp_limit_ms", carriage.clamp_limit_ms, 10, 120000, 3000, LIVE,
              "time limit: common clamp open, closed"),
    KR_NUMBER(S, "home_limit_ms", carriage.home_limit_ms, 10, 600000, 120000, LIVE, "time limit: homing"),
    KR_NUMBER(S, "move_margin_ms", carriage.move_margin_ms, 10, 60000, 1000, LIVE,
              "a move may take this much longer than it should"),
    KR_NUMBER(S, "dock_tries", carriage.dock_tries, 1, 10, 3, LIVE, "tries to dock a holder"),
    KR_NUMBER(S, "retries_notice", carriage.retries_notice, 0, 65535, 20, LIVE,
              "docking retries of a holder, in all, that call maintenance; 0: never"),
    KR_NUMBER(
        S, "slips_notice", carriage.slips_notice, 0, 65535, 3, LIVE,
        "placements of a holder, since the gateway's start, that were out of tolerance and call maintenance; "
        "0: never"),
    KR_NUMBER(S, "metres_notice", carriage.metres_notice, 0, INT32_MAX, 0, LIVE,
              "metres that a knife has cut since its regrind or swap and that call maintenance; 0: never"),
};
const struct kr_table kr_carriage_table = KR_TABLE("stations.carriage", carriage_rows);

static const struct kr_setting rail_rows[] = {
    KR_WORD(S, "role", geometry.role, roles, KR_MUST, RESTART, "upper, or lower (anvil)"),
    KR_NUMBER(S, "least_mm", geometry.min_um, LOW_UM, HIGH_UM, KR_MUST, GEOMETRY,
              "limit of every holder's centre, operator side"),
    KR_NUMBER(S, "most_mm", geometry.max_um, LOW_UM, HIGH_UM, KR_MUST, GEOMETRY,
              "limit of every holder's centre, drive side"),
    KR_NUMBER(
        S, "side_clearance_mm", geometry.cut_side_um, -10 * MM, 10 * MM, 0, GEOMETRY,
        "upper rail: added to every cut line; the blade's side stroke closes it. Of a shear at least pair_mm "
        "and blade_run_out_mm, either way, so that no blade is lowered onto its counter-knife"),
    KR_NUMBER(S, "blade_run_out_mm", blade.run_out_um, 0, 5 * MM, 50, LIVE,
              "upper rail of a shear: how far the blades' edges wander to the side in a turn" USUAL),
    KR_NUMBER(
        S, "side_stroke_mm", blade.side_stroke_um, 1, 50 * MM, KR_OPTIONAL, LIVE,
        "upper rail of a shear: the blades' side stroke; where it is given, side_clearance_mm is at most "
        "side_stroke_mm less pair_mm, so that every blade reaches its counter-knife"),
    KR_INNER("holders", KR_SETTING_LIST, KR_MUST, RESTART,
             "its holders from the operator side, 1 to 128 in all"),
    KR_INNER("frame", KR_SETTING_GROUP, 0, NONE,
             "where its carriage stands in the machine's frame, by what its drive says"),
    KR_INNER("carriage", KR_SETTING_GROUP, 0, NONE, "where its carriage differs from the station's"),
    KR_INNER("simulated", KR_SETTING_GROUP, 0, NONE,
             "where its simulated machine differs from the station's"),
    KR_INNER("drive", KR_SETTING_GROUP, 0, NONE, "where its drive differs from the station's"),
};
const struct kr_table kr_rail_table = KR_TABLE("stations.rails", rail_rows);

#define PPM ((int64_t)1000) /* in ppb */
static const char *const reference_switches[] = {"shared", "own", NULL};
static const struct kr_setting frame_rows[] = {
    KR_NUMBER(
        S, "offset_mm", carriage.frame.offset_um, -KR_FRAME_OFFSET_MAX_UM, KR_FRAME_OFFSET_MAX_UM, 0, SEED,
        "the place in the frame where the drive's position is 0: place = offset_mm + position + position "
        "x scale_ppm / 1000000 + the table's error"),
    KR_NUMBER(S, "scale_ppm", carriage.frame.scale_ppb, -KR_FRAME_SCALE_MAX_PPB, KR_FRAME_SCALE_MAX_PPB, 0,
              SEED, "positive where the carriage goes further than its drive says; three decimals count"),
    KR_INNER(
        "table", KR_SETTING_LIST, 0, SEED,
        "errors that are left, up to 64 points; straight between two of them, constant beyond the outermost"),
    KR_INNER(
        "references", KR_SETTING_LIST, 0, GEOMETRY,
        "flags fixed to the machine's frame beyond the holders, up to 8, by their places; with a switch of "
        "their own, anywhere along the rail; every scan passes them, "
        "and counts only if it found two of them good (one, where there is one only)"),
    KR_WORD(
        S, "reference_switch", carriage.references.own_switch, reference_switches, 0, GEOMETRY,
        "what sees the references: the switch that sees the holders' flags, or a second one on the carriage, "
        "on the drive's touch probe 2, which sees no holder's flag"),
    KR_NUMBER(S, "reference_switch_offset_mm", carriage.references.switch_offset_um, -1000 * MM, 1000 * MM, 0,
              GEOMETRY, "own: from the pin to that second switch"),
    KR_NUMBER(S, "reference_window_mm", carriage.references.window_um, 1, 5 * MM, 1 * MM, LIVE,
              "references found off by more than that since they were taught: the rail is off, and nothing "
              "on it is "
              "measured; by less it is taken off what is scanned" USUAL),
    KR_NUMBER(S, "reference_step_mm", carriage.references.step_um, 1, 5 * MM, 300, LIVE,
              "the same, since the last scan" USUAL),
};
#undef S
const struct kr_table kr_frame_table = KR_TABLE("stations.rails.frame", frame_rows);

#define S struct kr_frame_point
static const struct kr_setting point_rows[] = {
    KR_NUMBER(S, "at_mm", at_um, LOW_UM, HIGH_UM, KR_MUST, SEED,
              "the drive's position; it grows from point to point"),
    KR_NUMBER(S, "error_mm", error_um, -KR_FRAME_ERROR_MAX_UM, KR_FRAME_ERROR_MAX_UM, KR_MUST, SEED,
              "the place reached there less the place by offset_mm and scale_ppm; from point to point it "
              "changes by at most a tenth of the way"),
};
#undef S
const struct kr_table kr_point_table = KR_TABLE("stations.rails.frame.table", point_rows);

#define S struct kr_reference
static const struct kr_setting reference_rows[] = {
    KR_NUMBER(S, "at_mm", at_um, LOW_UM, HIGH_UM, KR_MUST, GEOMETRY,
              "place of its centre in the frame; it grows from flag to flag"),
    KR_NUMBER(S, "width_mm", width_um, 100, 1000 * MM, KR_MUST, GEOMETRY, "its width, as the switch sees it"),
};
#undef S
const struct kr_table kr_reference_table = KR_TABLE("stations.rails.frame.references", reference_rows);

#define S struct holder_settings
static const struct kr_setting holder_rows[] = {
    KR_NUMBER(S, "count", count, 1, KR_HOLDERS_MAX, 1, RESTART, "so many holders, side by side, are alike"),
    KR_TEXT(S, "size", size, 1, KR_MUST, SEED, "name of its size, one of the station's list sizes"),
    KR_WORD(S, "state", data.state, holder_states, KR_HOLDER_IN, SEED,
            "in service, out of service, fixed (seized), absent (off the rail)"),
    KR_NUMBER(
        S, "edge_offset_mm", data.edge_offset_um, -200 * MM, 200 * MM, 0, SEED,
        "from the scanned centre to the cutting edge; not proven before maintenance confirms it, or a test "
        "cut does"),
    KR_NUMBER(S, "first_mm", first_um, LOW_UM, HIGH_UM, KR_OPTIONAL, SEED,
              "where the first of them stands; without it nothing is known (and a simulated machine packs "
              "its holders at the operator side)"),
    KR_NUMBER(S, "pitch_mm", pitch_um, 1, 10000 * MM, KR_OPTIONAL, SEED, "from one of them to the next"),
};
#undef S
const struct kr_table kr_holder_table = KR_TABLE("stations.rails.holders", holder_rows);

/* ---- the simulated machine ------------------------------------------------------------------------------------- */

#define S struct simulated_settings
/* Its physics is the simulator's own table. What the station's carriage settings say too is taken from there
 * (flag_width_um, switch_offset_um, clamp_common, carriage_um, stops 50 mm beyond the travel) unless given. */
static const struct kr_setting simulated_rows[] = {
#define P(name, value, least, most, meaning, source) \
    KR_NUMBER(S, #name, rail.name, least, most, value, RESTART, meaning "; " source),
#include "sim/parameters.def"
#define MACHINE_ROWS 2 /* those below are the whole machine's */
    KR_NUMBER(S, "seed", seed, 0, INT64_MAX, 1, RESTART, "the same seed draws the same errors"),
    KR_WORDS(S, "inputs", inputs, machine_inputs, 31, RESTART,
             "permissives that its wires give; jog_enable: the hold-to-run device is pressed"),
};
#undef S
const struct kr_table kr_simulated_table = KR_TABLE("stations.simulated", simulated_rows);
const struct kr_table kr_physics_table = {"stations.rails.simulated", simulated_rows,
                                          sizeof simulated_rows / sizeof simulated_rows[0] - MACHINE_ROWS};
