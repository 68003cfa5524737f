/* Alarms that are provoked: what the steps ALARMS and REHEARSAL share. */
#ifndef KNIFERAIL_CLI_COMMISSION_ALARMS_H
#define KNIFERAIL_CLI_COMMISSION_ALARMS_H

#include "commission.h"

/* Whether an alarm stands now, on whatever rail. False: the station does not answer. */
bool commission_alarm_stands(struct commission *c, uint16_t code, bool *stands);
/* Sets seen->raised, its time since began_ms, and its sentence, if the alarm stands now. False as above. */
bool commission_alarm_look(struct commission *c, int64_t began_ms, struct kr_alarm_seen *seen);
/* Keeps what stands in its place. */
void commission_alarm_instead(struct commission *c, struct kr_alarm_seen *seen);
/* Whether the unit was stopped by something: Held, Suspended, Aborted, or Stopped. */
bool commission_is_halted(const struct commission *c);
/* Acknowledges again and again, until the alarm is gone, ms are over (0: without end), or the person presses Enter.
 * False: the person left, or the station does not answer. */
bool commission_alarm_away(struct commission *c, int32_t ms, struct kr_alarm_seen *seen);

#endif
