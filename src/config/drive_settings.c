/* The tables of a drive's settings: its link, its units, and its registers and bits. */
#include "settings.h"

#define USUAL "; default: common practice, no published source"

static const char *const lines[] = {"tcp", "serial", NULL};
static const char *const parities[] = {"none", "even", "odd", NULL};
static const char *const answers[] = {"no", "yes", NULL};
static const char *const sides[] = {"drive_side", "operator_side", NULL}; /* reversed */
static const char *const proofs[] = {"read", "proven", NULL};             /* enum kr_watchdog_proof */
static const char *const output_words[] = {"pin_in", "pin_out", "brake_open", "clamp_open", NULL};
/* In the sequence of their bits. */
static const char *const input_words[] = {"pin_in",        "pin_out", "brake_open", "brake_closed", "clamp_open",
                                          "clamp_closed",  "flag",    "reference",  "line_stopped", "knives_raised",
                                          "guards_closed", "air",     "enable",     "jog_enable",   "limit_low",
                                          "limit_high",    NULL};

#define S struct drive_settings
static const struct kr_setting drive_rows[] = {
    KR_WORD(S, "line", drive.link.serial, lines, 0, RESTART, "Modbus/TCP, or RTU on a serial line"),
    KR_TEXT(S, "address", drive.link.address, 2, KR_OPTIONAL, RESTART, "tcp: IPv4 or IPv6 address of the drive"),
    KR_NUMBER(S, "port", drive.link.port, 1, 65535, 502, RESTART, "tcp: port of the drive"),
    KR_TEXT(S, "device", drive.link.device, 1, KR_OPTIONAL, RESTART, "serial: device of the line"),
    KR_NUMBER(S, "baud", drive.link.baud, 1200, 1000000, 115200, RESTART, "serial: bits per second"),
    KR_WORD(S, "parity", parity_word, parities, 1, RESTART, "serial: parity of each character"),
    KR_NUMBER(S, "stop_bits", drive.link.stop_bits, 1, 2, 1, RESTART, "serial: number of stop bits"),
    KR_NUMBER(S, "retries", drive.link.retries, 0, 10, 2, RESTART,
              "serial: further tries of a transfer before the link counts as lost" USUAL),
    KR_NUMBER(S, "unit_id", drive.link.unit_id, 0, 255, 1, RESTART, "the drive's unit identifier"),
    KR_NUMBER(S, "answer_ms", drive.link.answer_ms, 1, 5000, 50, RESTART,
              "serial: time for which one try waits for its answer" USUAL),
    KR_NUMBER(S, "stop_ms", drive.link.stop_ms, 20, 10000, 450, RESTART,
              "age of the newest answer at which motion stops (Suspended); it is shorter than the drive's own "
              "watchdog" USUAL),
    KR_NUMBER(S, "lost_ms", drive.link.lost_ms, 50, 30000, 1000, RESTART,
              "tcp: time without an answer after which the drive counts as lost (Aborted); it is longer than the "
              "drive's own watchdog" USUAL),
    KR_NUMBER(S, "watchdog_ms", drive.watchdog_ms, 0, 30000, 0, RESTART,
              "time of the drive's own communication watchdog: longer than stop_ms, shorter than lost_ms; 0: it is not "
              "given, and not compared"),
    KR_WORD(S, "function_23", drive.function_23, answers, 1, RESTART,
            "the gateway writes and reads in one transfer, if the registers of each are one run"),
    KR_NUMBER(S, "answer_lag", drive.answer_lag, 0, 10, 1, RESTART,
              "number of transfers between an output and its answer: the drive's own delay"),
    KR_WORD(S, "read_back", drive.read_back, answers, 0, RESTART,
            "without registers.owner: the drive lets controlword and target be read back, so that values that this "
            "gateway has not written reveal a second gateway"),
    KR_WORD(S, "word_order", drive.map.low_word_first, kr_word_orders, 0, RESTART,
            "word order of the drive's 32-bit objects"),
    KR_WORD(S, "counts_towards", drive.map.reversed, sides, 0, RESTART,
            "side towards which the drive's position grows"),
    KR_NUMBER(S, "position_units", drive.map.position.units, 1, 1000000000, 1, RESTART,
              "number of the drive's units of position that are ..."),
    KR_NUMBER(S, "position_um", position_um, 1, 1000000000, 1, RESTART, "... this length"),
    KR_NUMBER(S, "speed_units", drive.map.speed.units, 1, 1000000000, 1, RESTART,
              "number of the drive's units of speed that are ..."),
    KR_NUMBER(S, "speed_um_per_s", speed_um_per_s, 1, 1000000000, 1, RESTART, "... this speed"),
    KR_NUMBER(S, "accel_units", drive.map.accel.units, 1, 1000000000, 1, RESTART,
              "number of the drive's units of acceleration that are ..."),
    KR_NUMBER(S, "accel_um_per_s2", accel_um_per_s2, 1, 1000000000, 1, RESTART, "... this acceleration"),
    KR_NUMBER(
        S, "referenced_bit", drive.map.referenced_bit, KR_NO_BIT, 15, KR_NO_BIT, RESTART,
        "bit of the statusword which says that the position has a datum; -1: it always has one (absolute encoder)"),
    KR_WORD(S, "watchdog", drive.watchdog, proofs, KR_WATCHDOG_READ, RESTART,
            "the drive's own communication watchdog: read from its register after every connecting, or proven at "
            "commissioning by cutting the link"),
    KR_NUMBER(S, "watchdog_most", drive.watchdog_most, 1, 65535, 500, RESTART,
              "longest time that the register may have, in the register's own unit"),
    KR_WORDS(S, "inverted_outputs", inverted_outputs, output_words, 0, RESTART,
             "outputs that are on when their bit is 0"),
    KR_WORDS(S, "inverted_inputs", inverted_inputs, input_words, 0, RESTART, "inputs that are on when their bit is 0"),
    KR_INNER("registers", KR_SETTING_GROUP, 0, NONE,
             "register addresses of the drive's objects, from 0; -1: the drive has no such object"),
    KR_INNER("outputs", KR_SETTING_GROUP, 0, NONE, "bits of the drive's digital outputs"),
    KR_INNER("inputs", KR_SETTING_GROUP, 0, NONE,
             "bits of the drive's digital inputs; limit switches are shown and nothing more: the drive itself stops at "
             "them"),
    KR_INNER("expected", KR_SETTING_LIST, 0, RESTART,
             "up to 24 parameters that the drive must show after every connecting, or it is refused by the name of the "
             "parameter: position limits, quick stop and disable options, following error, target window, torque "
             "limit, watchdog, probe and homing settings; a rail's own list takes the place of the station's"),
};
const struct kr_table kr_drive_table = KR_TABLE("stations.drive", drive_rows);

/* The standard addresses are those of kr_drivemap_standard(); a test compares them. */
#define ADDRESS(NAME, name, standard, meaning) \
    KR_NUMBER(S, name, drive.map.address[KR_OBJECT_##NAME], KR_NO_REGISTER, 65535, standard, RESTART, meaning)
static const struct kr_setting registers_rows[] = {
    ADDRESS(CONTROLWORD, "controlword", 0, "6040h controlword"),
    ADDRESS(MODE, "mode", 1, "6060h mode of operation, in the low byte"),
    ADDRESS(TARGET, "target", 2, "607Ah target position, two registers"),
    ADDRESS(SPEED, "speed", 4, "6081h profile velocity, two registers"),
    ADDRESS(ACCEL, "accel", 6, "6083h profile acceleration, two registers"),
    ADDRESS(DECEL, "decel", 8, "6084h profile deceleration, two registers"),
    ADDRESS(PROBE_FUNCTION, "probe_function", 10, "60B8h touch probe function"),
    ADDRESS(OUTPUTS, "outputs", 11, "digital outputs"),
    ADDRESS(STATUSWORD, "statusword", 100, "6041h statusword"),
    ADDRESS(MODE_DISPLAY, "mode_display", 101, "6061h mode of operation display, in the low byte"),
    ADDRESS(ERROR_CODE, "error_code", 102, "603Fh error code"),
    ADDRESS(POSITION, "position", 103, "6064h position actual value, two registers"),
    ADDRESS(FOLLOWING_ERROR, "following_error", 105, "60F4h following error actual value, two registers"),
    ADDRESS(PROBE_STATUS, "probe_status", 107, "60B9h touch probe status"),
    ADDRESS(PROBE_RISE, "probe_rise", 108, "60BAh probe 1, position at the rising edge, two registers"),
    ADDRESS(PROBE_FALL, "probe_fall", 110, "60BBh probe 1, position at the falling edge, two registers"),
    ADDRESS(RISE_COUNT, "rise_count", 112, "60D5h probe 1, count of rising edges; -1: told by changes of probe_rise"),
    ADDRESS(FALL_COUNT, "fall_count", 113, "60D6h probe 1, count of falling edges; -1: told by changes of probe_fall"),
    ADDRESS(INPUTS, "inputs", 114, "digital inputs, bits 0 to 15"),
    ADDRESS(INPUTS_HIGH, "inputs_high", KR_NO_REGISTER, "digital inputs, bits 16 to 31"),
    ADDRESS(PROBE_2_RISE, "probe_2_rise", KR_NO_REGISTER,
            "60BCh probe 2, position at the rising edge, two registers; needed for reference_switch = \"own\""),
    ADDRESS(PROBE_2_FALL, "probe_2_fall", KR_NO_REGISTER,
            "60BDh probe 2, position at the falling edge, two registers; likewise"),
    ADDRESS(RISE_2_COUNT, "rise_2_count", KR_NO_REGISTER,
            "60D7h probe 2, count of rising edges; -1: told by changes of probe_2_rise"),
    ADDRESS(FALL_2_COUNT, "fall_2_count", KR_NO_REGISTER,
            "60D8h probe 2, count of falling edges; -1: told by changes of probe_2_fall"),
    ADDRESS(WATCHDOG, "watchdog", 200, "time of its communication watchdog; 0: off"),
    ADDRESS(HOMING_METHOD, "homing_method", KR_NO_REGISTER,
            "6098h homing method, in the low byte, read after every connecting; -1: nobody can see whether homing "
            "looks for a mark or calls any place home"),
    ADDRESS(
        HOMING_SPEED, "homing_speed", KR_NO_REGISTER,
        "6099h:01 homing speed towards the switch, two registers; -1: it is the drive's own setting, to be confirmed"),
    ADDRESS(HOMING_CREEP, "homing_creep", KR_NO_REGISTER,
            "6099h:02 homing speed towards the zero mark, two registers; -1: likewise"),
    ADDRESS(TORQUE_LIMIT, "torque_limit", KR_NO_REGISTER,
            "6072h max torque, in per mille of the rated torque; -1: likewise"),
    ADDRESS(OWNER, "owner", KR_NO_REGISTER,
            "a register that the drive itself does not use: the gateway that controls the drive writes a number of its "
            "own to it, and another one four times a second; a second gateway finds the number and leaves the drive "
            "alone; -1: none"),
};
const struct kr_table kr_registers_table = KR_TABLE("stations.drive.registers", registers_rows);

#define X(NAME, bit, word, text) \
    KR_NUMBER(S, word, drive.map.output_bit[bit], KR_NO_BIT, 15, bit, RESTART, "bit; -1: not wired"),
static const struct kr_setting outputs_rows[] = {KR_AXIS_OUTPUTS(X)};
#undef X
const struct kr_table kr_outputs_table = KR_TABLE("stations.drive.outputs", outputs_rows);

#define X(NAME, bit, word, text) \
    KR_NUMBER(S, word, drive.map.input_bit[bit], KR_NO_BIT, 31, KR_DI_LEFT_OUT >> (bit)&1 ? KR_NO_BIT : (bit), \
              RESTART, "bit; -1: not wired"),
static const struct kr_setting inputs_rows[] = {KR_AXIS_INPUTS(X)};
#undef X
#undef S
const struct kr_table kr_inputs_table = KR_TABLE("stations.drive.inputs", inputs_rows);

#define S struct expected_settings
static const struct kr_setting expected_rows[] = {
    KR_TEXT(S, "name", name, 1, KR_MUST, RESTART, "what people call the parameter: alarm, log and status name it so"),
    KR_NUMBER(S, "register", address, 0, 65535, KR_MUST, RESTART, "its register, from 0; the first of two"),
    KR_NUMBER(S, "words", words, 1, 2, 1, RESTART, "how many registers it has; two in the drive's word order"),
    KR_NUMBER(S, "value", value, INT32_MIN, UINT32_MAX, KR_MUST, RESTART,
              "what it must show; a negative number as two's complement"),
    KR_NUMBER(S, "mask", mask, 1, UINT32_MAX, KR_OPTIONAL, RESTART, "which of its bits count; left out: all of them"),
};
#undef S
const struct kr_table kr_expected_table = KR_TABLE("stations.drive.expected", expected_rows);
