#include "settings.h"

#include "kniferail/map.h"

#define USUAL " (the default is common practice, no published source)"

/* The range of positions is the simulated machine's; it is far from the limits of micrometres in 32 bits. */
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
static const char *const number_ends[] = {[false] = "ignored", [true] = "required", NULL}; /* whole_by_both_numbers */
static const char *const rails_moves[] = {[false] = "one_after_other", [true] = "together", NULL}; /* rails_together */
static const char *const scan_policies[] = {
    [KR_SCAN_AFTER_ACCESS] = "after_access", [KR_SCAN_ALWAYS] = "always", [KR_SCAN_UNKNOWN] = "unknown", NULL};
static const char *const metres_sources[] = {[KR_METRES_COUNTER] = "counter", [KR_METRES_SPEED] = "speed", NULL};
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
static const char *const clampings[] = {[KR_CLAMP_PER_HOLDER] = "per_holder", [KR_CLAMP_COMMON] = "common", NULL};
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

static const char *const scan_ways[] = {[KR_SCAN_BOTH_WAYS] = "both", [KR_SCAN_ONE_WAY] = "one", NULL};
static const char *const setup_modes[] = {"nobody", "safety_system", NULL};                  /* setup_mode_enforced */
static const char *const unpowered[] = {[false] = "may_move", [true] = "brakes_hold", NULL}; /* brakes_hold */
static const char *const permissives[] = {
#define X(name, bit, text) [bit] = #name,
    KR_PERMISSIVES(X)
#undef X
        NULL};

/* The inputs that a simulated machine's wires may give: the permissives, and the hold-to-run device, which has no
 * register. */
static const char *const machine_inputs[] = {
#define X(name, bit, text) [bit] = #name,
    KR_PERMISSIVES(X)
#undef X
        "JOG_ENABLE",
    NULL};
_Static_assert(KR_DI_JOG_ENABLE == KR_DI_LINE_STOPPED << 5, "the hold-to-run device stands behind five permissives");

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
              "factor by which the simulated machines run faster than the clock; it must be 1 with any other machine"),
    KR_TEXT(S, "book", book_path, 1, 0, RESTART,
            "file for the book: holder data, positions, orders and records; without it nothing survives a restart"),
    KR_WORD(S, "log", log, logs, KR_LOG_EVENTS, LIVE,
            "content of the log: events (commands, requests, unit states, alarms, and faults of clients and drives), "
            "or steps, which also has, at priority 7 (debug), each step of each carriage with the condition that it "
            "waited for, how long it waited, and the limit"),
    KR_NUMBER(S, "history_days", history_days, 0, 36500, 0, LIVE,
              "age in days after which the gateway deletes rows of the book's history; 0: rows are kept for ever"),
    KR_NUMBER(S, "history_mb", history_mb, 0, 1000000, 0, LIVE,
              "size of the book in megabytes (1,000,000 bytes) above which the gateway deletes the oldest rows of its "
              "history; 0: all rows are kept"),
    KR_INNER("face", KR_SETTING_GROUP, 0, NONE, "the Modbus/TCP server"),
    KR_INNER("stations", KR_SETTING_LIST, KR_MUST, RESTART, "the stations behind this gateway, 1 to 32"),
};
#undef S
const struct kr_table kr_daemon_table = KR_TABLE("", daemon_rows);

/* ---- the face -------------------------------------------------------------------------------------------------- */

#define S struct face_settings
static const struct kr_setting face_rows[] = {
    KR_INNER("listen", KR_SETTING_LIST, 0, RESTART,
             "addresses at which the server listens, 1 to 8 groups; default: 127.0.0.1, port 1502"),
    KR_TEXT(S, "default_station", default_station, 1, KR_OPTIONAL, RESTART,
            "name of the station for unit identifiers 0 and 255; without it they stand for the only station, if there "
            "is just one"),
    KR_WORD(S, "control", face.control_by_first_write, controls, 0, LIVE,
            "how a client takes control that no client has: by a request in ACCESS only, or also by its first order or "
            "command; heartbeat and permissives alone never take control"),
    KR_NUMBER(S, "connections", face.limits.connections, 1, 4096, 64, RESTART,
              "number of connections; an eighth of them, at least one, is kept for addresses that may control or "
              "maintain, and these displace readers" USUAL),
    KR_NUMBER(
        S, "connections_per_address", face.limits.connections_per_address, 1, 4096, 16, LIVE,
        "number of connections of one client address; IPv6 addresses with the same first 64 bits count as one" USUAL),
    KR_NUMBER(S, "queued_answers", face.limits.queued_answers, 1, 64, 16, RESTART,
              "answers that may wait unsent for one connection" USUAL),
    KR_NUMBER(S, "requests_per_s", face.limits.requests_per_s, 0, 1000000, 0, LIVE,
              "requests per second of one connection; faster requests wait; 0: no limit"),
    KR_NUMBER(S, "idle_ms", face.limits.idle_ms, 0, 86400000, 120000, LIVE,
              "time after which a silent connection is closed; 0: never" USUAL),
    KR_NUMBER(S, "partial_ms", face.limits.partial_ms, 10, 60000, 2000, LIVE,
              "time for the rest of a frame, and for a client to read its answers" USUAL),
    KR_INNER("rules", KR_SETTING_LIST, 0, LIVE,
             "rights of addresses, up to 64 rules; the longest prefix that matches decides; default: loopback may "
             "maintain, other addresses may read"),
    KR_INNER("groups", KR_SETTING_LIST, 0, LIVE, "addresses that share control, up to 16 groups"),
    KR_TEXT(S, "user_application", face.user_application, 0, 0, RESTART,
            "the plant's own words in the device identification (function 43/14, object 06)"),
};
#undef S
const struct kr_table kr_face_table = KR_TABLE("face", face_rows);

#define S struct kr_face_listen
static const struct kr_setting listen_rows[] = {
    KR_TEXT(S, "address", address, 2, KR_MUST, RESTART,
            "IPv4 or IPv6 address of this computer; 0.0.0.0 or :: stands for all of them"),
    KR_NUMBER(S, "port", port, 0, 65535, 1502, RESTART,
              "TCP port; 502 is registered for Modbus and needs a privilege; 0: any free port"),
};
#undef S
const struct kr_table kr_listen_table = KR_TABLE("face.listen", listen_rows);

#define S struct rule_settings
static const struct kr_setting rule_rows[] = {
    KR_TEXT(S, "address", address, 2, KR_MUST, LIVE,
            "an address, or a prefix such as 192.0.2.0/24 or 2001:db8::/32; 0.0.0.0/0 covers every IPv4 address, ::/0 "
            "every address of both kinds that no longer prefix covers; loopback keeps its own rule unless 127.0.0.0/8 "
            "or ::1 is named"),
    KR_WORD(S, "may", right, rights, KR_MUST, LIVE,
            "right of the address; control includes read, maintain includes control"),
    KR_TEXT(S, "station", station, 1, KR_OPTIONAL, LIVE,
            "name of the station that the rule is for; without it the rule is for every station. At each station the "
            "longest prefix decides; among equal prefixes a rule for this station alone decides, then the later rule"),
};
#undef S
const struct kr_table kr_rule_table = KR_TABLE("face.rules", rule_rows);

#define S struct kr_face_group
static const struct kr_setting group_rows[] = {
    KR_TEXT(S, "name", name, 1, KR_MUST, LIVE, "name of the group, shown as the holder of control"),
    KR_INNER("addresses", KR_SETTING_TEXTS, KR_MUST, LIVE, "addresses and prefixes of the group, 1 to 8"),
};
#undef S
const struct kr_table kr_group_table = KR_TABLE("face.groups", group_rows);

/* ---- a station ------------------------------------------------------------------------------------------------- */

#define S struct kr_config_station
static const struct kr_setting station_rows[] = {
    KR_TEXT(S, "name", station.name, 1, KR_MUST, RESTART, "name of the station, readable in the map"),
    KR_NUMBER(S, "unit_id", unit_id, 1, 247, KR_MUST, RESTART, "Modbus unit identifier"),
    KR_WORD(S, "length_unit", station.format.length_unit, length_units, KR_LENGTH_MM, RESTART,
            "unit of the length registers: mm counts 0.001 mm, in counts 0.0001 in"),
    KR_WORD(S, "word_order", station.format.low_word_first, kr_word_orders, 0, RESTART,
            "word order of 32-bit registers"),
    KR_WORD(S, "positioner", positioner, positioners, KR_POSITIONER_SIMULATED, RESTART,
            "device that moves the carriages"),
    KR_WORD(S, "cut", cut, cuts, KR_CUT_SHEAR, LIVE,
            "how the knives cut the web; the gateway uses it for checks only: shear, each upper knife cuts against a "
            "lower one (without a lower rail no check uses it); score, an upper knife is pressed against a plain roll "
            "(crush cut); razor, a blade cuts through the web"),
    KR_INNER("sizes", KR_SETTING_LIST, KR_MUST, RESTART,
             "sizes of the station's holders, 1 to 8; a size's number is its place in the list, from 1, and a book "
             "keeps the number"),
    KR_WORD(S, "request_number_end", whole_by_both_numbers, number_ends, false, RESTART,
            "required: an order is accepted only when REQUEST_NUMBER_END, behind the widths, equals REQUEST_NUMBER "
            "before them, so that the order is whole whatever the sequence in which an I/O scanner writes"),
    KR_WORD(S, "rails_move", station.geometry.rails_together, rails_moves, 1, GEOMETRY,
            "whether the rails' carriages work at the same time"),
    KR_WORD(S, "scan_before", station.scan_policy, scan_policies, KR_SCAN_AFTER_ACCESS, LIVE,
            "when a scan comes before a changeover: after_access, when hands may have moved holders, which includes a "
            "restart of the gateway; always; or unknown, only where a place is unknown. The last one trusts the places "
            "that the book remembers. It is only for holders that no hand can move: a carriage runs into a holder that "
            "was moved"),
    KR_NUMBER(S, "heartbeat_limit_ms", station.heartbeat_limit_ms, 100, 60000, 1000, LIVE,
              "time without a change of the PLC's heartbeat after which motion stops; the heartbeat should change "
              "within a third of it" USUAL),
    KR_NUMBER(S, "control_limit_ms", station.control_limit_ms, 100, 600000, 3000, LIVE,
              "time without a change of the PLC's heartbeat after which the PLC loses control; at least "
              "heartbeat_limit_ms, which is used if this setting is not given and would be less" USUAL),
    KR_NUMBER(S, "plan_limit_ms", station.plan_limit_ms, 100, 60000, 5000, LIVE,
              "time for making a plan; a plan that takes longer raises an alarm"),
    KR_WORD(S, "metres", station.metres_source, metres_sources, KR_METRES_COUNTER, LIVE,
            "source of the metres that knives cut: the PLC's counter in LINE_METRES, or its LINE_SPEED"),
    KR_NUMBER(S, "line_stands_mm_per_s", station.line_stands_um_per_s, 0, 1000 * MM, 20 * MM, LIVE,
              "with metres from LINE_SPEED: greatest speed of a line that stands; a faster line contradicts the "
              "permissive 'line stopped'" USUAL),
    KR_NUMBER(S, "job_late_percent", station.job_late_percent, 0, 1000, 150, LIVE,
              "part of its planned time after which a changeover is reported as late; 0: never"),
    KR_INNER("web", KR_SETTING_GROUP, KR_MUST, NONE, "limits of webs and orders"),
    KR_INNER("placement", KR_SETTING_GROUP, 0, NONE, "tolerances of knives"),
    KR_INNER("idle", KR_SETTING_GROUP, 0, NONE, "resting places of holders that do not cut"),
    KR_INNER("permissives", KR_SETTING_GROUP, KR_MUST, NONE, "permissives that motion needs"),
    KR_INNER("acceptance", KR_SETTING_GROUP, 0, NONE, "what the machine's acceptance asks for (kniferail commission)"),
    KR_INNER("carriage", KR_SETTING_GROUP, 0, NONE,
             "settings of all carriages; a rail may have a group of its own that differs"),
    KR_INNER("simulated", KR_SETTING_GROUP, 0, NONE,
             "settings of the simulated machine; a rail may have a group of its own that differs"),
    KR_INNER("drive", KR_SETTING_GROUP, 0, RESTART,
             "settings of all drives, with the positioner modbus; a rail may have a group of its own that differs"),
    KR_INNER("knife_kinds", KR_SETTING_LIST, 0, LIVE,
             "limits after which knives of a kind are due for a grind, up to 16 kinds; a knife of another kind has no "
             "limit"),
    KR_INNER("rails", KR_SETTING_LIST, KR_MUST, RESTART, "the rails, 1 to 4"),
};
const struct kr_table kr_station_table = KR_TABLE("stations", station_rows);
#undef S

#define S struct kr_knife_limit
static const struct kr_setting knife_kind_rows[] = {
    KR_TEXT(S, "kind", kind, 1, KR_MUST, LIVE, "name of the kind, as in the ledger of knives"),
    KR_NUMBER(S, "due_metres", due_metres, 1, INT32_MAX, KR_MUST, LIVE,
              "metres that a knife of this kind may cut between two grinds; after them GRIND_DUE reports the knife"),
    KR_NUMBER(S, "notice_metres", notice_metres, 0, INT32_MAX, 0, LIVE,
              "number of metres before due_metres at which GRIND_SOON reports the knife; less than due_metres"),
};
#undef S
const struct kr_table kr_knife_kind_table = KR_TABLE("stations.knife_kinds", knife_kind_rows);

#define S struct size_settings
static const struct kr_setting size_rows[] = {
    KR_TEXT(S, "name", name, 1, KR_MUST, RESTART,
            "name of the size, readable in the map; it must not consist of digits alone"),
    KR_NUMBER(S, "spacing_mm", spacing_um, MM, 1000 * MM, KR_MUST, GEOMETRY,
              "least centre-to-centre spacing of two holders of this size; for two holders of different sizes the mean "
              "of both counts"),
    KR_NUMBER(S, "body_mm", body_um, 100, 1000 * MM, KR_OPTIONAL, RESTART,
              "width of a simulated holder's body: two bodies that come closer collide; without it 0.4 mm less than "
              "the spacing, invented for the simulator"),
};
#undef S
const struct kr_table kr_size_table = KR_TABLE("stations.sizes", size_rows);

#define S struct kr_config_station

static const struct kr_setting web_rows[] = {
    KR_NUMBER(S, "centre_mm", station.geometry.web_centre_um, LOW_UM, HIGH_UM, KR_MUST, GEOMETRY,
              "the web's centre line with shift 0, from the datum"),
    KR_NUMBER(S, "widest_mm", station.geometry.web_max_nm, MM_NM, 20000 * MM_NM, KR_MUST, GEOMETRY, "widest web"),
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
              "tolerance of a knife's place, either way; 0.2032 (0.008 in) is common practice, no published source"),
    KR_NUMBER(S, "knife_most_mm", station.geometry.tolerance_max_um, 1, 10 * MM, 1000, LIVE,
              "the widest tolerance that an order may ask for"),
    KR_NUMBER(S, "pair_mm", station.pair_window_um, 1, 20 * MM, 300, UNVERIFY,
              "how far upper and lower knife of a cut may be off their clearance, either way"),
    KR_NUMBER(S, "slit_mm", station.slit_tolerance_um, 1, 20 * MM, 300, UNVERIFY,
              "tolerance of a slit's width, edge to edge, either way"),
    KR_NUMBER(
        S, "deadband_mm", station.deadband_um, 0, 5 * MM, 50, LIVE,
        "a holder this near to its target stays; where no plan is possible otherwise, one that is within knife_mm, and "
        "within half of pair_mm and slit_mm, stays, too"),
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
#define BY_HAND(name, test, situation, brief, act, undo, caution) [KR_BY_HAND_##name] = #name,
#include "kniferail/provoke.def"
    NULL};
static const struct kr_setting acceptance_rows[] = {
    KR_NUMBER(S, "dockings", acceptance.dockings, 1, 1000, 10, LIVE, "number of dockings at each holder in service"),
    KR_NUMBER(S, "changeovers", acceptance.changeovers, 1, 1000, 30, LIVE,
              "number of changeovers to random orders at production speed"),
    KR_NUMBER(S, "faults_most", acceptance.faults_most, 0, 1000, 0, LIVE,
              "number of faults that are allowed: jobs that do not end Complete, and dockings that are repeated"),
    KR_NUMBER(S, "cpk_least_permille", acceptance.cpk_least_permille, 0, 10000, 1330, LIVE,
              "least allowed lower end of the 95 % interval of Cpk, for the placement of each rail's knives against "
              "knife_mm; 1330 is 1.33" USUAL),
    KR_NUMBER(S, "time_apart_most_permille", acceptance.time_most_permille, 1, 10000, 50, LIVE,
              "allowed difference between actual and planned time in either direction, over all changeovers"),
    KR_WORDS(S, "alarms", acceptance.alarms, by_hand,
             1 << KR_BY_HAND_PERMISSIVE_LOST | 1 << KR_BY_HAND_HEARTBEAT_STALE | 1 << KR_BY_HAND_JOG_ENABLE_LOST |
                 1 << KR_BY_HAND_LINK_LOST,
             LIVE,
             "alarms that are provoked once at the machine, because here that does no harm; the others are provoked "
             "against kniferail-sim"),
};
const struct kr_table kr_acceptance_table = KR_TABLE("stations.acceptance", acceptance_rows);

static const struct kr_setting permissives_rows[] = {
    KR_WORDS(S, "scan", station.need_scan, permissives, KR_MUST, LIVE,
             "needed while a carriage scans or travels alone"),
    KR_WORDS(S, "drag", station.need_drag, permissives, KR_MUST, LIVE, "needed while holders are moved"),
    KR_WORDS(S, "home", station.need_home, permissives, KR_MUST, LIVE, "needed while carriages are homed"),
    KR_WORDS(S, "jog", station.need_jog, permissives,
             KR_PERMIT_LINE_STOPPED | KR_PERMIT_KNIVES_RAISED | KR_PERMIT_GUARDS_CLOSED | KR_PERMIT_ENABLE, LIVE,
             "needed, besides the hold-to-run device, while a carriage is jogged or an output is tried; without "
             "guards_closed only where setup_mode says why"),
    KR_WORD(S, "setup_mode", station.setup_mode_enforced, setup_modes, 0, LIVE,
            "who bounds a jog with open guards: nobody, so that the guards have to be closed; or safety_system: this "
            "is your statement that the machine's safety system enforces the mode (selector, enabling device, limited "
            "speed). The gateway neither verifies nor replaces that"),
    KR_WORDS(S, "drive_inputs", station.drive_inputs, permissives, 0, LIVE,
             "permissives that come from inputs of the drives and not from the PLC's register"),
    KR_WORDS(S, "access", station.access, permissives, KR_MUST, LIVE,
             "permissives without which hands may move holders"),
    KR_WORD(S, "unpowered", station.brakes_hold, unpowered, 0, LIVE,
            "what becomes of holders while a drive has no power or no link: they may move, so that they have to be "
            "measured again; or brakes_hold: this is your statement that brakes and clamps hold them without power, so "
            "that a line that runs may go on, and what was proven counts again after a restart. The gateway neither "
            "verifies nor replaces that"),
};
#undef S
const struct kr_table kr_permissives_table = KR_TABLE("stations.permissives", permissives_rows);

/* ---- carriages and rails --------------------------------------------------------------------------------------- */

#define S struct rail_settings
static const struct kr_setting carriage_rows[] = {
    KR_NUMBER(S, "empty_speed_mm_per_s", geometry.empty.v_um_per_s, MM, 5000 * MM, KR_MUST, GEOMETRY,
              "maximum speed without a holder"),
    KR_NUMBER(S, "empty_accel_mm_per_s2", geometry.empty.a_um_per_s2, 10 * MM, 50000 * MM, KR_MUST, GEOMETRY,
              "acceleration without a holder"),
    KR_NUMBER(S, "drag_speed_mm_per_s", geometry.drag.v_um_per_s, MM, 5000 * MM, KR_MUST, GEOMETRY,
              "maximum speed with a holder"),
    KR_NUMBER(S, "drag_accel_mm_per_s2", geometry.drag.a_um_per_s2, 10 * MM, 50000 * MM, KR_MUST, GEOMETRY,
              "acceleration with a holder"),
    KR_NUMBER(S, "dock_ms", geometry.dock_us, KR_DOCK_MIN_US, KR_DOCK_MAX_US, KR_MUST, SEED,
              "planned time to dock: pin in, brake open, with their proof"),
    KR_NUMBER(S, "undock_ms", geometry.undock_us, KR_DOCK_MIN_US, KR_DOCK_MAX_US, KR_MUST, SEED,
              "planned time to undock: settled, brake closed, pin out, ready for the next move"),
    KR_NUMBER(S, "setpoint_ms", geometry.setpoint_us, 0, KR_TRAVEL_MAX_US, 0, SEED,
              "planned time for the set-point of each way of the carriage, until the drive acknowledges it"),
    KR_NUMBER(S, "rounding_ms", geometry.rounding_us, 0, KR_TRAVEL_MAX_US, 0, SEED,
              "planned time of each way of the carriage beyond its speeds and accelerations: for a drive that limits "
              "its jerk, acceleration divided by jerk, and the time until target reached is seen"),
    KR_NUMBER(S, "enable_ms", carriage.enable_ms, 0, 60000, 0, LIVE,
              "planned time of a job until the drives are on, and until they are off again at its end"),
    KR_NUMBER(S, "clamp_ms", carriage.clamp_ms, 0, 60000, 0, LIVE,
              "planned time for a common clamp to open, and the same time to close"),
    KR_WORD(
        S, "approach", approach_word, approaches, 0, GEOMETRY,
        "final approach of every holder, to take up backlash: growing from the operator side, falling, or either way"),
    KR_NUMBER(S, "overtravel_mm", geometry.overtravel_um, 0, 100 * MM, 0, GEOMETRY,
              "distance past its target, and back, of a holder that arrives against the approach"),
    KR_WORD(S, "clamping", carriage.clamping, clampings, KR_CLAMP_PER_HOLDER, GEOMETRY,
            "each holder has a brake of its own; or one common clamp holds the whole rail besides"),
    KR_NUMBER(S, "travel_least_mm", carriage.travel_min_um, LOW_UM, HIGH_UM, KR_MUST, GEOMETRY,
              "end of the travel of the carriage's pin at the operator side: the drive's own position"),
    KR_NUMBER(S, "travel_most_mm", carriage.travel_max_um, LOW_UM, HIGH_UM, KR_MUST, GEOMETRY,
              "end of the travel of the carriage's pin at the drive side: the drive's own position"),
    KR_NUMBER(S, "travel_margin_mm", carriage.travel_margin_um, 0, 1000 * MM, 5 * MM, LIVE,
              "distance beyond the travel up to which a position is believed; with a position further out nothing is "
              "enabled" USUAL),
    KR_NUMBER(S, "drift_mm", carriage.drift_um, 0, 1000 * MM, 20 * MM, LIVE,
              "greatest distance of a carriage at rest from the place where it was last seen; beyond it the datum is "
              "in doubt; 0: any distance is allowed" USUAL),
    KR_NUMBER(S, "battery_code", carriage.battery_code, 0, 65535, 0, LIVE,
              "error code (603Fh) by which the drive warns of the encoder's battery, where that is not one of 73xxh; "
              "0: none"),
    KR_NUMBER(S, "park_mm", carriage.park_um, LOW_UM, HIGH_UM, KR_MUST, GEOMETRY,
              "resting place of the carriage, clear of the web"),
    KR_NUMBER(S, "park_window_mm", carriage.park_window_um, 1, 100 * MM, 1 * MM, LIVE,
              "distance from park_mm within which the carriage counts as parked"),
    KR_NUMBER(S, "switch_offset_mm", carriage.switch_offset_um, -KR_SWITCH_OFFSET_MAX_UM, KR_SWITCH_OFFSET_MAX_UM, 0,
              SEED,
              "distance from the pin to the proximity switch, positive towards the drive side; job 12 measures it"),
    KR_NUMBER(S, "flag_width_mm", carriage.flag_width_um, 100, 1000 * MM, KR_MUST, GEOMETRY,
              "width of a holder's flag, as the switch sees it"),
    KR_NUMBER(S, "scan_speed_mm_per_s", carriage.scan_speed_um_per_s, MM, 5000 * MM, KR_MUST, GEOMETRY,
              "speed of a scan"),
    KR_NUMBER(S, "scan_fast_mm_per_s", carriage.scan_fast_um_per_s, 0, 5000 * MM, 0, LIVE,
              "speed of a scan between flags whose positions are measured or placed, while guards are closed (access). "
              "Over the flags the scan goes at scan_speed_mm_per_s, and all along once anything is not where it was "
              "expected. 0: a scan has one speed"),
    KR_WORD(S, "scan_ways", carriage.scan_ways, scan_ways, KR_SCAN_BOTH_WAYS, GEOMETRY,
            "one: a scan goes one way, growing, on a rail whose scan bias is known, at full speed and with one switch; "
            "otherwise, and in the first scan since the start, it goes both ways"),
    KR_NUMBER(S, "setup_speed_mm_per_s", carriage.setup_speed_um_per_s, MM, 5000 * MM, 50 * MM, LIVE,
              "reduced speed, for a hold-to-run jog and for a job that is started at reduced speed; the machine's risk "
              "assessment says which speed is low enough"),
    KR_NUMBER(S, "homing_creep_mm_per_s", carriage.homing_creep_um_per_s, MM / 10, 1000 * MM, 5 * MM, LIVE,
              "speed of homing towards the zero mark, where the drive's register takes it; homing runs at "
              "setup_speed_mm_per_s at most" USUAL),
    KR_NUMBER(S, "torque_permille", carriage.torque_permille, 1, 10000, 1000, LIVE,
              "maximum torque, in per mille of the rated torque, where the drive's register takes it" USUAL),
    KR_NUMBER(S, "setup_torque_permille", carriage.setup_torque_permille, 1, 10000, 500, LIVE,
              "maximum torque in a jog, in homing, and in a job that is started at reduced speed" USUAL),
    KR_NUMBER(S, "frame_expansion_ppm", carriage.expansion_ppb, 0, 50000, 0, GEOMETRY,
              "parts per million by which the machine's frame expands with each kelvin; the PLC sends the frame's "
              "temperature in FRAME_TEMPERATURE. 0: places are not corrected for temperature"),
    KR_NUMBER(S, "scan_bias_mm", carriage.scan_bias_um, -KR_SCAN_BIAS_MAX_UM, KR_SCAN_BIAS_MAX_UM, 0, SEED,
              "bias that is subtracted from what a scan sees that goes one way, growing. 0: it is not known, and a "
              "scan goes both ways, whatever scan_ways says. Job 11 measures it"),
    KR_NUMBER(S, "gauge_rounds", carriage.gauge_rounds, 2, 20, 5, LIVE,
              "rounds of the jobs that measure the switch: job 11 makes so many scans at each of two speeds, job 12 so "
              "many drags each way" USUAL),
    KR_NUMBER(S, "passes_apart_mm", carriage.passes_apart_um, 1, 50 * MM, 600, LIVE,
              "greatest distance between the places at which the two passes of a scan see a flag"),
    KR_NUMBER(S, "displaced_mm", carriage.displaced_um, 1, 1000 * MM, 1 * MM, LIVE,
              "distance of a holder from its known place above which it is reported"),
    KR_NUMBER(
        S, "alike_mm", carriage.alike_um, 1, 10 * MM, 100, LIVE,
        "amount: if most of the holders that nobody moved are found off alike by more, the rail's datum, scale or "
        "switch is off, and nothing on the rail counts as measured until that is corrected or a person confirms it"),
    KR_NUMBER(S, "jump_mm", carriage.jump_um, 1, 100 * MM, 2 * MM, LIVE,
              "change of a position in one cycle that is allowed beyond the maximum speed"),
    KR_NUMBER(S, "settle_ms", carriage.settle_ms, 0, 10000, 50, LIVE, "time at the target before the brake closes"),
    KR_NUMBER(S, "enable_limit_ms", carriage.enable_limit_ms, 10, 60000, 3000, LIVE,
              "time limit for the drive to be on"),
    KR_NUMBER(S, "setpoint_limit_ms", carriage.setpoint_limit_ms, 10, 60000, 500, LIVE,
              "time limit for the drive to take the set-point"),
    KR_NUMBER(S, "pin_limit_ms", carriage.pin_limit_ms, 10, 60000, 1500, LIVE,
              "time limit for the pin to go in, and to come out"),
    KR_NUMBER(S, "brake_limit_ms", carriage.brake_limit_ms, 10, 60000, 1500, LIVE,
              "time limit for the brake to open, and to close"),
    KR_NUMBER(S, "clamp_limit_ms", carriage.clamp_limit_ms, 10, 120000, 3000, LIVE,
              "time limit for the common clamp to open, and to close"),
    KR_NUMBER(S, "home_limit_ms", carriage.home_limit_ms, 10, 600000, 120000, LIVE, "time limit for homing"),
    KR_NUMBER(S, "move_margin_ms", carriage.move_margin_ms, 10, 60000, 1000, LIVE,
              "time by which a move may take longer than it should"),
    KR_NUMBER(S, "dock_tries", carriage.dock_tries, 1, 10, 3, LIVE, "tries to dock a holder"),
    KR_NUMBER(S, "retries_notice", carriage.retries_notice, 0, 65535, 20, LIVE,
              "docking retries of a holder, in all, after which it needs maintenance; 0: never"),
    KR_NUMBER(S, "slips_notice", carriage.slips_notice, 0, 65535, 3, LIVE,
              "placements of a holder out of tolerance, since the gateway's start, after which it needs maintenance; "
              "0: never"),
    KR_NUMBER(S, "metres_notice", carriage.metres_notice, 0, INT32_MAX, 0, LIVE,
              "metres that a knife has cut since its regrind or swap, after which it needs maintenance; 0: never"),
};
const struct kr_table kr_carriage_table = KR_TABLE("stations.carriage", carriage_rows);

static const struct kr_setting rail_rows[] = {
    KR_WORD(S, "role", geometry.role, roles, KR_MUST, RESTART, "upper, or lower: the rail of a shear's counter-knives"),
    KR_NUMBER(S, "least_mm", geometry.min_um, LOW_UM, HIGH_UM, KR_MUST, GEOMETRY,
              "limit of every holder's centre, operator side"),
    KR_NUMBER(S, "most_mm", geometry.max_um, LOW_UM, HIGH_UM, KR_MUST, GEOMETRY,
              "limit of every holder's centre, drive side"),
    KR_NUMBER(
        S, "side_clearance_mm", geometry.cut_side_um, -10 * MM, 10 * MM, 0, GEOMETRY,
        "upper rail: distance added to every cut line, which the blade's side stroke closes. On a shear it is at least "
        "pair_mm and blade_run_out_mm in either direction, so that no blade is lowered onto its counter-knife"),
    KR_NUMBER(S, "blade_run_out_mm", blade.run_out_um, 0, 5 * MM, 50, LIVE,
              "upper rail of a shear: sideways run-out of the blades' edges in one turn" USUAL),
    KR_NUMBER(S, "side_stroke_mm", blade.side_stroke_um, 1, 50 * MM, KR_OPTIONAL, LIVE,
              "upper rail of a shear: the blades' side stroke; if it is given, side_clearance_mm is at most "
              "side_stroke_mm less pair_mm, so that every blade reaches its counter-knife"),
    KR_INNER("holders", KR_SETTING_LIST, KR_MUST, RESTART,
             "the rail's holders from the operator side, 1 to 128 in all"),
    KR_INNER("frame", KR_SETTING_GROUP, 0, NONE,
             "the rail's frame, which converts its drive's positions to places in the machine's frame"),
    KR_INNER("carriage", KR_SETTING_GROUP, 0, NONE, "settings of this rail's carriage that differ from the station's"),
    KR_INNER("simulated", KR_SETTING_GROUP, 0, NONE,
             "settings of this rail's simulated machine that differ from the station's"),
    KR_INNER("drive", KR_SETTING_GROUP, 0, NONE, "settings of this rail's drive that differ from the station's"),
};
const struct kr_table kr_rail_table = KR_TABLE("stations.rails", rail_rows);

#define PPM ((int64_t)1000) /* in ppb */
static const char *const reference_switches[] = {"shared", "own", NULL};
static const struct kr_setting frame_rows[] = {
    KR_NUMBER(S, "offset_mm", carriage.frame.offset_um, -KR_FRAME_OFFSET_MAX_UM, KR_FRAME_OFFSET_MAX_UM, 0, SEED,
              "place in the frame at the drive's position 0: place = offset_mm + position + position x scale_ppm / "
              "1000000 + the table's error"),
    KR_NUMBER(S, "scale_ppm", carriage.frame.scale_ppb, -KR_FRAME_SCALE_MAX_PPB, KR_FRAME_SCALE_MAX_PPB, 0, SEED,
              "scale, positive if the carriage moves further than its drive reports; three decimals count"),
    KR_INNER(
        "table", KR_SETTING_LIST, 0, SEED,
        "remaining errors, up to 64 points; the error is linear between two points, and constant beyond the outermost"),
    KR_INNER("references", KR_SETTING_LIST, 0, GEOMETRY,
             "flags fixed to the machine's frame beyond the holders, up to 8, by their places; with a switch of their "
             "own they may stand anywhere along the rail. Every scan passes them, and counts only if it found two of "
             "them good (one, if there is only one)"),
    KR_WORD(S, "reference_switch", carriage.references.own_switch, reference_switches, 0, GEOMETRY,
            "switch that sees the references: shared, the switch that sees the holders' flags; or own, a second one on "
            "the carriage, on the drive's touch probe 2, which sees no holder's flag"),
    KR_NUMBER(S, "reference_switch_offset_mm", carriage.references.switch_offset_um, -1000 * MM, 1000 * MM, 0, GEOMETRY,
              "own: distance from the pin to the second switch"),
    KR_NUMBER(
        S, "reference_window_mm", carriage.references.window_um, 1, 5 * MM, 1 * MM, LIVE,
        "distance of the references from the places at which they were taught; if it is greater, the rail is off, and "
        "nothing on it counts as measured; if it is smaller, it is subtracted from the scanned places" USUAL),
    KR_NUMBER(S, "reference_step_mm", carriage.references.step_um, 1, 5 * MM, 300, LIVE,
              "distance of the references from their places in the last scan, with the same effect" USUAL),
};
#undef S
const struct kr_table kr_frame_table = KR_TABLE("stations.rails.frame", frame_rows);

#define S struct kr_frame_point
static const struct kr_setting point_rows[] = {
    KR_NUMBER(S, "at_mm", at_um, LOW_UM, HIGH_UM, KR_MUST, SEED, "position of the drive; it grows from point to point"),
    KR_NUMBER(S, "error_mm", error_um, -KR_FRAME_ERROR_MAX_UM, KR_FRAME_ERROR_MAX_UM, KR_MUST, SEED,
              "error: the place reached there less the place by offset_mm and scale_ppm; from point to point it "
              "changes by at most a tenth of the distance"),
};
#undef S
const struct kr_table kr_point_table = KR_TABLE("stations.rails.frame.table", point_rows);

#define S struct kr_reference
static const struct kr_setting reference_rows[] = {
    KR_NUMBER(S, "at_mm", at_um, LOW_UM, HIGH_UM, KR_MUST, GEOMETRY,
              "place of the flag's centre in the frame; it grows from flag to flag"),
    KR_NUMBER(S, "width_mm", width_um, 100, 1000 * MM, KR_MUST, GEOMETRY, "width of the flag, as the switch sees it"),
};
#undef S
const struct kr_table kr_reference_table = KR_TABLE("stations.rails.frame.references", reference_rows);

#define S struct holder_settings
static const struct kr_setting holder_rows[] = {
    KR_NUMBER(S, "count", count, 1, KR_HOLDERS_MAX, 1, RESTART, "number of holders, side by side, that are alike"),
    KR_TEXT(S, "size", size, 1, KR_MUST, SEED, "name of the holder's size, one of the station's list sizes"),
    KR_WORD(S, "state", data.state, holder_states, KR_HOLDER_IN, SEED,
            "in service, out of service, fixed (seized), absent (off the rail)"),
    KR_NUMBER(S, "edge_offset_mm", data.edge_offset_um, -200 * MM, 200 * MM, 0, SEED,
              "distance from the scanned centre to the cutting edge; the edge is not proven before maintenance "
              "confirms it or a test cut proves it"),
    KR_NUMBER(S, "first_mm", first_um, LOW_UM, HIGH_UM, KR_OPTIONAL, SEED,
              "place of the first holder; without it no place is known (and a simulated machine packs its holders at "
              "the operator side)"),
    KR_NUMBER(S, "pitch_mm", pitch_um, 1, 10000 * MM, KR_OPTIONAL, SEED, "distance from one holder to the next"),
};
#undef S
const struct kr_table kr_holder_table = KR_TABLE("stations.rails.holders", holder_rows);

/* ---- the simulated machine ------------------------------------------------------------------------------------- */

#define S struct simulated_settings
/* The physics comes from the simulator's own table. If these are not given, they follow from the station's carriage
 * settings: flag_width_um, switch_offset_um, clamp_common, carriage_um, and the stops, 50 mm beyond the travel. */
static const struct kr_setting simulated_rows[] = {
#define P(name, value, least, most, meaning, source) \
    KR_NUMBER(S, #name, rail.name, least, most, value, RESTART, meaning "; " source),
#include "sim/parameters.def"
#define MACHINE_ROWS 2 /* the following rows are for the whole machine */
    KR_NUMBER(S, "seed", seed, 0, INT64_MAX, 1, RESTART, "the same seed draws the same errors"),
    KR_WORDS(S, "inputs", inputs, machine_inputs, 31, RESTART,
             "permissives that its wires give; jog_enable: the hold-to-run device is pressed"),
};
#undef S
const struct kr_table kr_simulated_table = KR_TABLE("stations.simulated", simulated_rows);
const struct kr_table kr_physics_table = {"stations.rails.simulated", simulated_rows,
                                          sizeof simulated_rows / sizeof simulated_rows[0] - MACHINE_ROWS};
