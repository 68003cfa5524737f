/* The map as a tag list: one row a variable, arrays as arrays, the named bits of words as bits of their own. RFC
 * 4180. */
#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "csv.h"
#include "map_words.h"

#define TAG_MAX 80

/* What a row is made of. */
struct tag {
    char name[TAG_MAX];
    enum kr_area area;
    unsigned address;
    const char *type;
    unsigned elements, registers;
    const char *unit, *access, *meaning;
};

static void put(struct csv_writer *to, const struct tag *tag)
{
    csv_put(to, tag->name);
    csv_put(to, kr_word_area(tag->area));
    csv_put_format(to, "%u", tag->address);
    csv_put_format(to, "%u", tag->address + 1);
    if (tag->area == KR_AREA_INPUT) /* where an input register reads again as holding register */
        csv_put_format(to, "%u", KR_MAP_WINDOW + tag->address);
    else
        csv_put(to, "");
    if (tag->elements > 1)
        csv_put_format(to, "ARRAY[1..%u] OF %s", tag->elements, tag->type);
    else
        csv_put(to, tag->type);
    csv_put_format(to, "%u", tag->elements);
    csv_put_format(to, "%u", tag->registers);
    csv_put(to, tag->unit);
    csv_put(to, tag->access);
    csv_put(to, tag->meaning);
    csv_end_record(to);
}

/* "RAIL1_" if there is one of it for each rail, then its own name, then what is behind. */
static void name_tag(struct tag *tag, bool per_rail, int rail, const char *name, const char *behind)
{
    char rail_name[16] = "";
    if (per_rail)
        snprintf(rail_name, sizeof rail_name, "RAIL%d_", rail + 1);
    snprintf(tag->name, sizeof tag->name, "%s%s%s%s", rail_name, name, *behind ? "_" : "", behind);
}

#define MEANING_MAX 800

/* What the register means, with the numbers or bits of its list. */
static void write_meaning(const struct kr_reg_info *r, char text[MEANING_MAX])
{
    const char *set = kr_map_set_of(r->name), *between = ": ";
    const char *bit = r->unit == KR_REGUNIT_MASK ? "bit " : "";
    const struct kr_named_number *n;
    size_t used = (size_t)snprintf(text, MEANING_MAX, "%s", r->meaning);
    for (size_t i = 0; set && (n = kr_named_number(i)) != NULL && used < MEANING_MAX; i++) {
        if (strcmp(n->set, set) != 0)
            continue;
        used +=
            (size_t)snprintf(text + used, MEANING_MAX - used, "%s%s%d %s", between, bit, n->number, n->name);
        between = ", ";
    }
}

static void put_reg(struct csv_writer *to, enum kr_reg reg)
{
    const struct kr_reg_info *r = kr_reg_info(reg);
    char meaning[MEANING_MAX];
    write_meaning(r, meaning);
    for (int rail = 0; rail < kr_map_copies(r->per_rail); rail++) {
        struct tag tag = {.area = r->area,
                          .address = kr_reg_address(reg, (uint16_t)rail, 0),
                          .type = kr_word_tag_type(r->type),
                          .elements = r->n,
                          .registers = r->n * kr_reg_words(r->type),
                          .unit = kr_word_unit(r->unit),
                          .access = kr_word_access(r->access),
                          .meaning = meaning};
        name_tag(&tag, r->per_rail, rail, r->name, "");
        put(to, &tag);
    }
}

static struct tag bits_tag(const struct kr_bits_info *b, int rail)
{
    return (struct tag){.area = b->area,
                        .address = b->address + (unsigned)(rail * KR_MAP_RAIL_BITS_STRIDE),
                        .type = "BOOL",
                        .elements = 1,
                        .unit = "",
                        .access = kr_word_access(KR_ACCESS_READ),
                        .meaning = b->meaning};
}

static void put_bit(struct csv_writer *to, const struct kr_bits_info *b, int rail, uint16_t bit)
{
    const struct kr_reg_info *word = kr_reg_info(b->word);
    const struct kr_named_number *named = kr_named(kr_map_set_of(word->name), bit);
    struct tag tag = bits_tag(b, rail);
    tag.address += bit;
    tag.access = kr_word_access(b->area == KR_AREA_COIL ? word->access : KR_ACCESS_READ);
    tag.meaning = named->text;
    name_tag(&tag, b->per_rail, rail, b->name, named->name);
    put(to, &tag);
}

/* A word whose bits have names lists those; a mask of holders is one array. */
static void put_bits(struct csv_writer *to, const struct kr_bits_info *b)
{
    const char *set = kr_map_set_of(kr_reg_info(b->word)->name);
    for (int rail = 0; rail < kr_map_copies(b->per_rail); rail++) {
        for (uint16_t bit = 0; set && bit < b->bits; bit++)
            if (kr_named(set, bit))
                put_bit(to, b, rail, bit);
        if (set)
            continue;
        struct tag tag = bits_tag(b, rail);
        tag.elements = b->bits;
        name_tag(&tag, b->per_rail, rail, b->name, "");
        put(to, &tag);
    }
}

int kr_map_csv(void)
{
    static const char *const heading[] = {"tag",    "area",     "address",   "number", "window_address",
                                          "type",   "elements", "registers", "unit",   "access",
                                          "meaning"};
    struct csv_writer to = {stdout, false};
    for (size_t i = 0; i < sizeof heading / sizeof heading[0]; i++)
        csv_put(&to, heading[i]);
    csv_end_record(&to);
    for (int reg = KR_REG_NONE + 1; reg < KR_REG_COUNT; reg++)
        put_reg(&to, (enum kr_reg)reg);
    const struct kr_bits_info *b;
    for (size_t i = 0; (b = kr_bits_info(i)) != NULL; i++)
        put_bits(&to, b);
    return kr_flushed(KR_EXIT_OK);
}
