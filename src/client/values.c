/* The alarms and results of an image that was read. */
#include <stdio.h>
#include <string.h>

#include "kniferail/client.h"

static uint16_t within(uint16_t n, enum kr_reg row)
{
    uint16_t most = kr_reg_info(row)->n;
    return n < most ? n : most;
}

/* Returns the value as it is in the registers: lengths are in the station's unit. */
static int32_t value_of(const struct kr_image *image, enum kr_reg reg, uint16_t index, enum kr_value_kind kind)
{
    return kind == KR_VALUE_LENGTH ? kr_get_um(image, reg, 0, index) : kr_get_i32(image, reg, 0, index);
}

struct kr_alarm kr_get_alarm(const struct kr_image *image, uint16_t index)
{
    struct kr_alarm alarm = {.code = kr_get_u16(image, KR_REG_ALARM_CODES, 0, index),
                             .rail = kr_get_u16(image, KR_REG_ALARM_RAILS, 0, index),
                             .item = kr_get_u16(image, KR_REG_ALARM_ITEMS, 0, index)};
    const struct kr_alarm_info *info = kr_alarm_info(alarm.code);
    enum kr_value_kind kind = info ? info->value : KR_VALUE_NONE;
    alarm.value = value_of(image, KR_REG_ALARM_VALUES, index, kind);
    alarm.limit = value_of(image, KR_REG_ALARM_LIMITS, index, kind);
    return alarm;
}

uint16_t kr_get_alarms(const struct kr_image *image)
{
    return within(kr_get_u16(image, KR_REG_ALARM_COUNT, 0, 0), KR_REG_ALARM_CODES);
}

struct kr_result kr_get_result(const struct kr_image *image, enum kr_client_result which)
{
    static const struct {
        enum kr_reg code, rail, item, value, limit;
    } rows[] = {
        [KR_CLIENT_VERDICT] = {KR_REG_VERDICT_CODE, KR_REG_VERDICT_RAIL, KR_REG_VERDICT_ITEM, KR_REG_VERDICT_VALUE,
                               KR_REG_VERDICT_LIMIT},
        [KR_CLIENT_COMMAND] = {KR_REG_COMMAND_RESULT, KR_REG_COMMAND_RESULT_RAIL, KR_REG_COMMAND_RESULT_ITEM,
                               KR_REG_COMMAND_RESULT_VALUE, KR_REG_COMMAND_RESULT_LIMIT},
        [KR_CLIENT_REFUSAL] = {KR_REG_REFUSAL_CODE, KR_REG_REFUSAL_RAIL, KR_REG_REFUSAL_ITEM, KR_REG_REFUSAL_VALUE,
                               KR_REG_REFUSAL_LIMIT},
    };
    int code = kr_get_u16(image, rows[which].code, 0, 0);
    const struct kr_code_info *info = kr_code_info(code);
    enum kr_value_kind kind = info ? info->value : KR_VALUE_NONE;
    return (struct kr_result){(enum kr_code)code, kr_get_u16(image, rows[which].rail, 0, 0),
                              kr_get_u16(image, rows[which].item, 0, 0), value_of(image, rows[which].value, 0, kind),
                              value_of(image, rows[which].limit, 0, kind)};
}

void kr_get_result_text(const struct kr_image *image, enum kr_client_result which, char *text, size_t size)
{
    struct kr_result result = kr_get_result(image, which);
    kr_result_text(&result, image->format.length_unit, text, size);
    size_t n = strlen(text);
    const struct kr_named_number *state = kr_named("UNIT_STATE", (int)result.value);
    if (result.code == KR_NOT_IN_THIS_STATE && state != NULL)
        snprintf(text + n, size - n, " (%s)", state->name);
}
