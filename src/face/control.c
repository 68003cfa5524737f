#include "control.h"

#include <string.h>

#include "wire.h"

/* Compares groups by their numbers. After a reload of the groups, control is freed if its group is another one then. */
bool face_control_is_of(const struct face_control *control, const struct face_client *client)
{
    if (control->state == KR_CONTROL_FREE)
        return false;
    if (control->group != FACE_NO_GROUP)
        return client->group == control->group;
    return client->group == FACE_NO_GROUP && memcmp(client->address, control->address, 16) == 0;
}

uint8_t face_control_may_halt(enum kr_right right)
{
    return face_right_controls(right) ? 0 : MODBUS_EXCEPTION_ILLEGAL_FUNCTION;
}

uint8_t face_control_may_command(const struct face_control *control, const struct face_client *client,
                                 enum kr_right right, bool by_first_write)
{
    if (!face_right_controls(right))
        return MODBUS_EXCEPTION_ILLEGAL_FUNCTION;
    if (control->state == KR_CONTROL_FREE)
        return by_first_write ? 0 : MODBUS_EXCEPTION_ILLEGAL_FUNCTION;
    if (!face_control_is_of(control, client))
        return MODBUS_EXCEPTION_ILLEGAL_FUNCTION;
    return control->state == KR_CONTROL_PASSING ? MODBUS_EXCEPTION_SLAVE_OR_SERVER_BUSY : 0;
}

uint8_t face_control_may_request(const struct face_control *control, const struct face_client *client,
                                 enum kr_right right, uint16_t request)
{
    if (!face_right_controls(right))
        return MODBUS_EXCEPTION_ILLEGAL_FUNCTION;
    bool others = control->state != KR_CONTROL_FREE && !face_control_is_of(control, client);
    switch (request) {
    case KR_ACCESS_REQUEST_TAKE:
        if (others && control->state == KR_CONTROL_PASSING)
            return MODBUS_EXCEPTION_SLAVE_OR_SERVER_BUSY;
        return others ? MODBUS_EXCEPTION_ILLEGAL_FUNCTION : 0;
    case KR_ACCESS_REQUEST_RELEASE: return others ? MODBUS_EXCEPTION_ILLEGAL_FUNCTION : 0;
    case KR_ACCESS_REQUEST_TAKE_OVER: return right == KR_RIGHT_MAINTAIN ? 0 : MODBUS_EXCEPTION_ILLEGAL_FUNCTION;
    default: return 0;
    }
}

static void write_holder_text(struct face_control *control, const char *text)
{
    uint8_t bytes[2 * FACE_HOLDER_WORDS] = {0};
    size_t n = strlen(text);
    memcpy(bytes, text, n < sizeof bytes ? n : sizeof bytes);
    for (size_t i = 0; i < FACE_HOLDER_WORDS; i++)
        control->holder_text[i] = get16(bytes + 2 * i);
}

void face_control_give(struct face_control *control, const struct face_client *client, enum kr_control state,
                       const struct kr_face_group *groups)
{
    control->state = state;
    control->group = client->group;
    memcpy(control->address, client->address, sizeof control->address);
    write_holder_text(control, client->group == FACE_NO_GROUP ? client->text : groups[client->group].name);
    control->generation++;
}

void face_control_pass(struct face_control *control)
{
    control->state = KR_CONTROL_HELD;
    control->generation++;
}

void face_control_free(struct face_control *control)
{
    control->state = KR_CONTROL_FREE;
    control->group = FACE_NO_GROUP;
    memset(control->address, 0, sizeof control->address);
    write_holder_text(control, "");
    control->generation++;
}
