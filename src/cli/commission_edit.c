#include "commission_edit.h"

#include <stdio.h>
#include <string.h>

void commission_edit_begin(const struct commission *c, struct edit_block *block, enum kr_edit_kind kind,
                           uint16_t rail_number, uint16_t holder_number)
{
    memset(block, 0, sizeof *block);
    block->format = c->client.image.format;
    *edit_at(block, KR_REG_EDIT_KIND, 0) = (uint16_t)kind;
    *edit_at(block, KR_REG_EDIT_RAIL, 0) = rail_number;
    *edit_at(block, KR_REG_EDIT_HOLDER, 0) = holder_number;
}

bool commission_edit(struct commission *c, struct edit_block *block, enum kr_code *code, char *why, size_t size)
{
    if (!edit_ask(&c->client, block)) {
        fprintf(stderr, "kniferail commission: %s\n", c->client.error);
        c->failed = true;
        return false;
    }
    struct kr_result result = edit_result(&c->client.image);
    *code = result.code;
    c->edited = c->edited || result.code == KR_OK;
    why[0] = '\0';
    if (result.code != KR_OK)
        kr_result_text(&result, c->client.image.format.length_unit, why, size);
    return true;
}
