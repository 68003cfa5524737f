/* The small station with an ordinary machine, one that slips, plays and scatters, and the permissives hard-wired; and what
 * has to be so after a changeover. */
#ifndef KR_TESTS_CHANGE_RIG_H
#define KR_TESTS_CHANGE_RIG_H

#include "station_rig.h"

#define SMALL_HOLDERS 5 /* class 2, at 60, 150, 240, 330 and 420 mm */

/* Rails of half a metre; the carriages park at -60 mm; the permissives are hard-wired. Before rig_start. */
void rig_small(struct rig *rig, uint16_t n_rails);
void rig_common_clamp(struct rig *rig,
                      uint16_t rail); /* from 0: that rail's holders are clamped by an air shaft, too */

uint16_t rig_request_code(struct rig *rig, enum kr_request_kind kind); /* rig_request; its verdict */
uint16_t rig_command_code(struct rig *rig, enum kr_command command, enum kr_job job); /* its result */

/* After rig_start: to Idle, the small order staged as number 1. */
void rig_staged(struct rig *rig);
/* The same, and Start accepted, and in Execute. */
void rig_started(struct rig *rig);

/* Cycles until the carriage of a rail (from 0) is in that phase of that phase of the job; fails the test if it does not
 * get there. */
void rig_run_until(struct rig *rig, enum kr_phase job, uint16_t rail, enum kr_carriage_phase carriage);

/* Runs until Complete; fails unless that is verified, and true: every edge, pair and slit within its tolerance, nothing
 * collided, nothing was dragged unseated, nothing claimed as measured that was not there. */
void rig_ends_verified(struct rig *rig);
void rig_is_sound(const struct rig *rig); /* the last three */

/* Fails if a holder that is said to be placed or measured isn't there. */
void rig_is_honest(const struct rig *rig);

/* Runs for so long and fails if a carriage moves, or an output asks for motion or for a pin, brake or clamp. */
void rig_nothing_moves_ms(struct rig *rig, int64_t ms);

uint16_t rig_status(const struct rig *rig);

#endif
