/* The numbers of a config file as they are written. libconfig hands out integers cut to 32 bits without a word,
 * and decimals as binary fractions; so the digits are read here once more, and hung on the settings. */
#ifndef KNIFERAIL_CONFIG_SOURCE_H
#define KNIFERAIL_CONFIG_SOURCE_H

#include <libconfig.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define KR_SOURCE_NUMBER_MAX \
    48 /* with its closing 0; a longer number keeps its beginning and can't be valid */

struct kr_source_number {
    char text[KR_SOURCE_NUMBER_MAX];
};

struct kr_source {
    size_t n_numbers, room;
    struct kr_source_number *number; /* in the order of the file, includes at their place */
    size_t bytes;                    /* read so far */
    uint32_t digest;                 /* CRC-32 of them, in the sequence in which they were read */
};

/* What stopped the reading, and where. */
struct kr_source_trouble {
    char file[1024];
    int line; /* 0: the file as a whole */
    char text[256];
};

/* Reads the file and all it includes, relative to folder. False: *trouble says why. Either way kr_source_free() ends
 * it. */
bool kr_source_read(struct kr_source *source, const char *path, const char *folder,
                    struct kr_source_trouble *trouble);
void kr_source_free(struct kr_source *source);

/* Hangs every number on its setting; false if the counts differ: the file was changed in between. */
bool kr_source_attach(const struct kr_source *source, config_setting_t *root);

/* The digits of a numeric setting. */
const char *kr_source_digits(const config_setting_t *setting);

#endif
