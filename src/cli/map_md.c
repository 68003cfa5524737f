/* Prints the map as a document for the PLC programmer, who needs nothing else. */
#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "kniferail/caution.h"
#include "map_words.h"
#include "text_fill.h"
#include "texts.h"

/* ---- prose ----------------------------------------------------------------------------------------------------------
 * It stands in src/cli/map/ *.md; @NAME@ is one of these values there. */

static void put_value(FILE *to, const char *name, const void *data)
{
    static const struct {
        const char *name;
        int value;
    } values[] = {{"MAP_VERSION", KR_MAP_VERSION},
                  {"MAP_VERSION_BEFORE", KR_MAP_VERSION - 1},
                  {"HOLDING_WORDS", KR_MAP_HOLDING_WORDS},
                  {"WINDOW", KR_MAP_WINDOW},
                  {"WORD_ORDER_PROOF", KR_MAP_WORD_ORDER_PROOF},
                  {"RAIL_BITS_STRIDE", KR_MAP_RAIL_BITS_STRIDE}};
    (void)data;
    if (strcmp(name, "CAUTION") == 0)
        fputs(kr_caution, to);
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++)
        if (strcmp(values[i].name, name) == 0)
            fprintf(to, "%d", values[i].value);
}

static void print_text(const char *text)
{
    text_fill(stdout, text, put_value, NULL);
}

static void print_blocks(void)
{
    print_text(kr_map_blocks_text);
    enum kr_block_id id = KR_BLOCK_COUNT;
    while ((id = kr_map_next_block(id)) != KR_BLOCK_COUNT) {
        const struct kr_block_info *b = kr_block_info(id);
        const struct kr_reg_info *trigger = kr_reg_info(b->trigger);
        printf("| %s | %s | %u | %u | %u | %s | %s | ", b->name, kr_word_area(b->area), b->first,
               b->first + b->words - 1u, b->words, kr_word_access(b->access), trigger ? trigger->name : "");
        if (b->depth)
            printf("%u", b->depth);
        printf(" | %s |\n", b->meaning);
    }
    printf("\n");
}

static void print_room(void)
{
    const struct kr_room_info *room;
    print_text(kr_map_room_text);
    for (size_t i = 0; (room = kr_room_info(i)) != NULL; i++)
        printf("| %s | %u | %u | %s |\n", kr_word_area(room->area), room->first, room->first + room->words - 1u,
               room->meaning);
    printf("\n");
}

static void print_changes(void)
{
    const struct kr_map_change_info *change;
    print_text(kr_map_changes_text);
    for (size_t i = 0; (change = kr_map_change_info(i)) != NULL; i++)
        printf("| %s | %s | %s |\n", change->kind, change->name, change->what);
}

static void print_head(const char *title, const char *meaning)
{
    printf("### %s: %s\n\n"
           "| register | address | number | window | type | unit | access | meaning |\n"
           "| --- | ---: | ---: | ---: | --- | --- | --- | --- |\n",
           title, meaning);
}

static void print_reg(enum kr_reg reg)
{
    const struct kr_reg_info *r = kr_reg_info(reg);
    const char *set = kr_map_set_of(r->name);
    unsigned address = r->address;
    printf("| %s | %u | %u | ", r->name, address, address + 1);
    if (r->area == KR_AREA_INPUT)
        printf("%u", KR_MAP_WINDOW + address);
    printf(" | %s", kr_word_type(r->type));
    if (r->n > 1)
        printf("[%u]", r->n);
    printf(" | %s | %s | %s%s%s%s |\n", kr_word_unit(r->unit), kr_word_access(r->access), r->meaning,
           set ? " (see " : "", set ? set : "", set ? ")" : "");
}

static bool within(const struct kr_reg_info *r, const struct kr_block_info *b)
{
    return r->area == b->area && r->address >= b->first && r->address < b->first + b->words;
}

/* The rows of a rail are printed with the addresses of rail 1; the blocks of the other rails have no rows. */
static bool has_rows(const struct kr_block_info *b)
{
    for (int reg = KR_REG_NONE + 1; reg < KR_REG_COUNT; reg++)
        if (within(kr_reg_info((enum kr_reg)reg), b))
            return true;
    return false;
}

static void print_registers(void)
{
    printf("## Registers\n\n");
    enum kr_block_id id = KR_BLOCK_COUNT;
    while ((id = kr_map_next_block(id)) != KR_BLOCK_COUNT) {
        const struct kr_block_info *b = kr_block_info(id);
        if (!has_rows(b))
            continue;
        print_head(b->name,
                   b->first == KR_MAP_RAIL_FIRST ? "rail 1; the other rails have the same registers" : b->meaning);
        struct kr_map_row row = {KR_REG_NONE, 0};
        while (kr_map_next_row(&row, 1))
            if (within(kr_reg_info(row.reg), b))
                print_reg(row.reg);
        printf("\n");
        if (b->first == KR_MAP_RAIL_FIRST)
            printf("The same row of rail r stands at its address + (r - 1) x %d: rails 1 to %d begin at %d, %d, %d, "
                   "%d.\n\n",
                   KR_MAP_RAIL_STRIDE, KR_RAILS_MAX, KR_MAP_RAIL_FIRST, KR_MAP_RAIL_FIRST + KR_MAP_RAIL_STRIDE,
                   KR_MAP_RAIL_FIRST + 2 * KR_MAP_RAIL_STRIDE, KR_MAP_RAIL_FIRST + 3 * KR_MAP_RAIL_STRIDE);
    }
}

static void print_bits(void)
{
    const struct kr_bits_info *b;
    print_text(kr_map_bits_text);
    for (size_t i = 0; (b = kr_bits_info(i)) != NULL; i++)
        printf("| %s%s | %s | %u | %u | %u | %s | %s |\n", b->name, b->per_rail ? " of rail 1" : "",
               kr_word_area(b->area), b->address, b->address + 1u, b->bits, kr_reg_info(b->word)->name, b->meaning);
    printf("\n");
}

static void print_numbers(void)
{
    const struct kr_named_number *n;
    const char *set = "";
    printf("## Named bits and numbers\n");
    for (size_t i = 0; (n = kr_named_number(i)) != NULL; i++) {
        if (strcmp(set, n->set) != 0)
            printf("\n### %s\n\n| %s | name | meaning |\n| ---: | --- | --- |\n", n->set,
                   kr_map_set_is_bits(n->set) ? "bit" : "number");
        set = n->set;
        printf("| %d | %s | %s |\n", n->number, n->name, n->text);
    }
    printf("\n");
}

/* "mask of PERMISSIVES": the kind of the value, and the list that explains it. */
static void print_value(enum kr_value_kind kind, const char *list)
{
    printf("%s%s%s | ", kr_word_value(kind), list ? " of " : "", list ? list : "");
}

/* "%v" in a sentence is the table's placeholder for the value; readers get the word. */
static void print_sentence(const char *text)
{
    while (*text) {
        char c = *text;
        const char *word = kr_map_sentence_word(&text);
        if (word)
            printf("*%s*", word);
        else
            putchar(c);
    }
}

static void print_results(void)
{
    const struct kr_code_info *c;
    print_text(kr_map_results_text);
    for (size_t i = 0; (c = kr_code_info_at(i)) != NULL; i++) {
        printf("| %d | %s | %s | ", (int)c->code, c->name, kr_word_item(c->item));
        print_value(c->value, kr_map_result_value_of(c));
        print_sentence(c->text);
        printf(" | %s |\n", kr_code_remedy(c->code));
    }
    printf("\n");
}

static void print_alarms(void)
{
    const struct kr_alarm_info *a;
    print_text(kr_map_alarms_text);
    for (size_t i = 0; (a = kr_alarm_info_at(i)) != NULL; i++) {
        printf("| %d | %s | %s | ", (int)a->code, a->name, kr_word_item(a->item));
        print_value(a->value, kr_map_alarm_value_of(a));
        printf("%s | ", kr_reaction_word(a->reaction));
        print_sentence(a->text);
        printf(" | %s |\n", a->remedy);
    }
}

int kr_map_markdown(void)
{
    print_text(kr_map_layout_text);
    print_text(kr_map_rules_text);
    print_blocks();
    print_room();
    print_registers();
    print_bits();
    print_numbers();
    print_results();
    print_alarms();
    print_changes();
    return kr_flushed(KR_EXIT_OK);
}
