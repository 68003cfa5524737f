/* corrections: the whole way from what a drive counts to where a blade cuts, and back. Each correction stands here
 * once, with its place in the order, its formula and its sign. Belongs to base; motion and station go by it, and the
 * planner's search has the same sign of an edge offset. Pure: integers only, no state, any thread. A value that would
 * not fit 32 bits stops at their end.
 *
 * From the drive to the blade. All lengths are micrometres; a correction counts as added unless a minus says otherwise.
 *
 *   1 drive       position = counts x position_um / position_units, by the drive's settings (drivemap.h)
 *   2 frame       place = offset + p + p x scale + error(p), where p = position + datum        kr_frame_place_um()
 *                 The drive's position says where the carriage's pin is. offset, scale and the table of errors are the
 *                 rail's frame (frame.h). datum, and a part of scale, are what references have found since they were
 *                 taught (struct kr_frame_correction).
 *   3 temperature place x (1 + expansion)                                                     kr_frame_expanded()
 *                 It is laid into offset, scale and errors, so that steps 2 and 3 are one call.
 *   4 switch      flag = (place of the pin at the one edge + the same at the other edge) / 2 + switch offset
 *                                                                                             kr_flag_by_pass_um()
 *                 The switch offset leads from the pin to the switch: positive, where the switch is on the drive side.
 *                 What references and dragged holders have found of it is added to it. References that a switch of
 *                 their own sees have that switch's offset, to which nothing is added.
 *   5 scan bias   both ways:  flag = (flag by the growing pass + flag by the falling pass) / 2  kr_flag_both_ways_um()
 *                 one way:    flag = flag by the growing pass - bias                            kr_flag_one_way_um()
 *                 The bias is half of what the growing pass finds more than the falling one: half the hysteresis of
 *                 the switch, half the play of the drive, and the way that is gone during the delay of the switch.
 *                                                                                             kr_passes_apart_um()
 *   6 residual    holder = flag - off(flag)                                          kr_flag_less_residual_um()
 *                 off is by how much the references of the same scan were found off (references.h). Once the scan
 *                 counts, datum, scale and switch offset take it over, and the next scan finds the references right.
 *   7 blade       edge = holder + edge offset                                                    kr_edge_um()
 *
 * And from a target of the blade to the drive:
 *
 *   7 blade       holder = edge - edge offset                                                    kr_holder_um()
 *   3, 2          position by the same frame, expanded                                kr_frame_position_um()
 *                 The pin goes to the holder, and takes it along: the switch, its bias and the residual of a scan have
 *                 no part in it.
 *   4 scans alone position at which the switch is above a place: that of place - switch offset
 *                                                                                      kr_switch_position_um() */
#ifndef KNIFERAIL_CORRECTIONS_H
#define KNIFERAIL_CORRECTIONS_H

#include <stdint.h>

#include "kniferail/frame.h"

/* A rail's proximity switch, as it is calibrated. */
struct kr_switch {
    int32_t offset_um; /* from the pin to the switch */
    int32_t bias_um;   /* of a growing pass at scan speed; 0: scans go both ways and need none */
};
#define KR_SWITCH_OFFSET_MAX_UM 1000000 /* either way */
#define KR_SCAN_BIAS_MAX_UM     10000   /* either way */

/* The flag's centre by one pass. The two places are those of the pin when the drive latched the edges. */
int32_t kr_flag_by_pass_um(int32_t rise_place_um, int32_t fall_place_um, int32_t switch_offset_um);

int32_t kr_flag_both_ways_um(int32_t growing_um, int32_t falling_um);
int32_t kr_flag_one_way_um(int32_t growing_um, int32_t bias_um);

/* How much further the growing pass finds a flag than the falling one, less twice the bias that is expected. */
int64_t kr_passes_apart_um(int32_t growing_um, int32_t falling_um, int32_t bias_um);

int32_t kr_flag_less_residual_um(int32_t flag_um, int32_t off_um);

int32_t kr_edge_um(int32_t holder_um, int32_t edge_offset_um);
int32_t kr_holder_um(int32_t edge_um, int32_t edge_offset_um);

/* The drive's position at which the switch is above the place. */
int32_t kr_switch_position_um(const struct kr_frame *frame, int32_t place_um, int32_t switch_offset_um);

#endif
