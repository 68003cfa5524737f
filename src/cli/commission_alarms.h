/* Functions for provoked alarms, which the steps ALARMS and REHEARSAL share. */
#ifndef KNIFERAIL_CLI_COMMISSION_ALARMS_H
#define KNIFERAIL_CLI_COMMISSION_ALARMS_H

#include "commission.h"

/* Tells whether an alarm stands now, on any rail. Returns false if the station does not answer. */
bool commission_alarm_stands(struct commission *c, uint16_t code, bool *stands);
/* Sets seen->raised, the time since began_ms, and the alarm's sentence, if the alarm stands now. Returns false if the
 * station does not answer. */
bool commission_alarm_look(struct commission *c, int64_t began_ms, struct kr_alarm_seen *seen);
/* Keeps the alarm that stands in the place of the expected one. */
void commission_alarm_instead(struct commission *c, struct kr_alarm_seen *seen);
/* Tells whether something has stopped the unit: it is Held, Suspended, Aborted, or Stopped. */
bool commission_is_halted(const struct commission *c);
/* Acknowledges repeatedly until the alarm is gone, ms have passed (0: no limit), or the person presses Enter. Returns
 * false if the person left, or the station does not answer. */
bool commission_alarm_away(struct commission *c, int32_t ms, struct kr_alarm_seen *seen);

#endif
