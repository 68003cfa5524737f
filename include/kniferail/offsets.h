/* offsets: computes edge offsets from the strips of a test cut. Pure; belongs to station.
 *
 * The width of a strip is the distance between two cutting edges, so it connects the edge offsets of the two holders
 * that made it. With the holders' scanned centres c and edge offsets e, the width is (c_right + e_right) - (c_left +
 * e_left). Strips only measure differences. They cannot show an error that is common to all connected holders, so the
 * mean of the offsets of these holders does not change. If several test cuts give more strips than needed, least
 * squares reconcile them. */
#ifndef KNIFERAIL_OFFSETS_H
#define KNIFERAIL_OFFSETS_H

#include "kniferail/base.h"

/* All measurements between the same two holders. */
struct kr_strips {
    uint16_t left, right; /* numbers of holders */
    uint32_t n;
    double sum_um, squares_um2; /* sum of (e_right - e_left) over the strips, and the sum of its squares */
};

struct kr_offsets {
    bool fitted[KR_HOLDERS_MAX];       /* a strip connects this holder with another one */
    int32_t offset_um[KR_HOLDERS_MAX]; /* for the fitted holders, rounded to the nearest micrometre */
    uint32_t n_strips;
    uint32_t spare; /* strips beyond those that are needed: the degrees of freedom of the residuals */
    double sd_um;   /* standard deviation of one measured width, from the residuals; 0 if spare is 0 */
};

/* Fits the offsets. now_um[n - 1] is the present edge offset of holder n. False: no strip connects any holders, and
 * *fit is untouched. */
bool kr_offsets_fit(const struct kr_strips strips[], uint16_t n, const int32_t now_um[KR_HOLDERS_MAX],
                    struct kr_offsets *fit);

#endif
