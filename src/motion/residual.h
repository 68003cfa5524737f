#ifndef KR_MOTION_RESIDUAL_H
#define KR_MOTION_RESIDUAL_H

#include "match.h"

/* The deviations of a rail's references in a scan, until it is known whether the scan counts. */
struct residual {
    /* Number of references that were seen as they should be; 0: the rail has no references. */
    uint16_t n_good;
    uint8_t good;   /* one bit for each of these references */
    bool confirmed; /* the deviation is too large, but a person has confirmed it */
    struct kr_off_line line;
    int32_t width_um[KR_REFERENCES_MAX];
};

/* Removes the references from the flags of a scan, and subtracts their deviation from the other flags. False: the rail
 * has tripped, because the references are missing, belong to another rail, or are too far off. */
bool residual_take(const struct rail *r, struct kr_hit hit[], uint16_t *n_hits, struct residual *residual);

/* Returns the result for the search of the holders. */
struct referred residual_refers(const struct rail *r, const struct residual *residual);

/* The scan counts: its deviations correct the rail from now on. */
void residual_keep(const struct rail *r, const struct residual *residual, const struct released *released);

/* The references were found off by shift_um. The drive's datum is corrected by that, and is believed again. */
void residual_take_datum(const struct rail *r, int32_t shift_um);

/* Call it after a change of the datum or of settings: the next deviation of the references is then no step since the
 * last scan. */
void residual_begins_anew(const struct rail *r);
/* The datum is as it was taught, by a homing, or because a person says so. */
void residual_forget_datum(const struct rail *r);

#endif
