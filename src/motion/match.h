#ifndef KR_MOTION_MATCH_H
#define KR_MOTION_MATCH_H

#include "rail.h"

/* Tells whether a width fits a flag's configured width. Half of the difference may be an error of the flag's middle, so
 * that only a fraction of the width is allowed. Some difference is normal: a nearer flag looks a little wider, and so
 * does one before a switch with more hysteresis. */
bool looks_as_wide(int32_t width_um, int32_t flag_um);

/* Tells whether two measurements of one flag's width agree. flag_um is its configured width. */
bool widths_agree(int32_t a_um, int32_t b_um, int32_t flag_um);

/* The holders that the carriage has released since the last scan: the found position minus the position of the release.
 * at_um and off_um belong to the only such holder, or are the mean of those that agree. n_alike is 0 if no two of them
 * agree. */
struct released {
    uint16_t n, n_alike;
    int32_t at_um, off_um;
};

/* What the references of this scan have shown. */
struct referred {
    bool to_place; /* they show where the rail is */
    bool to_scale; /* they also show the rail's scale */
    /* The references have a switch of their own. A common deviation of the holders may then be an error of the holders'
     * switch. */
    bool by_other_switch;
    /* A common deviation of the holders that nobody moved is no error up to this value, which includes the growth of
     * the rail that the references show. */
    int32_t apart_um;
};

/* Matches the flags, which come in growing sequence, to the holders. True: every holder was found, and no other flag;
 * their positions are measured. False: the rail has tripped, and the found positions are only remembered. */
bool match_hits(const struct rail *r, const struct kr_hit hit[], uint16_t n_hits, struct referred referred,
                struct released *released);

#endif
