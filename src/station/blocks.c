/* Writes the blocks that a PLC writes in every scan into a cycle's input. ORDER, COMMAND and EDIT are handed over as
 * copies instead; intake.c, command.c and edit.c decode those. */
#include "kniferail/map.h"
#include "kniferail/station.h"

void kr_station_in_line(struct kr_station_in *in, const uint16_t *word, struct kr_format format)
{
    in->plc_heartbeat = kr_block_u16(word, KR_BLOCK_LINE, KR_REG_PLC_HEARTBEAT, 0);
    in->permissives = kr_block_u16(word, KR_BLOCK_LINE, KR_REG_PERMISSIVES, 0);
    in->line_metres = kr_block_u32(word, KR_BLOCK_LINE, KR_REG_LINE_METRES, 0, format);
    in->line_speed = kr_block_u16(word, KR_BLOCK_LINE, KR_REG_LINE_SPEED, 0);
    in->crash = kr_block_u16(word, KR_BLOCK_LINE, KR_REG_CRASH, 0);
    in->access_count = kr_block_u16(word, KR_BLOCK_LINE, KR_REG_ACCESS_COUNT, 0);
    in->frame_temperature_ck = kr_block_u16(word, KR_BLOCK_LINE, KR_REG_FRAME_TEMPERATURE, 0);
    in->crash_cut = kr_block_u16(word, KR_BLOCK_LINE, KR_REG_CRASH_CUT, 0);
}

void kr_station_in_jog(struct kr_station_in *in, const uint16_t *word)
{
    in->jog_refresh = kr_block_u16(word, KR_BLOCK_JOG, KR_REG_JOG_REFRESH, 0);
    in->jog_direction = (int16_t)kr_block_u16(word, KR_BLOCK_JOG, KR_REG_JOG_DIRECTION, 0);
}
