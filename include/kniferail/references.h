/* references: flags that are fixed to the machine's frame beyond the holders of a rail. If the carriage has a switch of
 * its own for them, which sees no holder's flag, they may be anywhere along the rail. A scan passes them, too. Where it
 * finds them shows how far the drive and the switch of the rail are off since the places of the flags were taught. The
 * distances between the flags are unequal, so they also identify the rail. Pure: integers only, no state, any thread.
 *
 * The deviation of a flag is the place where a scan found it minus the place where it was taught. The deviations lie on
 * a line along the rail: one flag gives the offset of the line, and two flags that stand far apart also give its
 * slope. */
#ifndef KNIFERAIL_REFERENCES_H
#define KNIFERAIL_REFERENCES_H

#include <stdbool.h>
#include <stdint.h>

#define KR_REFERENCES_MAX    8
#define KR_REFERENCE_SAME_UM 1500 /* two distances that differ by no more than this count as equal */
#define KR_REFERENCE_TREND   8    /* number of scans for which the deviation of the flags is kept */

struct kr_reference {
    int32_t at_um;    /* place of its centre in the frame */
    int32_t width_um; /* as the switch sees it */
};

struct kr_references {
    uint16_t n;
    uint16_t n_low; /* so many of them lie left of the rail's holders, and the others right of them */
    struct kr_reference flag[KR_REFERENCES_MAX]; /* places grow */
    bool own_switch;          /* a switch of their own sees them and nothing else, by touch probe 2 */
    int32_t switch_offset_um; /* from the pin to that switch, signed */
    int32_t window_um;        /* the rail is off if a flag is off by more than this since it was taught */
    int32_t step_um;          /* the rail is off if a flag is off by more than this since the last scan */
};

/* A flag as a scan found it. */
struct kr_hit {
    int32_t at_um; /* the flag's centre, which includes the switch offset */
    int32_t width_um;
};

/* The flags of a scan that match a pattern of references, whatever shift they all have. */
struct kr_pattern_found {
    uint16_t n; /* number of flags whose distances from each other match */
    int32_t shift_um;
    /* For each flag of the pattern: number of the flag in the scan, from 1; 0: none. */
    uint16_t hit[KR_REFERENCES_MAX];
};

/* Finds the pattern among the flags of a scan, which come in growing order. mirrored: the pattern is mirrored, as an
 * axis that counts in the wrong direction would find it. */
struct kr_pattern_found kr_pattern_find(const struct kr_references *pattern, bool mirrored, const struct kr_hit hit[],
                                        uint16_t n);

/* Returns whether a scan of one rail could be taken for a scan of the other rail, or of the same rail mirrored. It
 * cannot be told with fewer than two flags in a pattern. */
bool kr_patterns_alike(const struct kr_references *a, const struct kr_references *b, bool mirrored);

/* off = off_um + slope_ppb x (place - at_um) / 1,000,000,000 */
struct kr_off_line {
    int32_t at_um, off_um, slope_ppb;
};
int32_t kr_off_line_um(const struct kr_off_line *line, int64_t place_um);

struct kr_off {
    int32_t at_um, off_um; /* place where the flag was found, and its deviation */
    bool apart;            /* set by the call: the other flags agree on a line, and this one does not lie on it */
};

/* Finds the line through the flags that agree within limit_um. The line has a slope only if they stand at least span_um
 * apart. */
struct kr_off_line kr_off_line_through(struct kr_off off[], uint16_t n, int32_t limit_um, int32_t span_um);

#endif
