/* offsets: computes edge offsets from the strips of a test cut. Pure; belongs to station.
 *
 * A strip says how far apart two cutting edges are, so it ties the edge offsets of the two holders that made it: with
 * the holders' scanned centres c and edge offsets e, its width is (c_right + e_right) - (c_left + e_left). Strips only
 * ever tell differences. What is common to all holders that strips tie together cannot be seen in the strips, so it
 * stays as it is: the mean of the offsets of these holders does not change. If several test cuts give more strips than
 * needed, they are reconciled by least squares. */
#ifndef KNIFERAIL_OFFSETS_H
#define KNIFERAIL_OFFSETS_H

#include "kniferail/base.h"

/* All measurements between the same two holders. */
struct kr_strips {
    uint16_t left, right; /* numbers of holders */
    uint32_t n;
    double sum_um, squares_um2; /* sum of e_right - e_left by each strip, and sum of its squares */
};

struct kr_offsets {
    bool fitted[KR_HOLDERS_MAX];       /* some strip ties this holder to another */
    int32_t offset_um[KR_HOLDERS_MAX]; /* of those that are fitted; rounded to the nearest */
    uint32_t n_strips;
    uint32_t spare; /* strips beyond those needed: the degrees of freedom of the residuals */
    double sd_um;   /* standard deviation of one measured width, from the residuals; 0 if spare is 0 */
};

/* Fits the offsets. now_um: the present edge offsets; now_um[n - 1] is that of holder n. False if no strip ties any
 * holders; *fit is untouched then. */
bool kr_offsets_fit(const struct kr_strips strips[], uint16_t n, const int32_t now_um[KR_HOLDERS_MAX],
                    struct kr_offsets *fit);

#endif
