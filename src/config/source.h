/* The numbers of a config file as they are written. libconfig cuts integers to 32 bits without a message, and gives
 * decimals as binary fractions. So the digits are read here once more, and attached to the settings. */
#ifndef KNIFERAIL_CONFIG_SOURCE_H
#define KNIFERAIL_CONFIG_SOURCE_H

#include <libconfig.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* With its closing 0. Of a longer number, which cannot be valid, the beginning is kept. */
#define KR_SOURCE_NUMBER_MAX 48

struct kr_source_number {
    char text[KR_SOURCE_NUMBER_MAX];
};

struct kr_source {
    size_t n_numbers, room;
    struct kr_source_number *number; /* in the sequence of the file, with included files at their place */
    size_t bytes;                    /* read so far */
    uint32_t digest;                 /* CRC-32 of these bytes, in the sequence in which they were read */
};

/* What stopped the reading, and where. */
struct kr_source_trouble {
    char file[1024];
    int line; /* 0: the file as a whole */
    char text[256];
};

/* Reads the file and all files that it includes, relative to folder. False: *trouble says why. In both cases
 * kr_source_free() has to be called in the end. */
bool kr_source_read(struct kr_source *source, const char *path, const char *folder, struct kr_source_trouble *trouble);
void kr_source_free(struct kr_source *source);

/* Attaches every number to its setting. False if the counts differ, because the file was changed in between. */
bool kr_source_attach(const struct kr_source *source, config_setting_t *root);

/* Gives the digits of a numeric setting as they are written. */
const char *kr_source_digits(const config_setting_t *setting);

#endif
