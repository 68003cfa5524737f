/* gauge: measures a rail's proximity switch. Scans in both directions give the bias of a scan in one direction. Drags
 * of one holder give the offset between pin and switch. Both come with their uncertainty. Belongs to base. Pure: no
 * state, any thread.
 *
 * The bias is half of the distance by which the growing pass finds a flag further than the falling pass
 * (corrections.h). It grows with the speed because of the switch's delay. The rest, at standstill, is the hysteresis of
 * the switch and the play of the drive; a scan sees only their sum:
 *
 *     bias(v) = (hysteresis + play) / 2 + v x delay
 *
 * So passes at two speeds give bias and delay. The offset comes from a holder that the pin has dragged: the holder
 * stands where the pin left it, and a scan in both directions sees its flag without bias. During a drag towards the
 * drive side the carriage lags half the play behind its drive, and the same in the other direction. So the mean of both
 * directions is the offset, and their difference is the play.
 *
 *     offset = place of the pin - (flag - switch offset that counts now)
 *
 * An uncertainty is expanded to 95.45 %, by the Guide to the expression of uncertainty in measurement (JCGM 100). It
 * comes from the scatter of the readings (type A, 4.2.3) and from the micrometre to which an edge is latched (type B,
 * 4.3.7). The fewer readings there are, the larger is its factor (annex G): 2.87 for five, 2 for very many. An error
 * that all readings have in common, as that of a bent flag, is not in it. */
#ifndef KNIFERAIL_GAUGE_H
#define KNIFERAIL_GAUGE_H

#include <stdint.h>

/* The factor that makes an expanded uncertainty of 95.45 % out of a standard uncertainty: that of JCGM 100, table G.2,
 * for the next smaller number of degrees of freedom in that table. degrees: 1 or more. */
double kr_gauge_factor(double degrees);

struct kr_gauge_sum {
    uint32_t n;
    int64_t sum_um, squares_um2;
};
/* Adds a reading of at most 10 m in either direction. The sum has room for a million readings. */
void kr_gauge_add(struct kr_gauge_sum *sum, int32_t reading_um);

/* If n is 0, nothing was measured, and all other fields are 0. */
struct kr_gauge_bias {
    uint32_t n; /* number of flags in all rounds at scan speed */
    int32_t bias_um, uncertainty_um;
    int32_t hysteresis_um; /* hysteresis of the switch plus play of the drive */
    int32_t delay_us;
};
/* Computes the bias. The sums hold, for passes at two speeds, how much further each growing pass found a flag than the
 * falling one. */
struct kr_gauge_bias kr_gauge_bias(const struct kr_gauge_sum *fast, int32_t fast_um_per_s,
                                   const struct kr_gauge_sum *slow, int32_t slow_um_per_s);

/* If n is 0, nothing was measured, and all other fields are 0. */
struct kr_gauge_offset {
    uint32_t n;
    int32_t offset_um, uncertainty_um;
    int32_t play_um;
};
/* Computes the offset from drags towards the drive side and drags towards the operator side. Both are needed. */
struct kr_gauge_offset kr_gauge_offset(const struct kr_gauge_sum *up, const struct kr_gauge_sum *down);

#endif
