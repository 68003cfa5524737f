#ifndef KR_STATION_UNIT_H
#define KR_STATION_UNIT_H

#include "state.h"

/* The unit: the PackML state model (ISA-TR88.00.02 by way of OPC 30050). All motion happens in Execute; the other
 * acting states only wind down, check and acknowledge. */
void unit_enter(struct kr_station *s, enum kr_unit_state state);
struct kr_result unit_command(struct kr_station *s, enum kr_command command, const struct start *asked);
/* One of KR_HALTS. Unlike the command it also holds or suspends what is about to run, so that it is never lost
 * between a command that starts or resumes and the motion that follows. */
struct kr_result unit_halt(struct kr_station *s, uint16_t halt);
void unit_step(struct kr_station *s);
void unit_react(struct kr_station *s); /* answers the strongest alarm raised since the last time */
enum kr_motion_mode unit_mode(const struct kr_station *s);

/* For the first moments of those states that acknowledge: drives want a rising edge, and one that they can see. */
bool unit_resets_faults(const struct unit *unit, int64_t now_ms);

#endif
