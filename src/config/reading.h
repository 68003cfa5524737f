/* A station while it is read: where each value came from, and the groups that stand over several rails. */
#ifndef KNIFERAIL_CONFIG_READING_H
#define KNIFERAIL_CONFIG_READING_H

#include "settings.h"

struct drive_reading {
    struct kr_group group, registers, outputs, inputs;
    struct drive_settings settings;
    bool expected_good; /* its list `expected` can be relied on */
};

struct rail_reading {
    struct kr_group group, frame, carriage, simulated;
    struct drive_reading drive;
    struct rail_settings settings;
    struct simulated_settings machine;
    const config_setting_t *holder_at[KR_HOLDERS_MAX]; /* the entry that each holder stands in */
    bool holders_good, references_good;
};

struct station_reading {
    struct kr_config_errors *errors;
    struct kr_config_station *out;
    struct kr_group group, web, placement, idle, permissives, carriage, simulated;
    struct drive_reading drive;
    struct rail_settings common;
    struct simulated_settings machine;
    uint16_t n_rails;
    bool web_fits;   /* the widest web was not told to be wider than a rail */
    bool sizes_good; /* all of them can be relied on */
    bool rails_good; /* all of them could be told apart */
    int32_t period_us;
    bool period_good;
    struct rail_reading rail[KR_RAILS_MAX];
};

/* at: one of the list `stations`. Reads and checks; reading is the caller's memory. */
void kr_station_read(struct station_reading *reading, struct kr_config_errors *errors,
                     const config_setting_t *at, struct kr_config_station *out);

/* Reads the list `sizes` of it into out. */
void kr_sizes_read(struct station_reading *reading);

/* The number of the size that a holder's group names. False: it can't be relied on, which was told. */
bool kr_size_find(const struct station_reading *reading, struct kr_group *group, const char *name,
                  uint8_t *size);

/* Reads one rail of it into settings and out->holder[rail]. */
void kr_rail_read(struct station_reading *reading, uint16_t rail, const config_setting_t *at);

/* Reads the list `references` of its frame. */
void kr_references_read(struct station_reading *r, struct rail_reading *rail);

/* Lays a rail's settings into out, and the way back. */
void kr_rail_lay(const struct rail_settings *settings, uint16_t rail, struct kr_config_station *out);
void kr_rail_view(const struct kr_config_station *station, uint16_t rail, struct rail_settings *settings);
/* Lays a size's settings into out, and the way back; index counts from 0. */
void kr_size_lay(const struct size_settings *settings, uint16_t index, struct kr_config_station *station);
void kr_size_view(const struct kr_config_station *station, uint16_t index, struct size_settings *settings);
/* The settings that a holder, a drive and a rail of the simulated machine were made from. */
void kr_holder_view(const struct kr_config_station *station, const struct kr_holder_data *holder,
                    struct holder_settings *settings);
void kr_drive_view(const struct kr_drive *drive, struct drive_settings *settings);
void kr_simulated_view(const struct kr_config_station *station, uint16_t rail,
                       struct simulated_settings *settings);

/* Reads the group `drive` of a station or of a rail; of a rail with the station's, NULL for the station's own. */
void kr_drive_read(struct drive_reading *reading, struct kr_config_errors *errors, const config_setting_t *at,
                   const struct drive_reading *common);
/* Reads a list `expected` into the drive. False: it can't be relied on, which was told. */
bool kr_expected_read(struct kr_config_errors *errors, const config_setting_t *list, struct kr_drive *drive);
/* Tells those that the drive's map contradicts; whether two drives have the same list. */
void kr_expected_check(struct kr_config_errors *errors, const config_setting_t *list,
                       const struct kr_drive *drive);
bool kr_expected_same(const struct kr_drive *a, const struct kr_drive *b);
/* Checks the drives and lays them into out->drive[]. */
void kr_drives_make(struct station_reading *reading);
/* Tells what drives and serial lines of a those of b are too. */
void kr_drives_apart(struct station_reading *a, const struct station_reading *b);

/* Lays what was read into out->simulated. */
void kr_simulated_make(struct station_reading *reading);

/* What contradicts itself: values that are each allowed but not together. */
void kr_check_station(struct station_reading *reading);
void kr_check_rail(struct station_reading *reading, uint16_t index);
void kr_check_references(struct station_reading *r, uint16_t index); /* once the rails before it are */
void kr_check_holders(struct station_reading *reading, uint16_t rail);
void kr_check_simulated(struct station_reading *reading, uint16_t rail);

/* Reads the group `face` of the root. default_station is only a name yet: stations are read later. */
void kr_face_read(struct kr_group *group, struct kr_config_errors *errors, const config_setting_t *root,
                  struct face_settings *settings);

/* The face's settings of a config that was read. */
void kr_face_view(const struct kr_config *config, struct face_settings *settings);

#endif
