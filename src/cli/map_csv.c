/* The map as a tag list: one row a variable, arrays as arrays, the named bits of words as bits of their own. RFC 4180. */
#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "map_words.h"

static void quoted(const char *text)
{
    putchar('"');
    for (; *text; text++) {
        if (*text == '"')
            putchar('"');
        putchar(*text);
    }
    putchar('"');
}

static void prefix(bool per_rail, int rail)
{
    if (per_rail)
        printf("RAIL%d_", rail + 1);
}

/* window: where an input register reads again as holding register; empty for the others. */
static void place(enum kr_area area, unsigned address)
{
    printf("%s,%u,%u,", kr_word_area(area), address, address + 1);
    if (area == KR_AREA_INPUT)
        printf("%u", KR_MAP_WINDOW + address);
}

static void print_reg(enum kr_reg reg)
{
    const struct kr_reg_info *r = kr_reg_info(reg);
    for (int rail = 0; rail < kr_map_copies(r->per_rail); rail++) {
        prefix(r->per_rail, rail);
        printf("%s,", r->name);
        place(r->area, kr_reg_address(reg, (uint16_t)rail, 0));
        if (r->n > 1)
            printf(",ARRAY[1..%u] OF %s", r->n, kr_word_tag_type(r->type));
        else
            printf(",%s", kr_word_tag_type(r->type));
        printf(",%u,%u,%s,%s,", r->n, r->n * kr_reg_words(r->type), kr_word_unit(r->unit),
               kr_word_access(r->access));
        quoted(r->meaning);
        printf("\r\n");
    }
}

static void print_bit(const struct kr_bits_info *b, int rail, uint16_t bit)
{
    const struct kr_reg_info *word = kr_reg_info(b->word);
    const struct kr_named_number *named = kr_map_named(kr_map_set_of(word->name), bit);
    unsigned stride = b->per_rail ? (unsigned)rail * KR_MAP_RAIL_BITS_STRIDE : 0;
    prefix(b->per_rail, rail);
    if (named)
        printf("%s_%s,", b->name, named->name);
    else
        printf("%s_%u,", b->name, bit + 1u);
    place(b->area, b->address + stride + bit);
    printf(",BOOL,1,0,,%s,", kr_word_access(b->area == KR_AREA_COIL ? word->access : KR_ACCESS_READ));
    quoted(named ? named->text : b->meaning);
    printf("\r\n");
}

/* A word whose bits have names lists those; a mask of holders is one array. */
static void print_bits(const struct kr_bits_info *b)
{
    const char *set = kr_map_set_of(kr_reg_info(b->word)->name);
    for (int rail = 0; rail < kr_map_copies(b->per_rail); rail++) {
        for (uint16_t bit = 0; set && bit < b->bits; bit++)
            if (kr_map_named(set, bit))
                print_bit(b, rail, bit);
        if (set)
            continue;
        prefix(b->per_rail, rail);
        printf("%s,", b->name);
        place(b->area, b->address + (unsigned)(rail * KR_MAP_RAIL_BITS_STRIDE));
        printf(",ARRAY[1..%u] OF BOOL,%u,0,,read,", b->bits, b->bits);
        quoted(b->meaning);
        printf("\r\n");
    }
}

int kr_map_csv(void)
{
    printf("tag,area,address,number,window_address,type,elements,registers,unit,access,meaning\r\n");
    for (int reg = KR_REG_NONE + 1; reg < KR_REG_COUNT; reg++)
        print_reg((enum kr_reg)reg);
    const struct kr_bits_info *b;
    for (size_t i = 0; (b = kr_bits_info(i)) != NULL; i++)
        print_bits(b);
    return kr_flushed(KR_EXIT_OK);
}
