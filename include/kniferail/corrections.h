/* corrections: the whole way from the position of a drive to the place where a blade cuts, and back. This header gives
 * each correction once, with its place in the sequence, its formula and its sign. Belongs to base. Motion and station
 * use it, and the planner's search uses the same sign of an edge offset. Pure: integers only, no state, any thread. A
 * value that would not fit in 32 bits stops at the limit.
 *
 * From the drive to the blade. All lengths are micrometres. A correction is added, unless the formula has a minus.
 *
 *   1 drive       position = counts x position_um / position_units, by the drive's settings (drivemap.h)
 *   2 frame       place = offset + p + p x scale + error(p), where p = position + datum        kr_frame_place_um()
 *                 The drive's position tells the place of the carriage's pin. offset, scale and the table of errors
 *                 are the rail's frame (frame.h). datum, and a part of scale, are deviations that references have
 *                 found since they were taught (struct kr_frame_correction).
 *   3 temperature place x (1 + expansion)                                                     kr_frame_expanded()
 *                 The factor is multiplied into offset, scale and errors, so that steps 2 and 3 are one call.
 *   4 switch      flag = (place of the pin at one edge + place of the pin at the other edge) / 2 + switch offset
 *                                                                                             kr_flag_by_pass_um()
 *                 The switch offset leads from the pin to the switch. It is positive if the switch is on the drive
 *                 side. Deviations of it that references and dragged holders have found are added to it. References
 *                 with a switch of their own use the offset of that switch, and nothing is added to it.
 *   5 scan bias   both ways:  flag = (flag by the growing pass + flag by the falling pass) / 2  kr_flag_both_ways_um()
 *                 one way:    flag = flag by the growing pass - bias                            kr_flag_one_way_um()
 *                 The bias is half of the distance by which the growing pass finds a flag further than the falling
 *                 pass. It consists of half the hysteresis of the switch, half the play of the drive, and the travel
 *                 during the delay of the switch.                                             kr_passes_apart_um()
 *   6 residual    holder = flag - off(flag)                                          kr_flag_less_residual_um()
 *                 off is the deviation of the references in the same scan (references.h). Once the scan counts, datum,
 *                 scale and switch offset contain it, and the next scan finds the references at their places.
 *   7 blade       edge = holder + edge offset                                                    kr_edge_um()
 *
 * From the target of a blade to the drive:
 *
 *   7 blade       holder = edge - edge offset                                                    kr_holder_um()
 *   3, 2          position by the same frame, expanded                                kr_frame_position_um()
 *                 The pin goes to the holder, and takes it along, so that the switch, its bias and the residual of a
 *                 scan do not matter.
 *   4 scans only  position at which the switch is above a place: the position of (place - switch offset)
 *                                                                                      kr_switch_position_um() */
#ifndef KNIFERAIL_CORRECTIONS_H
#define KNIFERAIL_CORRECTIONS_H

#include <stdint.h>

#include "kniferail/frame.h"

/* The calibration of a rail's proximity switch. */
struct kr_switch {
    int32_t offset_um; /* from the pin to the switch */
    int32_t bias_um;   /* bias of a growing pass at scan speed; 0: scans go both ways and need none */
};
#define KR_SWITCH_OFFSET_MAX_UM 1000000 /* either way */
#define KR_SCAN_BIAS_MAX_UM     10000   /* either way */

/* Returns the flag's centre by one pass. The two places are the pin's places when the drive latched the edges. */
int32_t kr_flag_by_pass_um(int32_t rise_place_um, int32_t fall_place_um, int32_t switch_offset_um);

int32_t kr_flag_both_ways_um(int32_t growing_um, int32_t falling_um);
int32_t kr_flag_one_way_um(int32_t growing_um, int32_t bias_um);

/* Returns how much further the growing pass finds a flag than the falling one, minus twice the expected bias. */
int64_t kr_passes_apart_um(int32_t growing_um, int32_t falling_um, int32_t bias_um);

int32_t kr_flag_less_residual_um(int32_t flag_um, int32_t off_um);

int32_t kr_edge_um(int32_t holder_um, int32_t edge_offset_um);
int32_t kr_holder_um(int32_t edge_um, int32_t edge_offset_um);

/* Returns the drive's position at which the switch is above the place. */
int32_t kr_switch_position_um(const struct kr_frame *frame, int32_t place_um, int32_t switch_offset_um);

#endif
