#include "kniferail/client.h"

static bool read_rails(struct kr_client *client)
{
    static const enum kr_reg rows[] = {
        KR_REG_HOLDER_POSITION, KR_REG_HOLDER_TARGET, KR_REG_HOLDER_DEVIATION, KR_REG_HOLDER_CUT,  KR_REG_HOLDER_KNOWN,
        KR_REG_HOLDER_STATE,    KR_REG_HOLDER_OFFSET, KR_REG_HOLDER_METRES,    KR_REG_HOLDER_SIZE, KR_REG_HOLDER_EDGE};
    for (uint16_t r = 0; r < kr_get_rails(&client->image); r++) {
        if (!kr_client_row(client, KR_REG_RAIL_ROLE, r, 27)) /* everything before the arrays */
            return false;
        if (!kr_client_row(client, KR_REG_EDGES_UNPROVEN, r, kr_reg_info(KR_REG_EDGES_UNPROVEN)->n))
            return false;
        if (!kr_client_row(client, KR_REG_REFERENCES, r, 40) ||   /* the whole block */
            !kr_client_row(client, KR_REG_FRAME_ORIGIN, r, 12) || /* the whole block */
            !kr_client_row(client, KR_REG_SWITCH_ORIGIN, r, 40))  /* the whole block */
            return false;
        uint16_t n = kr_get_holders(&client->image, r);
        for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
            if (!kr_client_row(client, rows[i], r, n))
                return false;
    }
    return true;
}

static bool read_cuts(struct kr_client *client, const struct kr_cut_registers *of)
{
    return kr_client_row(client, of->count, 0, 10) && /* including the trims and the web */
           kr_client_row(client, of->line, 0, kr_get_cut_lines(&client->image, of));
}

static bool read_measured_slits(struct kr_client *client)
{
    uint16_t n = kr_get_cut_lines(&client->image, &kr_cuts_in_force);
    uint16_t slits = n < KR_SLITS_MAX ? (uint16_t)(n + 1) : KR_SLITS_MAX; /* the most, with untrimmed edges */
    return kr_client_row(client, KR_REG_SLIT_MEASURED, 0, slits);
}

bool kr_client_station(struct kr_client *client)
{
    static const enum kr_block_id blocks[] = {
        KR_BLOCK_RUN,        KR_BLOCK_ABOUT,       KR_BLOCK_ALARMS, KR_BLOCK_ALARM_LIMITS, KR_BLOCK_REFUSAL,
        KR_BLOCK_WAITING,    KR_BLOCK_RECORD,      KR_BLOCK_DRIVES, KR_BLOCK_SIZES,        KR_BLOCK_FRAME,
        KR_BLOCK_ALARM_AGES, KR_BLOCK_STATE_TIMES, KR_BLOCK_TIMES};
    for (size_t i = 0; i < sizeof blocks / sizeof blocks[0]; i++)
        if (!kr_client_block(client, blocks[i]))
            return false;
    return read_cuts(client, &kr_cuts_in_force) && read_measured_slits(client) && read_cuts(client, &kr_cuts_staged) &&
           read_rails(client);
}
