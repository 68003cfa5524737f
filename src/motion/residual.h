#ifndef KR_MOTION_RESIDUAL_H
#define KR_MOTION_RESIDUAL_H

#include "match.h"

/* By what a scan found a rail's references off, until it is known whether the scan counts. */
struct residual {
    uint16_t n_good; /* references that were seen as they should be; 0: the rail has none */
    uint8_t good;    /* which, one bit each */
    bool confirmed;  /* too far off, but a person has said that they are where they belong */
    struct kr_off_line line;
    int32_t width_um[KR_REFERENCES_MAX];
};

/* Takes the references out of the flags that a scan found, and what they are off by off the others. False: the rail has
 * tripped, since the references are not there, not this rail's, or too far off. */
bool residual_take(const struct rail *r, struct kr_hit hit[], uint16_t *n_hits, struct residual *residual);

/* What that says to whoever looks for the holders. */
struct referred residual_refers(const struct rail *r, const struct residual *residual);

/* The scan counts: what was found off corrects the rail from now on. */
void residual_keep(const struct rail *r, const struct residual *residual, const struct released *released);

/* The references were found off by so much, by which the drive's datum counts from now on: it is believed again. */
void residual_take_datum(const struct rail *r, int32_t shift_um);

/* Another datum, or other settings: how far the references are off from now on is no step since the last scan. */
void residual_begins_anew(const struct rail *r);
/* The datum is where it was taught: by a homing, or a person says so. */
void residual_forget_datum(const struct rail *r);

#endif
