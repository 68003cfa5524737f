#ifndef KR_MOTION_MATCH_H
#define KR_MOTION_MATCH_H

#include "rail.h"

/* A flag may look by a part of its width wider or narrower than it is: of what it seems too wide or too narrow by, half
 * may be an error of its middle. A nearer flag looks a little wider, and so does one before a switch with more
 * hysteresis: against the config's figure there is some room. */
bool looks_as_wide(int32_t width_um, int32_t flag_um);

/* Two measurements of the width of one flag, whose configured width is flag_um. */
bool widths_agree(int32_t a_um, int32_t b_um, int32_t flag_um);

/* The holders that the carriage released since the last scan: where the scan found them, less where they were placed.
 * at_um and off_um are of the only one, or the mean of those that agree; n_alike is 0 if there are no two of these. */
struct released {
    uint16_t n, n_alike;
    int32_t at_um, off_um;
};

/* What references have said of the rail in this scan. */
struct referred {
    bool to_place; /* where it is */
    bool to_scale; /* how long it is, too */
    bool
        by_other_switch; /* than the one that sees the holders: holders that are off alike may be that one's error */
    int32_t apart_um; /* of those that nobody moved; by so much a rail that grew or shrank moves them */
};

/* True if every holder was found, and nothing else: then they are measured. Else the rail has tripped, and what was
 * seen is remembered. Flags come in growing order. */
bool match_hits(const struct rail *r, const struct kr_hit hit[], uint16_t n_hits, struct referred referred,
                struct released *released);

#endif
