/* Whole changeovers of a small station: two rails (the second one lower) of five class 2 holders on half a metre, quick
 * pins, an ideal machine (no slip, no play, no scatter) unless a test says otherwise, and one order. */
#ifndef KR_TESTS_STATION_RIG_H
#define KR_TESTS_STATION_RIG_H

#include "rig.h"

#define MM 1000

void small_station(struct rig *rig); /* not started yet: config and machine may still be changed */
void begin(struct rig *rig);         /* started and brought to Idle */
void begin_small(struct rig *rig);   /* both */

/* Three slits of 90, 110 and 100 mm, both edges trimmed: four cuts. */
void fill_order(struct rig *rig, uint32_t number);
void stage(struct rig *rig, uint32_t number); /* fails the test unless it is accepted */
enum kr_code verdict(const struct rig *rig);
enum kr_code answer(const struct rig *rig); /* to the last command */
uint16_t answer_rail(const struct rig *rig);

void start(struct rig *rig, enum kr_job job); /* fails the test unless it comes to Execute */
void start_changeover(struct rig *rig);       /* stages and starts order 1 */
void until_complete(struct rig *rig);         /* fails the test if it doesn't get there */
void ends_verified(struct rig *rig); /* and truly so, nothing having collided or been claimed wrongly */
void resume(struct rig *rig, enum kr_command command); /* fails the test unless it comes to Execute */
void set_up(struct rig *rig);                          /* order 1, until it is Complete and verified */
void until_carriage(struct rig *rig, uint16_t rail, enum kr_carriage_phase phase); /* rail from 0 */
void until_phase(struct rig *rig, enum kr_phase phase);
void until_state(struct rig *rig, enum kr_unit_state state);
enum kr_carriage_phase carriage_phase(const struct rig *rig, uint16_t rail);
enum kr_unit_state state_of(const struct rig *rig);

/* How long the alarm takes to come, from now; fails the test if it is not the first one, or doesn't come at all. */
int64_t ms_until_alarm(struct rig *rig, enum kr_alarm_code code);
struct kr_alarm first_alarm(const struct rig *rig);

/* Nothing moves, drives off, for so long; and the state stays. */
void stays_still_ms(struct rig *rig, int64_t ms);
bool anything_moves(const struct rig *rig);

enum kr_known known(const struct rig *rig, uint16_t rail, uint16_t holder); /* from 0 */
bool status_has(const struct rig *rig, uint16_t bits);
uint16_t line_status_of(const struct rig *rig);

/* Guards open, the holder (from 0) is pushed, guards close again. */
void push_by_hand(struct rig *rig, uint16_t rail, uint16_t holder, int32_t by_um);

#endif
