#include "planned_times.h"

bool times_own_kind(uint16_t kind)
{
    return kind == KR_EDIT_TIMES || kind == KR_EDIT_TIMES_BACK;
}

void times_decode(const struct kr_snapshot *block, struct kr_format format, struct kr_rail_times *asked)
{
    *asked = (struct kr_rail_times){
        .dock_us = kr_snapshot_i32(block, KR_BLOCK_EDIT, KR_REG_EDIT_DOCK_TIME, 0, format),
        .undock_us = kr_snapshot_i32(block, KR_BLOCK_EDIT, KR_REG_EDIT_UNDOCK_TIME, 0, format),
        .setpoint_us = kr_snapshot_i32(block, KR_BLOCK_EDIT, KR_REG_EDIT_SETPOINT_TIME, 0, format),
        .rounding_us = kr_snapshot_i32(block, KR_BLOCK_EDIT, KR_REG_EDIT_ROUNDING_TIME, 0, format)};
}

/* A fast scan works out from this time when it must ask for the slow speed again, which takes a cycle. Nothing goes
 * fast while the drive's image is older than this time (scan_pace.c), and over a wire its age may be more than a cycle.
 * So two cycles are needed. */
static int32_t least_setpoint_us(const struct kr_station_config *config, uint16_t r)
{
    return config->carriage[r].scan_fast_um_per_s > 0 ? 2 * config->period_us : 0;
}

struct kr_result times_judge(const struct kr_edit *edit, const struct kr_rail_times *asked,
                             const struct kr_station_config *config, const struct kr_durable *durable)
{
    uint16_t r = (uint16_t)(edit->rail - 1);
    bool back = edit->kind == KR_EDIT_TIMES_BACK;
    if (back && durable->times_origin[r] != KR_FRAME_FROM_PERSON)
        return (struct kr_result){.code = KR_NO_TIMES_BEFORE, .rail = edit->rail};
    const struct kr_rail_times *is = back ? &durable->times_before[r] : asked;
    const struct {
        enum kr_code code;
        int32_t us, least_us, most_us;
    } of[] = {{KR_DOCK_TIME, is->dock_us, KR_DOCK_MIN_US, KR_DOCK_MAX_US},
              {KR_UNDOCK_TIME, is->undock_us, KR_DOCK_MIN_US, KR_DOCK_MAX_US},
              {KR_SETPOINT_TIME, is->setpoint_us, least_setpoint_us(config, r), KR_TRAVEL_MAX_US},
              {KR_ROUNDING_TIME, is->rounding_us, 0, KR_TRAVEL_MAX_US}};
    for (size_t i = 0; i < sizeof of / sizeof of[0]; i++)
        if (of[i].us < of[i].least_us || of[i].us > of[i].most_us)
            return (struct kr_result){of[i].code, edit->rail, 0, of[i].us,
                                      of[i].us < of[i].least_us ? of[i].least_us : of[i].most_us};
    return (struct kr_result){.code = KR_OK};
}

void times_take(struct planned_times *times, const struct kr_edit *edit, struct kr_durable *durable)
{
    uint16_t r = (uint16_t)(edit->rail - 1);
    times->was = durable_times(durable, r);
    struct times_kept is = {.origin = KR_FRAME_FROM_PERSON,
                            .is = edit->kind == KR_EDIT_TIMES ? times->asked : times->was.before,
                            .before = times->was.is};
    durable_set_times(durable, r, &is);
}

void times_withdraw(const struct planned_times *times, const struct kr_edit *edit, struct kr_durable *durable)
{
    durable_set_times(durable, (uint16_t)(edit->rail - 1), &times->was);
}

/* Another station file may have brought fast scans, or a longer cycle, since the times were set. The registers show
 * what was set. */
void times_tell(struct kr_station_config *config, const struct kr_durable *durable)
{
    for (uint16_t r = 0; r < config->geometry.n_rails; r++) {
        struct kr_rail_geometry *rail = &config->geometry.rail[r];
        const struct kr_rail_times *is = &durable->times[r];
        int32_t least_us = least_setpoint_us(config, r);
        rail->dock_us = is->dock_us;
        rail->undock_us = is->undock_us;
        rail->setpoint_us = is->setpoint_us < least_us ? least_us : is->setpoint_us;
        rail->rounding_us = is->rounding_us;
    }
}
