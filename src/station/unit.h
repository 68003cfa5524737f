#ifndef KR_STATION_UNIT_H
#define KR_STATION_UNIT_H

#include "state.h"

/* The unit: the PackML state model (ISA-TR88.00.02 by way of OPC 30050). All motion happens in Execute. The other
 * acting states only wind down, check and acknowledge. */
void unit_enter(struct kr_station *s, enum kr_unit_state state);
struct kr_result unit_command(struct kr_station *s, enum kr_command command, const struct start *asked);
/* Handles one of KR_HALTS. Unlike the command it also holds or suspends a motion that is about to begin, so that it is
 * not lost between a command that starts or resumes and the motion that follows. */
struct kr_result unit_halt(struct kr_station *s, uint16_t halt);
void unit_step(struct kr_station *s);
void unit_react(struct kr_station *s); /* answers the strongest alarm since the last call */
enum kr_motion_mode unit_mode(const struct kr_station *s);

/* True in the first moments of the states that acknowledge: drives need a rising edge that is long enough to be
 * seen. */
bool unit_resets_faults(const struct unit *unit, int64_t now_ms);

#endif
