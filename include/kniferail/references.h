/* references: flags that are fixed to the machine's frame, beyond the holders of a rail. A scan passes them, too. Where
 * it finds them says how far the rail's drive and switch are off since the places of the flags were taught; and since
 * their distances are unequal, they say whose rail it is. Pure: integers only, no state, any thread.
 *
 * Found off: where a scan found a flag less where it was taught. Off by a line along the rail: one flag gives its
 * offset, two that stand far apart its slope too. */
#ifndef KNIFERAIL_REFERENCES_H
#define KNIFERAIL_REFERENCES_H

#include <stdbool.h>
#include <stdint.h>

#define KR_REFERENCES_MAX    8
#define KR_REFERENCE_SAME_UM 1500 /* two distances that differ by no more are the same one */
#define KR_REFERENCE_TREND   8    /* scans of which is kept how far they were off */

struct kr_reference {
    int32_t at_um;    /* place of its centre in the frame */
    int32_t width_um; /* as the switch sees it */
};

struct kr_references {
    uint16_t n;
    uint16_t n_low; /* of these so many lie left of the rail's holders, the others right of them */
    struct kr_reference flag[KR_REFERENCES_MAX]; /* places grow */
    int32_t window_um;                           /* off by more since they were taught: the rail is off */
    int32_t step_um;                             /* the same, since the last scan */
};

/* A flag as a scan found it. */
struct kr_hit {
    int32_t at_um; /* the flag's centre, switch offset added */
    int32_t width_um;
};

/* Which flags of a scan are those of a pattern, wherever all of them have been shifted to. */
struct kr_pattern_found {
    uint16_t n; /* so many of them stand as far from each other as they should */
    int32_t shift_um;
    uint16_t hit[KR_REFERENCES_MAX]; /* of each: which flag of the scan, from 1; 0: none */
};

/* Flags come in growing order. mirrored: as an axis would find them that counts the wrong way. */
struct kr_pattern_found kr_pattern_find(const struct kr_references *pattern, bool mirrored,
                                        const struct kr_hit hit[], uint16_t n);

/* A scan of one rail could be taken for one of the other, or for its own in a mirror. Of patterns of fewer than two
 * flags nobody can tell. */
bool kr_patterns_alike(const struct kr_references *a, const struct kr_references *b, bool mirrored);

/* off = off_um + slope_ppb x (place - at_um) / 1,000,000,000 */
struct kr_off_line {
    int32_t at_um, off_um, slope_ppb;
};
int32_t kr_off_line_um(const struct kr_off_line *line, int64_t place_um);

struct kr_off {
    int32_t at_um, off_um; /* where it was found, how far off */
    bool apart;            /* out: the others agree on a line, and this one does not lie on it */
};

/* The line through those that agree within limit_um. It has a slope only where they stand at least span_um apart. */
struct kr_off_line kr_off_line_through(struct kr_off off[], uint16_t n, int32_t limit_um, int32_t span_um);

#endif
