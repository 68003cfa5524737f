#include <assert.h>
#include <string.h>

#include "kniferail/map.h"

/* A row of the table is found by its own number, so an index beyond its end is our own bug and not bad input. */
static uint16_t *element(struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index)
{
    const struct kr_reg_info *info = kr_reg_info(reg);
    assert(info != NULL && info->area == KR_AREA_INPUT && index < info->n);
    assert(rail < (info->per_rail ? KR_RAILS_MAX : 1));
    return &image->word[kr_reg_address(reg, rail, index)];
}

void kr_image_clear(struct kr_image *image, struct kr_format format)
{
    memset(image, 0, sizeof *image);
    image->format = format;
}

void kr_image_set_u16(struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index, uint16_t value)
{
    *element(image, reg, rail, index) = value;
}

void kr_image_set_32(struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index, uint32_t value)
{
    uint16_t *word = element(image, reg, rail, index);
    bool low_first = image->format.low_word_first;
    word[low_first ? 0 : 1] = (uint16_t)(value & 0xFFFFu);
    word[low_first ? 1 : 0] = (uint16_t)(value >> 16);
}

void kr_image_set_um(struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index, int32_t um)
{
    kr_image_set_32(image, reg, rail, index, (uint32_t)kr_count_from_um(um, image->format.length_unit));
}

void kr_image_set_text(struct kr_image *image, enum kr_reg reg, const char *text)
{
    uint16_t n = kr_reg_info(reg)->n;
    size_t length = strlen(text);
    for (uint16_t i = 0; i < n && 2 * (size_t)i < length; i++) {
        size_t at = 2 * (size_t)i;
        unsigned high = (unsigned char)text[at], low = at + 1 < length ? (unsigned char)text[at + 1] : 0;
        *element(image, reg, 0, i) = (uint16_t)(high << 8 | low);
    }
}

uint16_t kr_get_u16(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index)
{
    return image->word[kr_reg_address(reg, rail, index)];
}

int32_t kr_get_i32(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index)
{
    const uint16_t *word = &image->word[kr_reg_address(reg, rail, index)];
    uint32_t high = word[image->format.low_word_first ? 1 : 0], low = word[image->format.low_word_first ? 0 : 1];
    return (int32_t)(high << 16 | low);
}

int32_t kr_get_um(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index)
{
    return kr_um_from_nm(kr_nm_from_count(kr_get_i32(image, reg, rail, index), image->format.length_unit));
}

/* Characters that are not printable are replaced, so that they don't reach a terminal. */
void kr_get_text(const struct kr_image *image, enum kr_reg reg, char *text, size_t size)
{
    const struct kr_reg_info *info = kr_reg_info(reg);
    size_t n = 0;
    for (unsigned i = 0; i < 2u * info->n && n + 1 < size; i++) {
        uint16_t word = image->word[info->address + i / 2];
        unsigned char c = (unsigned char)(i % 2 ? word & 0xff : word >> 8);
        if (c == '\0')
            break;
        text[n++] = (char)(c >= ' ' && c <= '~' ? c : '?');
    }
    text[n] = '\0';
}

void kr_get_size_name(const struct kr_image *image, uint16_t number, char text[KR_SIZE_NAME_MAX])
{
    bool listed = number >= 1 && number <= KR_SIZES_MAX && number <= kr_get_u16(image, KR_REG_SIZE_COUNT, 0, 0);
    if (listed)
        kr_get_text(image, (enum kr_reg)(KR_REG_SIZE_NAME_1 + number - 1), text, KR_SIZE_NAME_MAX);
    else
        memcpy(text, "?", 2);
}

static uint16_t within(uint16_t n, enum kr_reg row)
{
    uint16_t most = kr_reg_info(row)->n;
    return n < most ? n : most;
}

uint16_t kr_get_rails(const struct kr_image *image)
{
    uint16_t n = kr_get_u16(image, KR_REG_RAIL_COUNT, 0, 0);
    return n < KR_RAILS_MAX ? n : KR_RAILS_MAX;
}

uint16_t kr_get_holders(const struct kr_image *image, uint16_t rail)
{
    return within(kr_get_u16(image, KR_REG_RAIL_HOLDERS, rail, 0), KR_REG_HOLDER_POSITION);
}

const struct kr_cut_registers kr_cuts_in_force = {.order = KR_REG_ORDER_IN_FORCE,
                                                  .count = KR_REG_CUT_COUNT,
                                                  .trim = {KR_REG_TRIM_OPERATOR, KR_REG_TRIM_DRIVE},
                                                  .web = {KR_REG_WEB_OPERATOR, KR_REG_WEB_DRIVE},
                                                  .line = KR_REG_CUT_LINE};
const struct kr_cut_registers kr_cuts_staged = {.order = KR_REG_ORDER_STAGED,
                                                .count = KR_REG_STAGED_CUT_COUNT,
                                                .trim = {KR_REG_STAGED_TRIM_OPERATOR, KR_REG_STAGED_TRIM_DRIVE},
                                                .web = {KR_REG_STAGED_WEB_OPERATOR, KR_REG_STAGED_WEB_DRIVE},
                                                .line = KR_REG_STAGED_CUT_LINE};

uint16_t kr_get_cut_lines(const struct kr_image *image, const struct kr_cut_registers *of)
{
    return within(kr_get_u16(image, of->count, 0, 0), of->line);
}

static const uint16_t *written(const uint16_t *word, enum kr_block_id block, enum kr_reg reg, uint16_t index)
{
    const struct kr_block_info *b = kr_block_info(block);
    unsigned offset = (unsigned)kr_reg_address(reg, 0, index) - b->first;
    assert(index < kr_reg_info(reg)->n && offset + kr_reg_words(kr_reg_info(reg)->type) <= b->words);
    return &word[offset];
}

uint16_t kr_block_u16(const uint16_t *word, enum kr_block_id block, enum kr_reg reg, uint16_t index)
{
    return *written(word, block, reg, index);
}

uint32_t kr_block_u32(const uint16_t *word, enum kr_block_id block, enum kr_reg reg, uint16_t index,
                      struct kr_format format)
{
    const uint16_t *at = written(word, block, reg, index);
    uint32_t high = at[format.low_word_first ? 1 : 0], low = at[format.low_word_first ? 0 : 1];
    return high << 16 | low;
}

uint16_t kr_snapshot_u16(const struct kr_snapshot *snapshot, enum kr_block_id block, enum kr_reg reg, uint16_t index)
{
    return kr_block_u16(snapshot->word, block, reg, index);
}

int32_t kr_snapshot_i32(const struct kr_snapshot *snapshot, enum kr_block_id block, enum kr_reg reg, uint16_t index,
                        struct kr_format format)
{
    return (int32_t)kr_block_u32(snapshot->word, block, reg, index, format);
}

int64_t kr_snapshot_nm(const struct kr_snapshot *snapshot, enum kr_block_id block, enum kr_reg reg, uint16_t index,
                       struct kr_format format)
{
    return kr_nm_from_count(kr_snapshot_i32(snapshot, block, reg, index, format), format.length_unit);
}
