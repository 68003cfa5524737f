/* Decides which alarms an acknowledgement ends: those whose cause is gone. */
#include "acknowledge.h"

#include <string.h>

#include "metres.h"
#include "permit.h"

/* Tells whether the cause of an alarm still exists. An event (a pin that did not seat) is over once somebody has
 * acknowledged it. */
static bool cause_stands(const struct kr_station *s, const struct kr_alarm *alarm)
{
    const struct kr_axis_in *axis = alarm->rail ? &s->in.axis[alarm->rail - 1] : NULL;
    switch (alarm->code) {
    case KR_ALARM_LINK_LOST: return axis && !axis->link;
    case KR_ALARM_OTHER_GATEWAY: return axis && axis->refusal.why == KR_REFUSED_OTHER_GATEWAY;
    case KR_ALARM_DRIVE_PARAMETER: return axis && axis->refusal.why == KR_REFUSED_PARAMETER;
    case KR_ALARM_DRIVE_FAULT: return axis && kr_drive_state_of(axis->statusword) == KR_DRIVE_FAULT;
    case KR_ALARM_POSITION_IMPLAUSIBLE:
        return axis &&
               kr_motion_is_implausible(&s->rails.motion[alarm->rail - 1], &s->config.carriage[alarm->rail - 1], axis);
    case KR_ALARM_HEARTBEAT_STALE: return !s->permits.heartbeat_fresh;
    case KR_ALARM_PERMISSIVE_LOST: return permit_missing(&s->permits, (uint16_t)alarm->value) != 0;
    case KR_ALARM_ENCODER_BLAMED:
    case KR_ALARM_CARRIAGE_DRIFTED:
    case KR_ALARM_DATUM_DECLARED: return alarm->rail && s->durable.datum_doubted[alarm->rail - 1];
    case KR_ALARM_RAIL_SHIFTED:
    case KR_ALARM_RAIL_SCALED:
    case KR_ALARM_SWITCH_SHIFTED:
    case KR_ALARM_SWITCHES_APART:
    case KR_ALARM_REFERENCES_SHIFTED: return alarm->rail && s->durable.shift_um[alarm->rail - 1] != 0;
    case KR_ALARM_LINE_CONTRADICTS: return permit_line_contradicts(&s->permits, &s->config, s->in.line_speed);
    case KR_ALARM_BOOK_FAILED: return s->in.book_failed;
    case KR_ALARM_BOOK_GONE: return s->in.book_gone;
    case KR_ALARM_BOOK_DISK_FULL: return s->in.book_disk_full;
    case KR_ALARM_BOOK_LATE: return s->clock.wall_us - s->storing.grown_us >= 1000LL * KR_BOOK_LATE_MS;
    /* edges_name() and wear_step() end these alarms once they are over. */
    case KR_ALARM_KNIFE_STRUCK:
    case KR_ALARM_EDGE_UNPROVEN:
    case KR_ALARM_GRIND_SOON:
    case KR_ALARM_GRIND_DUE: return true;
    case KR_ALARM_KNIFE_METRES: return metres_over(&s->config, &s->durable, alarm);
    default: return false;
    }
}

bool alarms_acknowledge(struct kr_station *s)
{
    struct alarms *a = &s->alarms;
    uint16_t kept = 0;
    for (uint16_t i = 0; i < a->n; i++)
        if (cause_stands(s, &a->at[i]))
            a->at[kept++] = a->at[i];
    memset(&a->at[kept], 0, (KR_ALARMS_KNOWN_MAX - (size_t)kept) * sizeof a->at[0]);
    a->n = kept;
    a->lost = 0;
    /* If the named knife was reground, the next one is named now. */
    metres_notices(&s->config, &s->durable, a);
    return !alarm_stops(a, NULL);
}
