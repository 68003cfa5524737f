/* offsets: edge offsets from the strips of a test cut. Pure; belongs to station.
 *
 * A strip says how far apart two cutting edges are, so it ties the edge offsets of the two holders that made it: with
 * the holders' scanned centres c and edge offsets e its width is (c_right + e_right) - (c_left + e_left). Strips only
 * ever tell differences. What is common to all holders that strips tie together can't be seen in them: it is left as
 * it is (the mean of their offsets stays). More strips than needed, from several test cuts, are reconciled by least
 * squares. */
#ifndef KNIFERAIL_OFFSETS_H
#define KNIFERAIL_OFFSETS_H

#include "kniferail/base.h"

/* All measurements between the same two holders. */
struct kr_strips {
    uint16_t left, right; /* numbers of holders */
    uint32_t n;
    double sum_um, squares_um2; /* of e_right - e_left as each strip has it, and of its square */
};

struct kr_offsets {
    bool fitted[KR_HOLDERS_MAX];       /* some strip ties this holder to another */
    int32_t offset_um[KR_HOLDERS_MAX]; /* of those that are; rounded to nearest */
    uint32_t n_strips;
    uint32_t spare; /* more than needed to determine them: degrees of freedom of the residuals */
    double sd_um;   /* of one measured width, from the residuals; 0 without spare ones */
};

/* False, and *fit untouched, if no strip ties any holders. now_um: the present edge offsets, [n - 1] is holder n's. */
bool kr_offsets_fit(const struct kr_strips strips[], uint16_t n, const int32_t now_um[KR_HOLDERS_MAX],
                    struct kr_offsets *fit);

#endif
