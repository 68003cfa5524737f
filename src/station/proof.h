#ifndef KR_STATION_PROOF_H
#define KR_STATION_PROOF_H

#include "hands.h"
#include "planning.h"
#include "verify.h"

/* The stored proof about the order in force: that it was placed, which holders cut, and how the carriages stood. After
 * a restart it counts again if hands.h finds that nobody was there. */

/* Stores the proof when the line may be started and accesses are counted. Revokes it when the order in force is no
 * longer verified and was not set aside. */
void proof_step(struct kr_durable *durable, const struct kr_station_config *config, const struct hands *hands,
                const struct kr_plan *plan, bool may_start, bool may_return);

/* Decides at the program's start whether the stored proof may count again. If so, every rail is set aside. If not, all
 * of its positions are removed from *durable, which must then be stored. */
bool proof_begin(struct kr_durable *durable, const struct kr_station_config *config, struct hands *hands);

/* Makes the plan from the stored proof: which holders cut where. Nothing moves in it. It needs the cut lines of the
 * order in force. */
void proof_plan(struct planning *planning, const struct kr_station_config *config, const struct kr_durable *durable);

#endif
