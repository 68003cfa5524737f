#include "edit_request.h"

#include <errno.h>
#include <stdio.h>
#include <time.h>

#define VERDICT_TRIES 300 /* 10 s */
#define PAUSE_NS      33000000

uint16_t *edit_at(struct edit_block *block, enum kr_reg reg, uint16_t index)
{
    return &block->word[kr_reg_address(reg, 0, index) - kr_block_info(KR_BLOCK_EDIT)->first];
}

void edit_put_32(struct edit_block *block, enum kr_reg reg, uint16_t index, uint32_t value)
{
    uint16_t *word = edit_at(block, reg, index);
    word[block->format.low_word_first ? 0 : 1] = (uint16_t)(value & 0xFFFFu);
    word[block->format.low_word_first ? 1 : 0] = (uint16_t)(value >> 16);
}

void edit_put_length(struct edit_block *block, enum kr_reg reg, uint16_t index, int64_t nm)
{
    edit_put_32(block, reg, index, (uint32_t)kr_count_from_nm(nm, block->format.length_unit));
}

/* ---- the station ----------------------------------------------------------------------------------------------- */

static uint16_t next_number(const struct kr_image *image)
{
    uint16_t last = kr_get_u16(image, KR_REG_EDITED_NUMBER, 0, 0);
    return last == UINT16_MAX ? 1 : (uint16_t)(last + 1);
}

static bool write_knife(struct kr_client *client, struct edit_block *block)
{
    uint16_t first = kr_reg_address(KR_REG_EDIT_KNIFE, 0, 0);
    uint16_t end = (uint16_t)(kr_reg_address(KR_REG_EDIT_KNIFE_FRAGMENTS, 0, 0) + 1);
    return !block->of_knife ||
           kr_client_write(client, first, edit_at(block, KR_REG_EDIT_KNIFE, 0), (uint16_t)(end - first));
}

static bool write_frame(struct kr_client *client, struct edit_block *block)
{
    uint16_t first = kr_reg_address(KR_REG_EDIT_FRAME_OFFSET, 0, 0);
    uint16_t end = (uint16_t)(kr_reg_address(KR_REG_EDIT_FRAME_POINTS, 0, 0) + 1);
    return !block->of_frame ||
           kr_client_write(client, first, edit_at(block, KR_REG_EDIT_FRAME_OFFSET, 0), (uint16_t)(end - first));
}

static bool write_switch(struct kr_client *client, struct edit_block *block)
{
    uint16_t first = kr_reg_address(KR_REG_EDIT_SWITCH_OFFSET, 0, 0);
    uint16_t end = (uint16_t)(kr_reg_address(KR_REG_EDIT_SCAN_BIAS, 0, 0) + 2);
    return !block->of_switch ||
           kr_client_write(client, first, edit_at(block, KR_REG_EDIT_SWITCH_OFFSET, 0), (uint16_t)(end - first));
}

static bool write_times(struct kr_client *client, struct edit_block *block)
{
    uint16_t first = kr_reg_address(KR_REG_EDIT_DOCK_TIME, 0, 0);
    uint16_t end = (uint16_t)(kr_reg_address(KR_REG_EDIT_ROUNDING_TIME, 0, 0) + 2);
    return !block->of_times ||
           kr_client_write(client, first, edit_at(block, KR_REG_EDIT_DOCK_TIME, 0), (uint16_t)(end - first));
}

/* Writes the widths, the knife, the frame, the switch and the times first, because the request number hands everything
 * over. */
static bool write_block(struct kr_client *client, struct edit_block *block)
{
    const struct kr_block_info *info = kr_block_info(KR_BLOCK_EDIT);
    uint16_t first = kr_reg_address(KR_REG_EDIT_WIDTH, 0, 0), head = (uint16_t)(first - info->first);
    uint16_t n = (uint16_t)(2 * block->n_widths + 4 * block->n_points);
    return (n == 0 || kr_client_write(client, first, &block->word[head], n)) && write_knife(client, block) &&
           write_frame(client, block) && write_switch(client, block) && write_times(client, block) &&
           kr_client_write(client, info->first, block->word, head);
}

static bool explain_write(struct kr_client *client)
{
    if (errno == EMBXILFUN)
        snprintf(client->error, sizeof client->error, "this address has no maintain right at the gateway");
    if (errno == EMBXSBUSY)
        snprintf(client->error, sizeof client->error, "another maintenance request is being judged; try again");
    return false;
}

/* The echo of the block shows whether the verdict is about this request, or about another client's under the same
 * number. */
static bool is_mine(const struct kr_image *image, struct edit_block *block)
{
    return kr_get_u16(image, KR_REG_EDITED_SESSION, 0, 0) == *edit_at(block, KR_REG_EDIT_SESSION, 0) &&
           kr_get_u16(image, KR_REG_EDITED_NUMBER, 0, 0) == block->number &&
           kr_get_u16(image, KR_REG_EDITED_KIND, 0, 0) == *edit_at(block, KR_REG_EDIT_KIND, 0) &&
           kr_get_u16(image, KR_REG_EDITED_RAIL, 0, 0) == *edit_at(block, KR_REG_EDIT_RAIL, 0) &&
           kr_get_u16(image, KR_REG_EDITED_HOLDER, 0, 0) == *edit_at(block, KR_REG_EDIT_HOLDER, 0);
}

static bool wait_for_verdict(struct kr_client *client, struct edit_block *block)
{
    const struct timespec pause = {.tv_nsec = PAUSE_NS};
    for (int i = 0; i < VERDICT_TRIES; i++) {
        if (!kr_client_block(client, KR_BLOCK_EDITED))
            return false;
        if (!kr_get_u16(&client->image, KR_REG_EDIT_BUSY, 0, 0) && is_mine(&client->image, block))
            return true;
        nanosleep(&pause, NULL);
    }
    snprintf(client->error, sizeof client->error, "the station gives no verdict; it may come later");
    return false;
}

bool edit_ask(struct kr_client *client, struct edit_block *block)
{
    if (!kr_client_block(client, KR_BLOCK_EDITED))
        return false;
    block->number = next_number(&client->image);
    *edit_at(block, KR_REG_EDIT_SESSION, 0) = kr_get_u16(&client->image, KR_REG_SESSION, 0, 0);
    *edit_at(block, KR_REG_EDIT_NUMBER, 0) = block->number;
    *edit_at(block, KR_REG_EDIT_PAIRS_LOOKED_AT, 0) = block->pairs_seen ? block->number : 0;
    return (write_block(client, block) || explain_write(client)) && wait_for_verdict(client, block);
}

/* ---- its verdict ----------------------------------------------------------------------------------------------- */

/* The registers have lengths in the station's unit, but the sentence needs micrometres. */
struct kr_result edit_result(const struct kr_image *image)
{
    struct kr_result result = {.code = (enum kr_code)kr_get_u16(image, KR_REG_EDITED_CODE, 0, 0),
                               .item = kr_get_u16(image, KR_REG_EDITED_ITEM, 0, 0)};
    const struct kr_code_info *info = kr_code_info((int)result.code);
    bool length = info != NULL && info->value == KR_VALUE_LENGTH;
    if (info != NULL && info->item == KR_ITEM_HOLDER)
        result.rail = kr_get_u16(image, KR_REG_EDITED_RAIL, 0, 0);
    result.value = length ? kr_get_um(image, KR_REG_EDITED_VALUE, 0, 0) : kr_get_i32(image, KR_REG_EDITED_VALUE, 0, 0);
    result.limit = length ? kr_get_um(image, KR_REG_EDITED_LIMIT, 0, 0) : kr_get_i32(image, KR_REG_EDITED_LIMIT, 0, 0);
    return result;
}
