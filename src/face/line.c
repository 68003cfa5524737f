#include "line.h"

#include <string.h>

void face_line_written(struct face_line *line, const uint16_t holding[], uint16_t first, uint16_t n)
{
    uint16_t beat_at = kr_reg_address(KR_REG_PLC_HEARTBEAT, 0, 0);
    uint16_t permissives_at = kr_reg_address(KR_REG_PERMISSIVES, 0, 0);
    if (permissives_at < first || permissives_at >= first + n)
        return;
    uint16_t count_at = kr_reg_address(KR_REG_ACCESS_COUNT, 0, 0);
    uint16_t word = holding[permissives_at];
    bool gives = beat_at >= first && beat_at < first + n && holding[beat_at] != line->heartbeat;
    line->taken |= line->given & (uint16_t)~word;
    line->given = gives ? word : line->given & word;
    if (!gives)
        return;
    line->heartbeat = holding[beat_at];
    line->access_count = count_at >= first && count_at < first + n ? holding[count_at] : 0;
}

void face_line_take(struct face_line *line, const uint16_t holding[], uint16_t word[KR_FACE_LINE_WORDS])
{
    uint16_t first = kr_block_info(KR_BLOCK_LINE)->first;
    memcpy(word, holding + first, KR_FACE_LINE_WORDS * sizeof word[0]);
    word[kr_reg_address(KR_REG_PLC_HEARTBEAT, 0, 0) - first] = line->heartbeat;
    word[kr_reg_address(KR_REG_PERMISSIVES, 0, 0) - first] = line->given & (uint16_t)~line->taken;
    word[kr_reg_address(KR_REG_ACCESS_COUNT, 0, 0) - first] = line->access_count;
    line->taken = 0;
}
