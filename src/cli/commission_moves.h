/* What the steps with whole jobs share: a job to its end, the holders of a rail, orders. */
#ifndef KNIFERAIL_CLI_COMMISSION_MOVES_H
#define KNIFERAIL_CLI_COMMISSION_MOVES_H

#include "commission.h"

/* Waits until the job that was started has ended in some way, and fills what is told of it. False: the person left, or
 * the station is gone. */
bool commission_job_end(struct commission *c, struct kr_job_seen *seen);

/* The same with its start. */
bool commission_job_run(struct commission *c, const struct commission_job *job, struct kr_job_seen *seen);

/* Reads state, knowledge and place of a rail's holders. */
bool commission_holders(struct commission *c, uint16_t rail);
bool commission_holder_serves(const struct commission *c, uint16_t rail, uint16_t holder);
int32_t commission_holder_um(const struct commission *c, uint16_t rail, uint16_t holder);

/* Where a holder can go, at most by_um from where it stands, at the side with more room; its own place: nowhere. */
int32_t commission_room_um(const struct commission *c, uint16_t rail, uint16_t holder, int32_t by_um);

/* Makes a random order that the station accepts, and stages it. *number is the order's. False: the person left, the
 * station is gone, or no order of 50 was accepted. */
bool commission_stage_random(struct commission *c, uint32_t *seed, uint32_t *number);

/* Reads what the last record says, and the holders of every rail. */
bool commission_read_record(struct commission *c, struct kr_changeover_seen *seen);

/* With an order that is not set up and verified: after Enter a random one is, at reduced speed. *job is how that ended,
 * complete where it was not needed. False: the person left, the station is gone, or no order was accepted. */
bool commission_need_order(struct commission *c, struct kr_job_seen *job);

/* One changeover to the staged order of that number, and what its record says. */
bool commission_changeover(struct commission *c, uint32_t number, bool production, struct kr_changeover_seen *seen);

#endif
