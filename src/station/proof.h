#ifndef KR_STATION_PROOF_H
#define KR_STATION_PROOF_H

#include "hands.h"
#include "planning.h"
#include "verify.h"

/* What was proven of the order in force, as it is stored: that it was placed, who cuts, and how the carriages stood
 * then. After a restart it counts again if hands.h finds that nobody was there. */

/* Stores it when the line may be started and accesses are counted; takes it back when the order in force is no longer
 * verified, and was not set aside. */
void proof_step(struct kr_durable *durable, const struct kr_station_config *config, const struct hands *hands,
                const struct kr_plan *plan, bool may_start, bool may_return);

/* At the program's start: whether what is stored may count again. If not, all that it holds of places is taken out of
 * *durable, which is to be stored so; if so, every rail is set aside. */
bool proof_begin(struct kr_durable *durable, const struct kr_station_config *config, struct hands *hands);

/* The plan of what is stored: who cuts where; nothing moves. It needs the cut lines of the order in force. */
void proof_plan(struct planning *planning, const struct kr_station_config *config,
                const struct kr_durable *durable);

#endif
