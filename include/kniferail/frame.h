/* frame: computes the place of a rail's carriage in the machine's frame from its drive's position. The two rails of a
 * machine share one frame, so that an upper and a lower knife at the same place meet. A drive counts from a datum of
 * its own, by a gear or a rack whose length is never exactly as stated and which is never straight. Pure: integers
 * only, no state, any thread.
 *
 *     place = (1 + expansion) x (offset + position + position x scale + error(position))
 *
 * - place: micrometres in the frame.
 * - position: the drive's position, in micrometres by its own scale and from its own datum, plus datum_um. datum_um is
 *   how much less the drive counts now than it did when frame and table were taught.
 * - scale: in parts of 1,000,000,000. It is positive if the carriage goes further than its drive says.
 * - error: the place that is reached minus the place by offset and scale alone, as ISO 230-2 counts a deviation.
 *   Between two points of the table the error is a straight line. Before the first point and after the last one it is
 *   constant.
 * - expansion: coefficient x (temperature - 20 C), or 0 if the station file gives no coefficient. It is the thermal
 *   expansion of the frame and of all that is fixed to it: rail, rack, holders and flags. All of these expand together,
 *   so that a scan shows nothing of it. A place is a length at the reference temperature of ISO 1 (20 C), as the widths
 *   of an order are.
 *
 * The map is strictly monotone within its limits. It is computed in nanometres, and rounded once at the end, so that a
 * conversion there and back ends within 1 um of its start. A value that would not fit in 32 bits stops at the limit. */
#ifndef KNIFERAIL_FRAME_H
#define KNIFERAIL_FRAME_H

#include <stdbool.h>
#include <stdint.h>

#define KR_FRAME_POINTS_MAX    64
#define KR_FRAME_OFFSET_MAX_UM 20000000 /* either way */
#define KR_FRAME_SCALE_MAX_PPB 10000000 /* either way: 1 % */
#define KR_FRAME_ERROR_MAX_UM  10000    /* either way */
#define KR_FRAME_STEEPEST      10       /* from point to point the error changes by at most a tenth of the way */

struct kr_frame_point {
    int32_t at_um; /* the drive's position; it grows from point to point */
    int32_t error_um;
};

/* If all fields are 0, the drive's position is the place. */
struct kr_frame {
    int32_t offset_um;
    int32_t scale_ppb;
    int32_t datum_um; /* found by references, never in a station file */
    uint16_t n_points;
    struct kr_frame_point point[KR_FRAME_POINTS_MAX];
};

/* The deviations that reference flags have shown since they were taught. They are added to the frame of the station
 * file. */
struct kr_frame_correction {
    int32_t datum_um; /* added to the drive's position */
    /* The part of datum_um that a homing of references has found, or that a person has confirmed. */
    int32_t taught_um;
    int32_t scale_ppb;     /* added to the frame's scale */
    int32_t switch_um;     /* added to the switch's offset */
    int32_t expansion_ppb; /* not found by references: the thermal expansion of the frame against 20 C */
};

/* Returns the frame with its places multiplied by (1 + expansion_ppb / 1,000,000,000). A scale that would leave its
 * limits stops there. */
struct kr_frame kr_frame_expanded(const struct kr_frame *frame, int32_t expansion_ppb);
/* Returns a length multiplied by the same factor, to the nearest micrometre. */
int32_t kr_expanded_um(int32_t um, int32_t expansion_ppb);
/* Returns the expansion that reverses this one. */
int32_t kr_expansion_back_ppb(int32_t expansion_ppb);
/* Returns coefficient x (temperature - 20 C). The coefficient is in parts of 1,000,000,000 for each kelvin, and the
 * temperature in hundredths of a kelvin. */
int32_t kr_expansion_ppb(int32_t coefficient_ppb, uint16_t temperature_ck);
#define KR_EXPANSION_MAX_PPB    2000000 /* either way: 50 parts of a million for each kelvin, over 40 K */
#define KR_TEMPERATURE_20_CK    29315
#define KR_TEMPERATURE_LEAST_CK 25315 /* -20 C: no production hall is colder ... */
#define KR_TEMPERATURE_MOST_CK  33315 /* ... and none is hotter than 60 C */

int32_t kr_frame_place_um(const struct kr_frame *frame, int32_t position_um);
/* The position whose place is nearest. */
int32_t kr_frame_position_um(const struct kr_frame *frame, int32_t place_um);

/* Returns the number, from 1, of the first point of the table that breaks a limit against the point before it; 0: no
 * point does. */
uint16_t kr_frame_bad_point(const struct kr_frame *frame);

#endif
