/* Prints the map as a tag list: one row for each variable, in the sequence of addresses. Arrays stay arrays. The named
 * bits of a word are tags in the word, and bits with their own addresses. RFC 4180. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "csv.h"
#include "map_words.h"

#define TAG_MAX 80

/* The parts of a row. */
struct tag {
    char name[TAG_MAX];
    enum kr_area area;
    unsigned address;
    const char *type;
    unsigned elements, registers;
    const char *unit, *access, *meaning;
    const char *block, *list;
    int bit; /* a bit of the word at that address; NO_BIT: the tag consists of whole words, or has its own address */
    struct kr_map_range range;
};
#define NO_BIT (-1)

static void put(struct csv_writer *to, const struct tag *tag)
{
    csv_put(to, tag->name);
    csv_put(to, kr_word_area(tag->area));
    csv_put_format(to, "%u", tag->address);
    csv_put_format(to, "%u", tag->address + 1);
    /* The address at which the input register can also be read as a holding register. */
    if (tag->area == KR_AREA_INPUT)
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
    csv_put(to, tag->block);
    csv_put(to, tag->list);
    if (tag->bit == NO_BIT)
        csv_put(to, "");
    else
        csv_put_format(to, "%d", tag->bit);
    csv_put_format(to, "%" PRId64, tag->range.least);
    csv_put_format(to, "%" PRId64, tag->range.most);
    csv_put_format(to, "%" PRId64, tag->range.initial);
    csv_end_record(to);
}

static const struct kr_map_range of_bit = {0, 1, 0};

/* Writes "RAIL1_" if each rail has such a tag, then the tag's name, then the suffix. */
static void name_tag(struct tag *tag, bool per_rail, int rail, const char *name, const char *behind)
{
    char rail_name[16] = "";
    if (per_rail)
        snprintf(rail_name, sizeof rail_name, "RAIL%d_", rail + 1);
    snprintf(tag->name, sizeof tag->name, "%s%s%s%s", rail_name, name, *behind ? "_" : "", behind);
}

#define MEANING_MAX 800

/* Writes the meaning of the register, with the numbers or bits of its list. */
static void write_meaning(const struct kr_reg_info *r, char text[MEANING_MAX])
{
    const char *set = kr_map_set_of(r->name), *between = ": ";
    const char *bit = r->unit == KR_REGUNIT_MASK ? "bit " : "";
    const struct kr_named_number *n;
    size_t used = (size_t)snprintf(text, MEANING_MAX, "%s", r->meaning);
    for (size_t i = 0; set && (n = kr_named_number(i)) != NULL && used < MEANING_MAX; i++) {
        if (strcmp(n->set, set) != 0)
            continue;
        used += (size_t)snprintf(text + used, MEANING_MAX - used, "%s%s%d %s", between, bit, n->number, n->name);
        between = ", ";
    }
}

/* Prints the named bits of a word, for programs that address bits within a word. */
static void put_word_bits(struct csv_writer *to, const struct kr_map_row *row, const struct tag *word)
{
    const struct kr_reg_info *r = kr_reg_info(row->reg);
    const struct kr_named_number *n;
    if (r->unit != KR_REGUNIT_MASK || r->n != 1 || word->list[0] == '\0')
        return;
    for (int bit = 0; bit < 16; bit++) {
        if ((n = kr_named(word->list, bit)) == NULL)
            continue;
        struct tag tag = *word;
        tag.type = "BOOL";
        tag.registers = 0;
        tag.unit = "";
        tag.meaning = n->text;
        tag.list = "";
        tag.bit = bit;
        tag.range = of_bit;
        name_tag(&tag, r->per_rail, row->rail, r->name, n->name);
        put(to, &tag);
    }
}

static void put_reg(struct csv_writer *to, const struct kr_map_row *row)
{
    const struct kr_reg_info *r = kr_reg_info(row->reg);
    unsigned address = kr_reg_address(row->reg, row->rail, 0);
    const char *set = kr_map_set_of(r->name);
    char meaning[MEANING_MAX];
    write_meaning(r, meaning);
    struct tag tag = {.area = r->area,
                      .address = address,
                      .type = kr_word_tag_type(r),
                      .elements = r->n,
                      .registers = r->n * kr_reg_words(r->type),
                      .unit = kr_word_unit(r->unit),
                      .access = kr_word_access(r->access),
                      .meaning = meaning,
                      .block = kr_map_block_of(r->area, address)->name,
                      .list = set ? set : "",
                      .bit = NO_BIT,
                      .range = kr_map_range_of(r)};
    name_tag(&tag, r->per_rail, row->rail, r->name, "");
    put(to, &tag);
    put_word_bits(to, row, &tag);
}

static struct tag bits_tag(const struct kr_bits_info *b, int rail)
{
    return (struct tag){.area = b->area,
                        .address = b->address + (unsigned)(rail * KR_MAP_RAIL_BITS_STRIDE),
                        .type = "BOOL",
                        .elements = 1,
                        .unit = "",
                        .access = kr_word_access(KR_ACCESS_READ),
                        .meaning = b->meaning,
                        .block = "",
                        .list = "",
                        .bit = NO_BIT,
                        .range = of_bit};
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

/* If the bits of a word have names, they are listed; a mask of holders is an array. */
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
    static const char *const heading[] = {"tag",      "area",      "address", "number", "window_address", "type",
                                          "elements", "registers", "unit",    "access", "meaning",        "block",
                                          "list",     "bit",       "least",   "most",   "initial"};
    struct csv_writer to = {stdout, false};
    for (size_t i = 0; i < sizeof heading / sizeof heading[0]; i++)
        csv_put(&to, heading[i]);
    csv_end_record(&to);
    struct kr_map_row row = {KR_REG_NONE, 0};
    while (kr_map_next_row(&row, KR_RAILS_MAX))
        put_reg(&to, &row);
    const struct kr_bits_info *b;
    for (size_t i = 0; (b = kr_bits_info(i)) != NULL; i++)
        put_bits(&to, b);
    return kr_flushed(KR_EXIT_OK);
}
