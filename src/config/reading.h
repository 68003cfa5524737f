/* A station while its settings are read: where each value came from, and the groups that apply to several rails. */
#ifndef KNIFERAIL_CONFIG_READING_H
#define KNIFERAIL_CONFIG_READING_H

#include "settings.h"

struct drive_reading {
    struct kr_group group, registers, outputs, inputs;
    struct drive_settings settings;
    bool expected_good; /* its list `expected` may be used */
};

struct rail_reading {
    struct kr_group group, frame, carriage, simulated;
    struct drive_reading drive;
    struct rail_settings settings;
    struct simulated_settings machine;
    const config_setting_t *holder_at[KR_HOLDERS_MAX]; /* the entry that contains each holder */
    bool holders_good, references_good;
};

struct station_reading {
    struct kr_config_errors *errors;
    struct kr_config_station *out;
    struct kr_group group, web, placement, idle, permissives, acceptance, carriage, simulated;
    struct drive_reading drive;
    struct rail_settings common;
    struct simulated_settings machine;
    uint16_t n_rails;
    bool web_fits;   /* it was not reported that the widest web is wider than a rail */
    bool sizes_good; /* all sizes may be used */
    bool rails_good; /* all rails could be told apart */
    int32_t period_us;
    bool period_good;
    struct rail_reading rail[KR_RAILS_MAX];
};

/* Reads and checks a station; at is its entry of the list `stations`. reading is the caller's memory. */
void kr_station_read(struct station_reading *reading, struct kr_config_errors *errors, const config_setting_t *at,
                     struct kr_config_station *out);

/* Reads the station's list `sizes` into out. */
void kr_sizes_read(struct station_reading *reading);

/* Reads the station's list `knife_kinds` into out. */
void kr_knife_kinds_read(struct station_reading *reading);

/* Finds the number of the size that the group of a holder names. False: it may not be used, which was reported. */
bool kr_size_find(const struct station_reading *reading, struct kr_group *group, const char *name, uint8_t *size);

/* Reads one rail of the station into its settings and into out->holder[rail]. */
void kr_rail_read(struct station_reading *reading, uint16_t rail, const config_setting_t *at);

/* Reads the list `references` of the rail's frame. */
void kr_references_read(struct station_reading *r, struct rail_reading *rail);

/* kr_rail_lay() copies the settings of a rail into the station; kr_rail_view() makes the settings from the station. */
void kr_rail_lay(const struct rail_settings *settings, uint16_t rail, struct kr_config_station *out);
void kr_rail_view(const struct kr_config_station *station, uint16_t rail, struct rail_settings *settings);
/* The same for a size; index counts from 0. */
void kr_size_lay(const struct size_settings *settings, uint16_t index, struct kr_config_station *station);
void kr_size_view(const struct kr_config_station *station, uint16_t index, struct size_settings *settings);
/* Make the settings from which a holder, a drive and a rail of the simulated machine were made. */
void kr_holder_view(const struct kr_config_station *station, const struct kr_holder_data *holder,
                    struct holder_settings *settings);
void kr_drive_view(const struct kr_drive *drive, struct drive_settings *settings);
void kr_simulated_view(const struct kr_config_station *station, uint16_t rail, struct simulated_settings *settings);

/* Reads the group `drive` of a station (common is NULL) or of a rail (common is the station's). */
void kr_drive_read(struct drive_reading *reading, struct kr_config_errors *errors, const config_setting_t *at,
                   const struct drive_reading *common);
/* Reads a list `expected` into the drive. False: it may not be used, which was reported. */
bool kr_expected_read(struct kr_config_errors *errors, const config_setting_t *list, struct kr_drive *drive);
/* Reports each expected parameter that the drive's map contradicts. */
void kr_expected_check(struct kr_config_errors *errors, const config_setting_t *list, const struct kr_drive *drive);
/* Do two drives have the same list? */
bool kr_expected_same(const struct kr_drive *a, const struct kr_drive *b);
/* Checks the drives and copies them into out->drive[]. */
void kr_drives_make(struct station_reading *reading);
/* Reports each drive and each serial line that stations a and b both have. */
void kr_drives_apart(struct station_reading *a, const struct station_reading *b);

/* Makes out->simulated from what was read. */
void kr_simulated_make(struct station_reading *reading);

/* Report contradictions: values that are each allowed, but not together. */
void kr_check_station(struct station_reading *reading);
void kr_check_rail(struct station_reading *reading, uint16_t index);
void kr_check_references(struct station_reading *r, uint16_t index); /* after the rails before it */
void kr_check_holders(struct station_reading *reading, uint16_t rail);
void kr_check_simulated(struct station_reading *reading, uint16_t rail);

/* Reads the group `face` of the root. default_station is still a name only, because stations are read later. */
void kr_face_read(struct kr_group *group, struct kr_config_errors *errors, const config_setting_t *root,
                  struct face_settings *settings);

/* Makes the face's settings from a config that was read. */
void kr_face_view(const struct kr_config *config, struct face_settings *settings);

#endif
