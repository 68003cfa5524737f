/* drivemap: which Modbus register of a servo drive holds which object of its CiA 402 profile, and how the images of
 * axis.h are written in these registers. It is pure arithmetic on plain data. Both ends of the wire use it: the
 * positioner, which is the master of the drive, and the simulator, which stands in for the drive. Stands on base.
 *
 * Drives differ in addresses, word order, units, polarity, and in the bit of each signal. All of these are settings.
 * Addresses are those on the wire, which begin at 0. */
#ifndef KNIFERAIL_DRIVEMAP_H
#define KNIFERAIL_DRIVEMAP_H

#include "kniferail/axis.h"

/* ---- objects ------------------------------------------------------------------------------------------- */

/* X(NAME, "setting", direction, registers, needed, CiA 402 object, meaning). OUT is written in each exchange, IN is
 * read in each exchange, SETUP is read once after connecting, and OF_OWNER is read and written from time to time.
 * Objects of two registers have 32 bits. */
#define KR_OBJECTS(X) \
    X(CONTROLWORD, "controlword", OUT, 1, true, 0x6040, "controlword") \
    X(MODE, "mode", OUT, 1, true, 0x6060, "mode of operation, in the low byte") \
    X(TARGET, "target", OUT, 2, true, 0x607A, "target position") \
    X(SPEED, "speed", OUT, 2, true, 0x6081, "profile velocity") \
    X(ACCEL, "accel", OUT, 2, true, 0x6083, "profile acceleration") \
    X(DECEL, "decel", OUT, 2, true, 0x6084, "profile deceleration") \
    X(PROBE_FUNCTION, "probe_function", OUT, 1, true, 0x60B8, "touch probe function") \
    X(OUTPUTS, "outputs", OUT, 1, true, 0x60FE, "digital outputs") \
    X(STATUSWORD, "statusword", IN, 1, true, 0x6041, "statusword") \
    X(MODE_DISPLAY, "mode_display", IN, 1, true, 0x6061, "mode of operation display, in the low byte") \
    X(ERROR_CODE, "error_code", IN, 1, false, 0x603F, "error code") \
    X(POSITION, "position", IN, 2, true, 0x6064, "position actual value") \
    X(FOLLOWING_ERROR, "following_error", IN, 2, false, 0x60F4, "following error actual value") \
    X(PROBE_STATUS, "probe_status", IN, 1, true, 0x60B9, "touch probe status") \
    X(PROBE_RISE, "probe_rise", IN, 2, true, 0x60BA, "touch probe 1, position at the rising edge") \
    X(PROBE_FALL, "probe_fall", IN, 2, true, 0x60BB, "touch probe 1, position at the falling edge") \
    X(RISE_COUNT, "rise_count", IN, 1, false, 0x60D5, "touch probe 1, count of rising edges") \
    X(FALL_COUNT, "fall_count", IN, 1, false, 0x60D6, "touch probe 1, count of falling edges") \
    X(INPUTS, "inputs", IN, 1, true, 0x60FD, "digital inputs, bits 0 to 15") \
    X(INPUTS_HIGH, "inputs_high", IN, 1, false, 0x60FD, "digital inputs, bits 16 to 31") \
    X(PROBE_2_RISE, "probe_2_rise", IN, 2, false, 0x60BC, "touch probe 2, position at the rising edge") \
    X(PROBE_2_FALL, "probe_2_fall", IN, 2, false, 0x60BD, "touch probe 2, position at the falling edge") \
    X(RISE_2_COUNT, "rise_2_count", IN, 1, false, 0x60D7, "touch probe 2, count of rising edges") \
    X(FALL_2_COUNT, "fall_2_count", IN, 1, false, 0x60D8, "touch probe 2, count of falling edges") \
    X(WATCHDOG, "watchdog", SETUP, 1, false, 0, "the drive's communication watchdog: its time, or 0 if it is off") \
    X(HOMING_METHOD, "homing_method", SETUP, 1, false, 0x6098, "homing method, in the low byte") \
    X(HOMING_SPEED, "homing_speed", OUT, 2, false, 0x6099, "homing speed towards the switch (6099h:01)") \
    X(HOMING_CREEP, "homing_creep", OUT, 2, false, 0x6099, "homing speed towards the zero mark (6099h:02)") \
    X(TORQUE_LIMIT, "torque_limit", OUT, 1, false, 0x6072, "max torque, in per mille of the rated torque") \
    X(OWNER, "owner", OF_OWNER, 1, false, 0, "who works the drive: a number that its gateway keeps changing")

enum kr_object {
#define X(NAME, setting, direction, registers, needed, index, meaning) KR_OBJECT_##NAME,
    KR_OBJECTS(X)
#undef X
        KR_N_OBJECTS
};
enum kr_object_direction { KR_OBJECT_OUT, KR_OBJECT_IN, KR_OBJECT_SETUP, KR_OBJECT_OF_OWNER };

struct kr_object_info {
    const char *setting; /* its name in the settings */
    enum kr_object_direction direction;
    uint8_t registers;
    bool needed;
    uint16_t index; /* number of the CiA 402 object; 0: none */
    const char *meaning;
};
const struct kr_object_info *
/* Returns the row of an object, which is always valid. NULL: there is no such object. */
kr_object_info(enum kr_object object);

/* ---- signals ------------------------------------------------------------------------------------------- */

/* These return the names of the digital signals in the settings, by the bit number of KR_DO_... and KR_DI_... NULL:
 * there is no such signal. */
#define KR_N_OUTPUT_SIGNALS 4
#define KR_N_INPUT_SIGNALS  16
const char *kr_output_signal(unsigned bit);
const char *kr_input_signal(unsigned bit);

/* ---- settings ------------------------------------------------------------------------------------------ */

/* `units` drive units are exactly `um` micrometres (per second, per second squared). For instance 65536 counts are
 * 40000 um. Both are above 0. */
struct kr_drive_ratio {
    int32_t units, um;
};

#define KR_NO_REGISTER      (-1) /* the drive has no such object */
#define KR_DI_BIT_REFERENCE 7    /* of KR_DI_REFERENCE */
/* KR_DI_... that are not wired unless the file says so; every other input has the bit of its own number then. */
#define KR_DI_LEFT_OUT (KR_DI_REFERENCE | KR_DI_LIMIT_LOW | KR_DI_LIMIT_HIGH)
/* The signal is not wired: an input is always 0, and an output has no effect. */
#define KR_NO_BIT (-1)

struct kr_drivemap {
    int32_t address[KR_N_OBJECTS]; /* address of the first register, or KR_NO_REGISTER */
    bool low_word_first;           /* word order of 32-bit objects */
    bool reversed;                 /* the drive's position grows towards the operator side */
    struct kr_drive_ratio position, speed, accel;
    int8_t output_bit[KR_N_OUTPUT_SIGNALS]; /* 0 to 15, or KR_NO_BIT */
    int8_t input_bit[KR_N_INPUT_SIGNALS];   /* 0 to 31, or KR_NO_BIT */
    uint16_t inverted_outputs;              /* KR_DO_... bits of outputs that are on when their bit is 0 */
    uint16_t inverted_inputs;               /* KR_DI_... bits of inputs that are on when their bit is 0 */
    /* The bit of the statusword that says that the position has a datum. KR_NO_BIT: the position always has one
     * (absolute encoder). */
    int8_t referenced_bit;
};

/* Sets a usual map. Outputs begin at 0 and inputs at 100, both without gaps, and the watchdog is at 200. The map has no
 * homing method and speeds, no torque limit, no inputs_high and no second probe. It has the high word first,
 * micrometres, and every signal at the bit of its own number in axis.h, except `reference`, which is not wired. */
void kr_drivemap_standard(struct kr_drivemap *map);

/* A mistake in a map. `what` is NULL if there is none. */
struct kr_drivemap_mistake {
    const char *what;  /* the setting with the mistake */
    const char *other; /* the setting with which it is in conflict, or NULL */
    int32_t value, least, most;
};
struct kr_drivemap_mistake kr_drivemap_check(const struct kr_drivemap *map);

/* ---- the drive at the end of its wire ------------------------------------------------------------------ */

#define KR_DRIVE_ADDRESS_MAX 46  /* an IPv4 or IPv6 address as text, with the closing 0 */
#define KR_DRIVE_DEVICE_MAX  108 /* path of a serial line, with the closing 0 */

/* Drives that give the same address and port, or the same device, share one connection or line. */
struct kr_drive_link {
    bool serial; /* RTU on a serial line, else Modbus/TCP */
    char address[KR_DRIVE_ADDRESS_MAX];
    uint16_t port;
    char device[KR_DRIVE_DEVICE_MAX];
    int32_t baud;
    char parity; /* 'N', 'E', 'O' */
    uint8_t stop_bits;
    uint8_t unit_id;   /* 1 to 247; over TCP also 0 and 255 */
    uint8_t retries;   /* serial line: repeated tries of one transfer before the link counts as lost */
    int32_t answer_ms; /* serial line: the longest that one try waits for its answer */
    int32_t stop_ms;   /* while something moves, motion stops when the newest answer is this old */
    int32_t lost_ms;   /* TCP: the link counts as lost after this time without an answer; more than stop_ms */
};

/* Without a link the gateway cannot stop a drive: the drive's own communication watchdog must do so. */
enum kr_watchdog_proof {
    /* The gateway reads its register after every connecting. If the value is not 1 to watchdog_most, the drive is not
     * used. */
    KR_WATCHDOG_READ,
    /* The drive has no such register. The watchdog was proven at commissioning by cutting the link. */
    KR_WATCHDOG_PROVEN,
};

/* A parameter that the drive must show after every connecting, for instance a position limit, a quick stop option or a
 * torque limit. A drive with factory settings would show another value in some of them. */
#define KR_EXPECTED_MAX 24
struct kr_expected {
    char name[KR_PARAMETER_NAME_MAX];
    uint16_t address;     /* address of the first register */
    uint8_t words;        /* 1 or 2; two words are in the word order of the map */
    bool is_signed;       /* people read the value as a signed number */
    uint32_t value, mask; /* the register must show `value` in the bits of `mask`; value has no other bits */
};

/* Returns the number that the registers of a parameter hold, reduced to the bits of its mask. word[] has e->words
 * words. */
uint32_t kr_expected_seen(const struct kr_expected *e, bool low_word_first, const uint16_t word[]);
/* Returns such a number as people read it. */
int32_t kr_expected_shown(const struct kr_expected *e, uint32_t number);

struct kr_drive {
    struct kr_drive_link link;
    struct kr_drivemap map;
    uint16_t n_expected;
    struct kr_expected expected[KR_EXPECTED_MAX];
    /* The gateway can read its outputs. A change that this gateway has not written then shows another gateway. */
    bool read_back;
    bool function_23; /* one transfer (function 23) writes and reads if each is one run of registers */
    /* The delay of the drive: an answer belongs to the outputs that were sent this many exchanges earlier. */
    uint8_t answer_lag;
    enum kr_watchdog_proof watchdog;
    int32_t watchdog_most; /* largest value of the register, in its own unit */
    /* The time to which the watchdog is set, for comparison with the link's limits; 0: not given. */
    int32_t watchdog_ms;
};

/* Sets the usual map, on Modbus/TCP with port 502 and unit 1. The address stays empty. */
void kr_drive_standard(struct kr_drive *drive);
bool kr_drive_same_link(const struct kr_drive_link *a, const struct kr_drive_link *b);

/* ---- a serial line's time ------------------------------------------------------------------------------ */

/* The rates to which a serial line can be set, in bits a second: those that both termios(3) and libmodbus support.
 * libmodbus uses 9600 instead of any other rate, without a message. */
#define KR_BAUDS(X) \
    X(1200) \
    X(2400) \
    X(4800) \
    X(9600) \
    X(19200) \
    X(38400) \
    X(57600) \
    X(115200) \
    X(230400) \
    X(460800) \
    X(500000) \
    X(576000) \
    X(921600) \
    X(1000000)

/* Returns the duration of a character in nanoseconds: a start bit, 8 data bits, the parity bit if there is one, and
 * stop bits. */
int64_t kr_drive_character_ns(const struct kr_drive_link *link);
/* Returns how long the line must be silent between two frames: 3.5 characters, or 1750 us above 19200 bits a second
 * (MODBUS over Serial Line V1.02, 2.5.1.1). */
int64_t kr_drive_silence_us(const struct kr_drive_link *link);
/* Returns how long one exchange with the drive occupies the line: questions, answers and the silence after each, in as
 * many transfers as the drive's map needs. The time that the drive needs for its answer is not included. */
int64_t kr_drive_exchange_us(const struct kr_drive *drive);

/* ---- registers ----------------------------------------------------------------------------------------- */

/* Adjacent registers that go in one transfer. A run of outputs has no gap, because a register in a gap belongs to
 * something else and must not be written. A run of inputs has no gap either. */
struct kr_drive_run {
    uint16_t address, n;
};
#define KR_DRIVE_RUNS_MAX KR_N_OBJECTS
/* Lists the runs by address, except that the run with the controlword comes last, so that the drive has a set-point
 * before the bit that starts it. Returns the number of runs. */
uint16_t kr_drivemap_runs(const struct kr_drivemap *map, enum kr_object_direction direction,
                          struct kr_drive_run run[KR_DRIVE_RUNS_MAX]);

/* The objects of the drive, in the drive's own units. */
struct kr_drive_objects {
    uint32_t raw[KR_N_OBJECTS];
};
/* These read or set one register of the objects. False: no object of that direction has a register there. */
bool kr_drivemap_get(const struct kr_drivemap *map, const struct kr_drive_objects *objects,
                     enum kr_object_direction direction, uint16_t address, uint16_t *value);
bool kr_drivemap_set(const struct kr_drivemap *map, struct kr_drive_objects *objects,
                     enum kr_object_direction direction, uint16_t address, uint16_t value);

/* ---- images -------------------------------------------------------------------------------------------- */

/* These convert images to objects and back. Lengths are rounded to the nearest drive unit, and back to the nearest
 * micrometre, halves away from zero. A value that does not fit in 32 bits stops at the limit. The master alone handles
 * serial, link, answers and age_ms. */
void kr_drivemap_write_out(const struct kr_drivemap *map, const struct kr_axis_out *out,
                           struct kr_drive_objects *objects); /* master */
void kr_drivemap_read_out(const struct kr_drivemap *map, const struct kr_drive_objects *objects,
                          struct kr_axis_out *out); /* drive */
void kr_drivemap_write_in(const struct kr_drivemap *map, const struct kr_axis_in *in,
                          struct kr_drive_objects *objects); /* drive */
void kr_drivemap_read_in(const struct kr_drivemap *map, const struct kr_drive_objects *objects,
                         struct kr_axis_in *in); /* master */

#endif
