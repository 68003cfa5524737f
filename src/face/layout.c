#include "layout.h"

#include <assert.h>
#include <string.h>

/* Adds a run, in the sequence of addresses, and joins it with adjacent runs. Blocks do not overlap. */
static void add_block(struct face_run *runs, uint16_t *n, const struct kr_block_info *block)
{
    uint16_t at = *n;
    assert(*n < FACE_RUNS_MAX);
    for (; at > 0 && runs[at - 1].first > block->first; at--)
        runs[at] = runs[at - 1];
    runs[at] = (struct face_run){block->first, block->words};
    ++*n;
}

static void join_runs(struct face_run *runs, uint16_t *n)
{
    uint16_t joined = 0;
    for (uint16_t i = 1; i < *n; i++) {
        uint32_t end = (uint32_t)runs[joined].first + runs[joined].words;
        assert(end <= runs[i].first);
        if (end == runs[i].first)
            runs[joined].words = (uint16_t)(runs[joined].words + runs[i].words);
        else
            runs[++joined] = runs[i];
    }
    *n = (uint16_t)(joined + 1);
}

static void add_blocks(struct face_layout *layout)
{
    memset(layout->block, FACE_NO_BLOCK, sizeof layout->block);
    for (int id = 0; id < KR_BLOCK_COUNT; id++) {
        const struct kr_block_info *block = kr_block_info((enum kr_block_id)id);
        if (block->area == KR_AREA_INPUT) {
            add_block(layout->input, &layout->n_input, block);
        } else {
            add_block(layout->holding, &layout->n_holding, block);
            memset(&layout->block[block->first], id, block->words);
        }
    }
    join_runs(layout->input, &layout->n_input);
    join_runs(layout->holding, &layout->n_holding);
}

static void add_rows(struct face_layout *layout)
{
    for (int reg = KR_REG_NONE + 1; reg < KR_REG_COUNT; reg++) {
        const struct kr_reg_info *info = kr_reg_info((enum kr_reg)reg);
        if (info->area != KR_AREA_HOLDING ||
            reg == KR_REG_HALT) /* a HALT has an effect, but its register keeps nothing */
            continue;
        unsigned words = (unsigned)info->n * kr_reg_words(info->type);
        for (unsigned i = 0; i < words; i++) {
            layout->kept[info->address + i] = 0xFFFF;
            if (kr_reg_words(info->type) == 2)
                layout->half[info->address + i] = i % 2 == 0 ? FACE_FIRST_HALF : FACE_SECOND_HALF;
        }
        const struct kr_block_info *block = kr_block_info((enum kr_block_id)layout->block[info->address]);
        if (info->unit == KR_REGUNIT_MASK && block->trigger == KR_REG_NONE)
            layout->watched[info->address] = (uint16_t)reg;
    }
}

static void add_bits(struct face_bits *rows, uint16_t *n, const struct kr_bits_info *info, uint16_t rail)
{
    assert(*n < FACE_BITS_MAX);
    unsigned offset = info->per_rail ? (unsigned)rail * KR_MAP_RAIL_BITS_STRIDE : 0;
    rows[(*n)++] = (struct face_bits){
        .first = (uint16_t)(info->address + offset),
        .bits = info->bits,
        .word = kr_reg_address(info->word, rail, 0),
    };
}

static void add_all_bits(struct face_layout *layout)
{
    const struct kr_bits_info *info;
    for (size_t i = 0; (info = kr_bits_info(i)) != NULL; i++) {
        uint16_t n_rails = info->per_rail ? KR_RAILS_MAX : 1;
        for (uint16_t rail = 0; rail < n_rails; rail++) {
            if (info->area == KR_AREA_COIL)
                add_bits(layout->coil, &layout->n_coils, info, rail);
            else
                add_bits(layout->discrete, &layout->n_discrete, info, rail);
        }
    }
}

/* OWN_ROLE, OWN_CONTROL, CONTROL_HELD and CONTROL_HOLDER stand side by side in the table. */
static void find_own(struct face_layout *layout)
{
    layout->own_role = kr_reg_address(KR_REG_OWN_ROLE, 0, 0);
    layout->own_control = kr_reg_address(KR_REG_OWN_CONTROL, 0, 0);
    layout->control_held = kr_reg_address(KR_REG_CONTROL_HELD, 0, 0);
    layout->control_holder = kr_reg_address(KR_REG_CONTROL_HOLDER, 0, 0);
    layout->control_holder_words = kr_reg_info(KR_REG_CONTROL_HOLDER)->n;
    layout->own_first = layout->own_role;
    layout->own_end = (uint16_t)(layout->control_holder + layout->control_holder_words);
    layout->odd_first = kr_block_info(KR_BLOCK_ODD)->first;
    layout->odd_end = (uint16_t)(layout->odd_first + kr_block_info(KR_BLOCK_ODD)->words);
    assert(layout->own_control > layout->own_first && layout->control_held > layout->own_first &&
           layout->control_holder > layout->control_held && layout->control_holder > layout->own_control);
}

void face_layout_build(struct face_layout *layout)
{
    memset(layout, 0, sizeof *layout);
    add_blocks(layout);
    add_rows(layout);
    add_all_bits(layout);
    find_own(layout);
}

static bool in_one_run(const struct face_run *runs, uint16_t n_runs, uint32_t first, uint32_t n)
{
    for (uint16_t i = 0; i < n_runs; i++)
        if (first >= runs[i].first && first + n <= (uint32_t)runs[i].first + runs[i].words)
            return true;
    return false;
}

bool face_layout_has_input(const struct face_layout *layout, uint32_t first, uint32_t n)
{
    return in_one_run(layout->input, layout->n_input, first, n);
}

bool face_layout_has_holding(const struct face_layout *layout, uint32_t first, uint32_t n)
{
    if (first >= KR_MAP_WINDOW)
        return face_layout_has_input(layout, first - KR_MAP_WINDOW, n);
    return in_one_run(layout->holding, layout->n_holding, first, n);
}

uint8_t face_layout_writable(const struct face_layout *layout, uint32_t first, uint32_t n)
{
    if (n == 0 || first + n > KR_MAP_HOLDING_WORDS || layout->block[first] != layout->block[first + n - 1])
        return FACE_NO_BLOCK;
    return layout->block[first];
}

const struct face_bits *face_layout_bits(const struct face_bits *rows, uint16_t n_rows, uint32_t address)
{
    for (uint16_t i = 0; i < n_rows; i++)
        if (address >= rows[i].first && address < (uint32_t)rows[i].first + rows[i].bits)
            return &rows[i];
    return NULL;
}

bool face_layout_has_bits(const struct face_bits *rows, uint16_t n_rows, uint32_t first, uint32_t n)
{
    uint32_t end = first + n;
    while (first < end) {
        const struct face_bits *row = face_layout_bits(rows, n_rows, first);
        if (row == NULL)
            return false;
        first = (uint32_t)row->first + row->bits;
    }
    return true;
}
