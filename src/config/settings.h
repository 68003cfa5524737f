/* The tables of all settings, and the structs that some of these tables fill. Their values are then copied into the
 * station's config. */
#ifndef KNIFERAIL_CONFIG_SETTINGS_H
#define KNIFERAIL_CONFIG_SETTINGS_H

#include "group.h"

struct face_settings {
    struct kr_config_face face;
    char default_station[KR_NAME_MAX]; /* empty: not given */
    /* Of each address rule: the name of its station (empty: the rule is for every station), and where the file gives
     * it. */
    char rule_station[KR_FACE_RULES_MAX][KR_NAME_MAX];
    const config_setting_t *rule_at[KR_FACE_RULES_MAX];
};

/* The settings of a rail. A station's groups that are defaults of its rails are read into such a struct, too. */
struct rail_settings {
    struct kr_rail_geometry geometry;
    struct kr_carriage_config carriage;
    struct kr_config_blade blade;
    uint8_t approach_word;
};

/* One size of holders. */
struct size_settings {
    char name[KR_SIZE_NAME_MAX];
    int32_t spacing_um, body_um;
};

/* A run of equal holders, side by side. */
struct holder_settings {
    int32_t first_um, pitch_um;
    char size[KR_SIZE_NAME_MAX];
    struct kr_holder_data data;
    uint8_t count;
};

struct simulated_settings {
    struct sim_rail_config rail;
    uint64_t seed;
    uint16_t inputs; /* KR_PERMIT_...: the permissives that its wires give at the start */
};

/* A drive over Modbus. Its ratios have fields of their own here, because the ends of the names of fields say units. */
struct drive_settings {
    struct kr_drive drive;
    int32_t position_um, speed_um_per_s, accel_um_per_s2;
    uint8_t parity_word;
    uint16_t inverted_outputs, inverted_inputs; /* bits by the sequence of the words */
};

/* A parameter that a drive must show. Its value may be signed or unsigned in the file. */
struct expected_settings {
    char name[KR_PARAMETER_NAME_MAX];
    uint16_t address;
    uint8_t words;
    int64_t value, mask;
};

extern const char *const kr_word_orders[];        /* KR_WORD_ORDERS, then a NULL */
extern const struct kr_table kr_daemon_table;     /* struct kr_config */
extern const struct kr_table kr_face_table;       /* struct face_settings */
extern const struct kr_table kr_listen_table;     /* struct kr_face_listen */
extern const struct kr_table kr_rule_table;       /* struct rule_settings */
extern const struct kr_table kr_group_table;      /* struct kr_face_group */
extern const struct kr_table kr_station_table;    /* struct kr_config_station */
extern const struct kr_table kr_size_table;       /* struct size_settings */
extern const struct kr_table kr_knife_kind_table; /* struct kr_knife_limit */
extern const struct kr_table kr_web_table;        /* struct kr_config_station, as the next four */
extern const struct kr_table kr_placement_table;
extern const struct kr_table kr_idle_table;
extern const struct kr_table kr_acceptance_table;
extern const struct kr_table kr_permissives_table;
extern const struct kr_table kr_carriage_table;  /* struct rail_settings; also of a single rail */
extern const struct kr_table kr_simulated_table; /* struct simulated_settings */
/* struct simulated_settings of a single rail: without the rows that are for the whole machine. */
extern const struct kr_table kr_physics_table;
extern const struct kr_table kr_rail_table;      /* struct rail_settings */
extern const struct kr_table kr_frame_table;     /* struct rail_settings */
extern const struct kr_table kr_point_table;     /* struct kr_frame_point */
extern const struct kr_table kr_reference_table; /* struct kr_reference */
extern const struct kr_table kr_holder_table;    /* struct holder_settings */
extern const struct kr_table kr_drive_table;     /* struct drive_settings, as the next three */
extern const struct kr_table kr_registers_table;
extern const struct kr_table kr_outputs_table;
extern const struct kr_table kr_inputs_table;
extern const struct kr_table kr_expected_table; /* struct expected_settings */

struct rule_settings {
    char address[64];
    char station[KR_NAME_MAX];
    uint8_t right;
};

#endif
