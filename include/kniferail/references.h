/* references: flags that are fixed to the machine's frame, beyond the holders of a rail; or anywhere along the rail,
 * where a switch of their own on the carriage sees no holder's flag. A scan passes them, too. The
 * places where it finds them say how far the drive and the switch of the rail are off since the places of the flags
 * were taught. The distances between the flags are unequal, so they also say which rail it is. Pure: integers only, no
 * state, any thread.
 *
 * A flag is found off by the place where a scan found it less the place where it was taught. These differences lie on a
 * line along the rail: one flag gives the offset of the line, and two that stand far apart give its slope, too. */
#ifndef KNIFERAIL_REFERENCES_H
#define KNIFERAIL_REFERENCES_H

#include <stdbool.h>
#include <stdint.h>

#define KR_REFERENCES_MAX    8
#define KR_REFERENCE_SAME_UM 1500 /* two distances that differ by no more count as equal */
#define KR_REFERENCE_TREND   8    /* for so many scans it is kept how far the flags were off */

struct kr_reference {
    int32_t at_um;    /* place of its centre in the frame */
    int32_t width_um; /* as the switch sees it */
};

struct kr_references {
    uint16_t n;
    uint16_t n_low; /* so many of them lie left of the rail's holders, the others right of them */
    struct kr_reference flag[KR_REFERENCES_MAX]; /* places grow */
    bool own_switch;          /* seen by a switch of their own, which sees nothing else: touch probe 2 */
    int32_t switch_offset_um; /* from the pin to that switch, signed */
    int32_t window_um;        /* if a flag is off by more since it was taught, the rail is off */
    int32_t step_um;          /* the same, since the last scan */
};

/* A flag as a scan found it. */
struct kr_hit {
    int32_t at_um; /* the flag's centre, switch offset added */
    int32_t width_um;
};

/* Which flags of a scan are those of a pattern, wherever all of them have been shifted. */
struct kr_pattern_found {
    uint16_t n; /* so many flags stand as far from each other as they should */
    int32_t shift_um;
    /* For each flag of the pattern: which flag of the scan, from 1; 0: none. */
    uint16_t hit[KR_REFERENCES_MAX];
};

/* Finds the pattern among the flags of a scan, which come in growing order. mirrored: as an axis would find them that
 * counts the wrong way. */
struct kr_pattern_found kr_pattern_find(const struct kr_references *pattern, bool mirrored,
                                        const struct kr_hit hit[], uint16_t n);

/* True: a scan of one rail could be taken for a scan of the other one, or of the same one in a mirror. With fewer than
 * two flags in a pattern nobody can tell. */
bool kr_patterns_alike(const struct kr_references *a, const struct kr_references *b, bool mirrored);

/* off = off_um + slope_ppb x (place - at_um) / 1,000,000,000 */
struct kr_off_line {
    int32_t at_um, off_um, slope_ppb;
};
int32_t kr_off_line_um(const struct kr_off_line *line, int64_t place_um);

struct kr_off {
    int32_t at_um, off_um; /* where it was found, how far off */
    bool apart;            /* set by the call: the others agree on a line, and this one does not lie on it */
};

/* Finds the line through those that agree within limit_um. The line has a slope only if they stand at least span_um
 * apart. */
struct kr_off_line kr_off_line_through(struct kr_off off[], uint16_t n, int32_t limit_um, int32_t span_um);

#endif
