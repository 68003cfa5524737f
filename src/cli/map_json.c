/* Prints the map for programs. Addresses count from 0, as on the wire; `number` counts from 1, as in the data model. */
#include <jansson.h>
#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "map_words.h"

/* Takes over the reference to value. Any failure leaves a NULL, which is found at the end. */
static void append(json_t *array, json_t *value, bool *failed)
{
    if (value == NULL || json_array_append_new(array, value) != 0)
        *failed = true;
}

static json_t *register_of(enum kr_reg reg)
{
    const struct kr_reg_info *r = kr_reg_info(reg);
    const char *set = kr_map_set_of(r->name);
    json_t *window = r->area == KR_AREA_INPUT ? json_integer(KR_MAP_WINDOW + r->address) : json_null();
    struct kr_map_range range = kr_map_range_of(r);
    return json_pack("{s:s, s:s, s:s, s:i, s:i, s:o, s:s, s:i, s:i, s:s, s:s, s:b, s:s?, s:I, s:I, s:I, s:s}", "name",
                     r->name, "block", kr_map_block_of(r->area, r->address)->name, "area", kr_word_area(r->area),
                     "address", r->address, "number", r->address + 1, "window_address", window, "type",
                     kr_word_type(r->type), "words", kr_reg_words(r->type), "n", r->n, "unit", kr_word_unit(r->unit),
                     "access", kr_word_access(r->access), "per_rail", r->per_rail, "numbers", set, "least",
                     (json_int_t)range.least, "most", (json_int_t)range.most, "initial", (json_int_t)range.initial,
                     "meaning", r->meaning);
}

static json_t *block_of(const struct kr_block_info *b)
{
    const struct kr_reg_info *trigger = kr_reg_info(b->trigger);
    return json_pack("{s:s, s:s, s:i, s:i, s:s, s:s?, s:i, s:s}", "name", b->name, "area", kr_word_area(b->area),
                     "first", b->first, "words", b->words, "access", kr_word_access(b->access), "trigger",
                     trigger ? trigger->name : NULL, "waiting", b->depth, "meaning", b->meaning);
}

static json_t *bits_of(const struct kr_bits_info *b)
{
    return json_pack("{s:s, s:s, s:i, s:i, s:s, s:b, s:s}", "name", b->name, "area", kr_word_area(b->area), "address",
                     b->address, "bits", b->bits, "word", kr_reg_info(b->word)->name, "per_rail", b->per_rail,
                     "meaning", b->meaning);
}

static json_t *registers(bool *failed)
{
    json_t *array = json_array();
    struct kr_map_row row = {KR_REG_NONE, 0};
    while (kr_map_next_row(&row, 1))
        append(array, register_of(row.reg), failed);
    return array;
}

static json_t *blocks(bool *failed)
{
    json_t *array = json_array();
    enum kr_block_id block = KR_BLOCK_COUNT;
    while ((block = kr_map_next_block(block)) != KR_BLOCK_COUNT)
        append(array, block_of(kr_block_info(block)), failed);
    return array;
}

static json_t *bits(bool *failed)
{
    json_t *array = json_array();
    const struct kr_bits_info *b;
    for (size_t i = 0; (b = kr_bits_info(i)) != NULL; i++)
        append(array, bits_of(b), failed);
    return array;
}

/* The sets whose numbers are numbers of bits. */
static json_t *masks(bool *failed)
{
    json_t *array = json_array();
    const struct kr_named_number *n;
    const char *set = "";
    for (size_t i = 0; (n = kr_named_number(i)) != NULL; i++) {
        if (strcmp(n->set, set) != 0 && kr_map_set_is_bits(n->set))
            append(array, json_string(n->set), failed);
        set = n->set;
    }
    return array;
}

/* {"UNIT_STATE": {"CLEARING": {"number": 1, "word": null, "meaning": ...}}}. word: the text for people; null: it is the
 * name. */
static json_t *numbers(bool *failed)
{
    json_t *sets = json_object();
    const struct kr_named_number *n;
    for (size_t i = 0; (n = kr_named_number(i)) != NULL; i++) {
        json_t *set = json_object_get(sets, n->set);
        if (!set) {
            set = json_object();
            *failed = json_object_set_new(sets, n->set, set) != 0 || *failed;
        }
        json_t *row = json_pack("{s:i, s:s?, s:s}", "number", n->number, "word", n->word, "meaning", n->text);
        *failed = json_object_set_new(set, n->name, row) != 0 || *failed;
    }
    return sets;
}

static json_t *results(bool *failed)
{
    json_t *array = json_array();
    const struct kr_code_info *c;
    for (size_t i = 0; (c = kr_code_info_at(i)) != NULL; i++)
        append(array,
               json_pack("{s:i, s:s, s:s, s:s, s:s?, s:s, s:s}", "code", (int)c->code, "name", c->name, "item",
                         kr_word_item(c->item), "value", kr_word_value(c->value), "value_of", kr_map_result_value_of(c),
                         "text", c->text, "remedy", kr_code_remedy(c->code)),
               failed);
    return array;
}

static json_t *alarms(bool *failed)
{
    json_t *array = json_array();
    const struct kr_alarm_info *a;
    for (size_t i = 0; (a = kr_alarm_info_at(i)) != NULL; i++)
        append(array,
               json_pack("{s:i, s:s, s:s, s:s, s:s?, s:s, s:s, s:s}", "code", (int)a->code, "name", a->name, "item",
                         kr_word_item(a->item), "value", kr_word_value(a->value), "value_of", kr_map_alarm_value_of(a),
                         "reaction", kr_reaction_word(a->reaction), "text", a->text, "remedy", a->remedy),
               failed);
    return array;
}

static json_t *room(bool *failed)
{
    json_t *array = json_array();
    const struct kr_room_info *r;
    for (size_t i = 0; (r = kr_room_info(i)) != NULL; i++)
        append(array,
               json_pack("{s:s, s:i, s:i, s:s}", "area", kr_word_area(r->area), "first", r->first, "words", r->words,
                         "meaning", r->meaning),
               failed);
    return array;
}

static json_t *changes(bool *failed)
{
    json_t *array = json_array();
    const struct kr_map_change_info *c;
    for (size_t i = 0; (c = kr_map_change_info(i)) != NULL; i++)
        append(array, json_pack("{s:s, s:s, s:s}", "kind", c->kind, "name", c->name, "what", c->what), failed);
    return array;
}

static json_t *rails(void)
{
    return json_pack("{s:i, s:i, s:i, s:i, s:i, s:i}", "count", KR_RAILS_MAX, "first", KR_MAP_RAIL_FIRST, "stride",
                     KR_MAP_RAIL_STRIDE, "bits_first", KR_MAP_RAIL_BITS_FIRST, "bits_stride", KR_MAP_RAIL_BITS_STRIDE,
                     "holders", KR_HOLDERS_MAX);
}

int kr_map_json(void)
{
    bool failed = false;
    json_t *map =
        json_pack("{s:i, s:i, s:i, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "map_version", KR_MAP_VERSION,
                  "word_order_proof", KR_MAP_WORD_ORDER_PROOF, "window", KR_MAP_WINDOW, "rails", rails(), "blocks",
                  blocks(&failed), "registers", registers(&failed), "bits", bits(&failed), "numbers", numbers(&failed),
                  "masks", masks(&failed), "results", results(&failed), "alarms", alarms(&failed), "room",
                  room(&failed), "changes", changes(&failed));
    if (!map || failed || json_dumpf(map, stdout, JSON_INDENT(1)) != 0) {
        fprintf(stderr, "kniferail map: out of memory, or the output could not be written\n");
        json_decref(map);
        return KR_EXIT_REFUSED;
    }
    json_decref(map);
    putchar('\n');
    return kr_flushed(KR_EXIT_OK);
}
