#include "set_times.h"

#include <stdio.h>

#include "cli.h"
#include "kniferail/quantity.h"

static const struct of_time {
    char letter;
    enum kr_reg edit, shown;
    const char *name; /* of the setting in the station file */
} times[] = {{'d', KR_REG_EDIT_DOCK_TIME, KR_REG_DOCK_TIME, "dock_ms"},
             {'u', KR_REG_EDIT_UNDOCK_TIME, KR_REG_UNDOCK_TIME, "undock_ms"},
             {'g', KR_REG_EDIT_SETPOINT_TIME, KR_REG_SETPOINT_TIME, "setpoint_ms"},
             {'j', KR_REG_EDIT_ROUNDING_TIME, KR_REG_ROUNDING_TIME, "rounding_ms"}};
#define N_TIMES (sizeof times / sizeof times[0])

static const struct of_time *time_of(char letter)
{
    size_t i = 0;
    while (i + 1 < N_TIMES && times[i].letter != letter)
        i++;
    return &times[i];
}

/* A report has tenths of a millisecond, and the station takes microseconds. The limits are the station's. */
bool set_times_put(struct edit_block *block, char letter, const char *text)
{
    const struct of_time *of = time_of(letter);
    const struct kr_scale *ms = kr_scale_of("_ms");
    int64_t us = 0;
    char why[160] = "";
    enum kr_quantity_answer answer = kr_quantity_read(text, true, ms, kr_scale_of("_us"), &us);
    kr_quantity_why(answer, text, KR_DIM_TIME, why, sizeof why);
    if (answer != KR_QUANTITY_OK || us > INT32_MAX || us < INT32_MIN) {
        (void)kr_usage("set", "%s: '%s'%s", of->name, text, why[0] ? why : " is too large");
        return false;
    }
    block->of_times = true;
    edit_put_32(block, of->edit, 0, (uint32_t)us);
    return true;
}

bool set_times_read(struct kr_client *client, uint16_t rail_number, struct kr_rail_times *is)
{
    uint16_t rail = (uint16_t)(rail_number - 1);
    *is = (struct kr_rail_times){0};
    if (rail_number < 1 || rail_number > KR_RAILS_MAX)
        return true; /* the station will say that there is no such rail */
    if (!kr_client_block(client, KR_BLOCK_TIMES))
        return false;
    int32_t *to[N_TIMES] = {&is->dock_us, &is->undock_us, &is->setpoint_us, &is->rounding_us};
    for (size_t i = 0; i < N_TIMES; i++)
        *to[i] = kr_get_i32(&client->image, times[i].shown, 0, rail);
    return true;
}

bool set_times_changed(struct kr_client *client, uint16_t rail_number, const struct kr_rail_times *was)
{
    struct kr_rail_times is;
    if (!set_times_read(client, rail_number, &is))
        return false;
    const int32_t from_us[N_TIMES] = {was->dock_us, was->undock_us, was->setpoint_us, was->rounding_us};
    const int32_t to_us[N_TIMES] = {is.dock_us, is.undock_us, is.setpoint_us, is.rounding_us};
    printf("rail %u                    was         becomes\n", rail_number);
    for (size_t i = 0; i < N_TIMES; i++)
        printf("%-12s %13.3f ms %13.3f ms\n", times[i].name, from_us[i] / 1000.0, to_us[i] / 1000.0);
    return true;
}
