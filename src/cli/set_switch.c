#include "set_switch.h"

#include <stdio.h>

#include "lengths.h"

static enum kr_reg register_of(char letter)
{
    return letter == 'I' ? KR_REG_EDIT_SWITCH_OFFSET : KR_REG_EDIT_SCAN_BIAS;
}

bool set_switch_put(struct edit_block *block, char letter, const char *text)
{
    int64_t nm;
    if (!length_read("set", letter == 'I' ? "switch offset" : "scan bias", text, block->format.length_unit, &nm))
        return false;
    block->of_switch = true;
    edit_put_length(block, register_of(letter), 0, nm);
    return true;
}

void set_switch_fill(struct edit_block *block, const struct kr_switch *is)
{
    block->of_switch = true;
    edit_put_length(block, KR_REG_EDIT_SWITCH_OFFSET, 0, 1000LL * is->offset_um);
    edit_put_length(block, KR_REG_EDIT_SCAN_BIAS, 0, 1000LL * is->bias_um);
}

bool set_switch_read(struct kr_client *client, uint16_t rail_number, struct kr_switch *is)
{
    uint16_t rail = (uint16_t)(rail_number - 1);
    *is = (struct kr_switch){0};
    if (rail_number < 1 || rail_number > KR_RAILS_MAX)
        return true; /* the station will say that there is no such rail */
    if (!kr_client_row(client, KR_REG_SWITCH_OFFSET, rail, 1) || !kr_client_row(client, KR_REG_SCAN_BIAS, rail, 1))
        return false;
    is->offset_um = kr_get_um(&client->image, KR_REG_SWITCH_OFFSET, rail, 0);
    is->bias_um = kr_get_um(&client->image, KR_REG_SCAN_BIAS, rail, 0);
    return true;
}

bool set_switch_changed(struct kr_client *client, uint16_t rail_number, const struct kr_switch *was)
{
    enum kr_length_unit unit = client->image.format.length_unit;
    struct kr_switch is;
    char from[24], to[24];
    if (!set_switch_read(client, rail_number, &is))
        return false;
    kr_length_text(was->offset_um, unit, from, sizeof from);
    kr_length_text(is.offset_um, unit, to, sizeof to);
    printf("rail %u                    was         becomes\n", rail_number);
    printf("switch offset  %14s  %14s\n", from, to);
    kr_length_text(was->bias_um, unit, from, sizeof from);
    kr_length_text(is.bias_um, unit, to, sizeof to);
    printf("scan bias      %14s  %14s%s\n", from, to, is.bias_um == 0 ? "  (scans go both ways)" : "");
    return true;
}
