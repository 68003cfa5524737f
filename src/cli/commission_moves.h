/* Functions that the steps with whole jobs share: a job to its end, the holders of a rail, orders. */
#ifndef KNIFERAIL_CLI_COMMISSION_MOVES_H
#define KNIFERAIL_CLI_COMMISSION_MOVES_H

#include "commission.h"

/* Waits until the job that was started has ended in any way, and fills the result. Returns false if the person left, or
 * the station does not answer. */
bool commission_job_end(struct commission *c, struct kr_job_seen *seen);

/* Starts the job, and does the same. */
bool commission_job_run(struct commission *c, const struct commission_job *job, struct kr_job_seen *seen);

/* Reads state, knowledge and place of a rail's holders. */
bool commission_holders(struct commission *c, uint16_t rail);
bool commission_holder_serves(const struct commission *c, uint16_t rail, uint16_t holder);
int32_t commission_holder_um(const struct commission *c, uint16_t rail, uint16_t holder);

/* Returns where a holder can go, at most by_um from its place, on the side with more room. If it has no room, this is
 * its own place. */
int32_t commission_room_um(const struct commission *c, uint16_t rail, uint16_t holder, int32_t by_um);

/* Returns how far a holder can go to that side: 1 drive side, -1 operator side. It can be less than 0. */
int32_t commission_room_beside_um(const struct commission *c, uint16_t rail, uint16_t holder, int side);

/* Makes a random order that the station accepts, and stages it. *number is the number of the order. Returns false if
 * the person left, the station does not answer, no order can be drawn, or none of 50 orders was accepted. */
bool commission_stage_random(struct commission *c, uint32_t *seed, uint32_t *number);

/* Reads the last record, and the holders of every rail. */
bool commission_read_record(struct commission *c, struct kr_changeover_seen *seen);

/* If no order is set up and verified, sets up a random one at reduced speed after Enter. *job is how that ended; it is
 * complete if no order was needed. Returns false if the person left, the station does not answer, or no order was
 * accepted. */
bool commission_need_order(struct commission *c, struct kr_job_seen *job);

/* Makes one changeover to the staged order of that number, and takes its record. */
bool commission_changeover(struct commission *c, uint32_t number, bool production, struct kr_changeover_seen *seen);

#endif
