/* axis: the images that a positioner exchanges for one carriage. A carriage has a CiA 402 (IEC 61800-7-201) servo in
 * profile position mode with touch probe, and signals of pin, brake, clamp and permissives. The images are flat data
 * without pointers, in micrometres and microseconds. The positioner converts the drive's own units. Belongs to base.
 *
 * Outputs are levels: they hold until the next output image. Every output image has a serial. An input image names the
 * newest output image that it answers, so that old proof can be told from new proof. */
#ifndef KNIFERAIL_AXIS_H
#define KNIFERAIL_AXIS_H

#include "kniferail/base.h"

#define KR_CW_SWITCH_ON        0x0001u
#define KR_CW_ENABLE_VOLTAGE   0x0002u
#define KR_CW_NO_QUICK_STOP    0x0004u /* 0 asks for a quick stop */
#define KR_CW_ENABLE_OPERATION 0x0008u
#define KR_CW_NEW_SETPOINT     0x0010u /* in profile position mode; in homing: start */
/* In profile position mode: a new set-point replaces the running one. */
#define KR_CW_IMMEDIATELY 0x0020u
#define KR_CW_FAULT_RESET 0x0080u /* on its rising edge */
#define KR_CW_HALT        0x0100u

#define KR_SW_FAULT           0x0008u
#define KR_SW_VOLTAGE_ENABLED 0x0010u
#define KR_SW_WARNING         0x0080u
#define KR_SW_REMOTE          0x0200u
#define KR_SW_TARGET_REACHED  0x0400u
#define KR_SW_INTERNAL_LIMIT  0x0800u
#define KR_SW_SETPOINT_ACK    0x1000u /* in profile position mode; in homing: homing attained */
#define KR_SW_FOLLOWING_ERROR 0x2000u /* in profile position mode; in homing: homing error */

enum kr_drive_state {
    KR_DRIVE_UNKNOWN, /* the statusword matches no state */
    KR_DRIVE_NOT_READY,
    KR_DRIVE_SWITCH_ON_DISABLED,
    KR_DRIVE_READY_TO_SWITCH_ON,
    KR_DRIVE_SWITCHED_ON,
    KR_DRIVE_OPERATION_ENABLED,
    KR_DRIVE_QUICK_STOP_ACTIVE,
    KR_DRIVE_FAULT_REACTION_ACTIVE,
    KR_DRIVE_FAULT,
};
enum kr_drive_state kr_drive_state_of(uint16_t statusword);

#define KR_MODE_NONE             0
#define KR_MODE_PROFILE_POSITION 1
#define KR_MODE_HOMING           6

/* Homing methods (6098h) that move nothing: they set home to the present position. 35 is the older number of 37. */
#define KR_HOMING_HERE_OLD 35
#define KR_HOMING_HERE     37

/* Touch probe 1, function (60B8h) and status (60B9h). The bits of probe 2 are the same, KR_PROBE_2 places higher. */
#define KR_PROBE_ENABLE         0x0001u
#define KR_PROBE_CONTINUOUS     0x0002u
#define KR_PROBE_RISING         0x0010u
#define KR_PROBE_FALLING        0x0020u
#define KR_PROBE_ENABLED        0x0001u
#define KR_PROBE_RISING_STORED  0x0002u
#define KR_PROBE_FALLING_STORED 0x0004u
#define KR_PROBE_2              8

/* ---- the images ---------------------------------------------------------------------------------------- */

/* Digital outputs of one carriage. The pin has one solenoid for each direction, and stays where it is when neither is
 * on. Springs close the brake of the docked holder, and the common clamp of a rail that has one. */
#define KR_AXIS_OUTPUTS(X) /* name, bit, word in files, meaning */ \
    X(PIN_IN, 0, "pin_in", "drives the pin into the holder") \
    X(PIN_OUT, 1, "pin_out", "drives the pin out") \
    X(BRAKE_OPEN, 2, "brake_open", "opens the brake of the docked holder, which frees it from the rail") \
    X(CLAMP_OPEN, 3, "clamp_open", \
      "opens the common clamp (air shaft) of the rail, if there is one, which frees all its holders")
enum {
#define X(name, bit, word, text) KR_DO_##name = 1 << (bit),
    KR_AXIS_OUTPUTS(X)
#undef X
};

/* Digital inputs of one carriage. LINE_STOPPED to ENABLE are permissives, for stations that take them from the drive's
 * inputs. JOG_ENABLE never comes from a register. The limit switches are shown and nothing more: the drive itself stops
 * at them. */
#define KR_AXIS_INPUTS(X) /* name, bit, word in files, meaning */ \
    X(PIN_IN, 0, "pin_in", "the pin is in the holder") \
    X(PIN_OUT, 1, "pin_out", "the pin is out") \
    X(BRAKE_OPEN, 2, "brake_open", "the brake of the docked holder is open") \
    X(BRAKE_CLOSED, 3, "brake_closed", "the brake of the docked holder is closed") \
    X(CLAMP_OPEN, 4, "clamp_open", "the common clamp is open") \
    X(CLAMP_CLOSED, 5, "clamp_closed", "the common clamp is closed") \
    X(FLAG, 6, "flag", "the proximity switch sees a flag") \
    X(REFERENCE, 7, "reference", "the references' own switch sees a flag") \
    X(LINE_STOPPED, 8, "line_stopped", "drive input: the line stands and is kept from starting") \
    X(KNIVES_RAISED, 9, "knives_raised", "drive input: all knives are raised") \
    X(GUARDS_CLOSED, 10, "guards_closed", "drive input: the guards are closed") \
    X(AIR, 11, "air", "drive input: compressed air is available") \
    X(ENABLE, 12, "enable", "drive input: the positioner may be enabled") \
    X(JOG_ENABLE, 13, "jog_enable", "the hold-to-run device for setting up is pressed") \
    X(LIMIT_LOW, 14, "limit_low", \
      "the carriage is at the limit switch at the operator side; the drive itself stops there") \
    X(LIMIT_HIGH, 15, "limit_high", \
      "the carriage is at the limit switch at the drive side; the drive itself stops there")
enum {
#define X(name, bit, word, text) KR_DI_##name = 1 << (bit),
    KR_AXIS_INPUTS(X)
#undef X
};

struct kr_axis_out {
    /* Grows with every image, and wraps. 0: there is no image yet, and nothing must be written. */
    uint32_t serial;
    uint16_t controlword;
    int8_t mode; /* KR_MODE_... */
    uint16_t probe_function;
    uint16_t outputs; /* KR_DO_... */
    int32_t target_um;
    int32_t speed_um_per_s; /* profile velocity */
    int32_t accel_um_per_s2, decel_um_per_s2;
    /* 6099h: the homing speeds towards the switch, and towards the zero mark. */
    int32_t homing_speed_um_per_s, homing_creep_um_per_s;
    uint16_t torque_permille; /* 6072h: the largest torque, of the rated torque */
};

/* Why there is no newer image. */
enum kr_silent {
    KR_SILENT_DRIVE,   /* the drive does not answer */
    KR_SILENT_NETWORK, /* nothing at the drive's address confirms what the gateway sent */
    KR_SILENT_LINE,    /* the line waits for the answer of another rail's drive */
    KR_SILENT_SELF,    /* this program stood still, and sent no question */
};

/* How a drive has answered since the start of the program. Each figure stops at 65535. */
struct kr_wire_figures {
    uint16_t longest_ms;
    uint16_t retries; /* repeated questions on a serial line */
    /* Questions, or tries of a question, that got no answer or one that cannot be believed. */
    uint16_t lost_answers;
    uint16_t lost_links;
};

/* Why the gateway does not use a drive that answers. Such a drive has no link. The numbers are part of the register
 * map. */
#define KR_REFUSALS(X) /* name, number, meaning */ \
    X(NOT, 0, "the drive is not refused: it has its link, or does not answer") \
    X(PARAMETER, 1, "one of the drive's parameters is not what the station file expects") \
    X(OTHER_GATEWAY, 2, "another gateway controls the drive")
enum kr_refused {
#define X(name, number, text) KR_REFUSED_##name = (number),
    KR_REFUSALS(X)
#undef X
};

#define KR_PARAMETER_NAME_MAX 24 /* name of an expected parameter, with the closing 0 */

struct kr_drive_refusal {
    uint8_t why;      /* enum kr_refused */
    uint16_t item;    /* of a parameter: its number in the list, from 1 */
    uint16_t address; /* of a parameter: its register, the first of two */
    /* The values of the parameter. For OTHER_GATEWAY, the number of the other gateway, or 0 if it shows none, and the
     * number of this one. */
    int32_t seen, expected;
    char name[KR_PARAMETER_NAME_MAX];
};

/* The edges that a touch probe has latched. */
struct kr_probe_edges {
    uint16_t rise_count, fall_count; /* edges since the probe was armed; the counts wrap */
    int32_t rise_um, fall_um;        /* carriage position at the newest edge of each kind */
};

struct kr_axis_in {
    /* True: the drive answers and is used. False: only refusal, age_ms, span_us, silent, silent_rail and wire count. */
    bool link;
    struct kr_drive_refusal refusal; /* without a link: whether a refusal is the reason */
    uint32_t answers;                /* serial of the newest output image that the fields below answer */
    int32_t age_ms;                  /* age of this image, counted from the moment of the question */
    int32_t span_us;                 /* the drive made its answer within this time after the question */
    uint8_t silent;                  /* enum kr_silent: whom an alarm names if the image is too old */
    uint16_t silent_rail;            /* with KR_SILENT_LINE: number of the rail whose drive the line waits for */
    struct kr_wire_figures wire;
    uint16_t statusword;
    int8_t mode;          /* mode of operation display */
    uint16_t error_code;  /* 603Fh */
    bool referenced;      /* the position has a datum: the drive is homed, or has an absolute encoder */
    int8_t homing_method; /* 6098h, as read after connecting; 0: not read */
    int32_t position_um, following_error_um;
    uint16_t probe_status;
    uint16_t rise_count, fall_count; /* edges of probe 1, as in struct kr_probe_edges */
    int32_t rise_um, fall_um;
    struct kr_probe_edges second; /* probe 2: the references' own switch, where they have one */
    uint16_t inputs;              /* KR_DI_... */
};

#endif
