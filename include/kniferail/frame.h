/* frame: where the carriage of a rail stands in the machine's frame, computed from the position that its drive says.
 * Two rails of one machine share one frame: an upper and a lower knife at the same place meet. A drive counts from a
 * datum of its own, by a gear or a rack whose length is never exactly as stated, and neither is straight. Pure:
 * integers only, no state, any thread.
 *
 *     place = (1 + expansion) x (offset + position + position x scale + error(position))
 *
 * expansion: of the frame and of all that is fixed to it, rail, rack, holders and flags, against 20 C (the reference
 * temperature of ISO 1): coefficient x (temperature - 20 C), 0 where the station file gives no coefficient. They all
 * shrink together, so that a scan shows nothing of it; a place is a length at 20 C, as an order's widths are.
 * position: what the drive says, in micrometres by its own scale and from its own datum, plus datum_um: by so much the
 * drive counted less when frame and table were taught. place: micrometres in the frame. scale: in parts of
 * 1,000,000,000; positive where the carriage goes further than its drive says. error: the place that is reached less
 * the place by offset and scale alone, as ISO 230-2 counts a deviation (reached less told). Between two points of the
 * table the error is a straight line; before the first point and behind the last one it is constant.
 *
 * The map is strictly monotone within its limits, is computed in nanometres, and is rounded at its end. So the way
 * there and back ends within 1 um of where it began, either way round. A value that would not fit 32 bits stops at
 * their end. */
#ifndef KNIFERAIL_FRAME_H
#define KNIFERAIL_FRAME_H

#include <stdbool.h>
#include <stdint.h>

#define KR_FRAME_POINTS_MAX    64
#define KR_FRAME_OFFSET_MAX_UM 20000000 /* either way */
#define KR_FRAME_SCALE_MAX_PPB 10000000 /* either way: 1 % */
#define KR_FRAME_ERROR_MAX_UM  10000    /* either way */
#define KR_FRAME_STEEPEST      10 /* from point to point the error changes by at most a tenth of the way */

struct kr_frame_point {
    int32_t at_um; /* position by the drive; it grows from point to point */
    int32_t error_um;
};

/* If all fields are 0, the position of the drive is the place. */
struct kr_frame {
    int32_t offset_um;
    int32_t scale_ppb;
    int32_t datum_um; /* found by references, never in a station file */
    uint16_t n_points;
    struct kr_frame_point point[KR_FRAME_POINTS_MAX];
};

/* What reference flags have found off since they were taught. It is added to what the station file says. */
struct kr_frame_correction {
    int32_t datum_um; /* added to the drive's position */
    /* The part of datum_um that a homing of references found anew, or that a person has confirmed. */
    int32_t taught_um;
    int32_t scale_ppb;     /* added to the frame's scale */
    int32_t switch_um;     /* added to the switch's offset */
    int32_t expansion_ppb; /* not found by references: the frame is so much longer than at 20 C */
};

/* The frame with its places multiplied by (1 + expansion_ppb / 1,000,000,000); a scale that would leave its limits
 * stops there. */
struct kr_frame kr_frame_expanded(const struct kr_frame *frame, int32_t expansion_ppb);
/* A length multiplied likewise, to the nearest micrometre. */
int32_t kr_expanded_um(int32_t um, int32_t expansion_ppb);
/* The expansion that takes that one back. */
int32_t kr_expansion_back_ppb(int32_t expansion_ppb);
/* coefficient x (temperature - 20 C); both in parts of 1,000,000,000, the temperature in hundredths of a kelvin. */
int32_t kr_expansion_ppb(int32_t coefficient_ppb, uint16_t temperature_ck);
#define KR_EXPANSION_MAX_PPB    2000000 /* either way: 50 parts of a million, 40 K off */
#define KR_TEMPERATURE_20_CK    29315
#define KR_TEMPERATURE_LEAST_CK 25315 /* -20 C: a hall that is colder, or hotter than the other, is none */
#define KR_TEMPERATURE_MOST_CK  33315 /* 60 C */

int32_t kr_frame_place_um(const struct kr_frame *frame, int32_t position_um);
int32_t kr_frame_position_um(const struct kr_frame *frame, int32_t place_um); /* the nearest to it */

/* Returns the number, from 1, of the first point of the table that breaks a limit against the point before it; 0: no
 * point does. */
uint16_t kr_frame_bad_point(const struct kr_frame *frame);

#endif
