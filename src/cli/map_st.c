/* Prints what a program in IEC 61131-3 needs of the map, in Structured Text, with only the keywords of the standard: a
 * type for each block, as plain words and as a structure, constants for every number and bit, and their texts.
 *
 * Before the third edition of the standard (2013) enumerations have no defined numbers, while constants in structures
 * mean the same in every edition. The comments end before column 119. */
#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "map_words.h"
#include "text_fill.h"
#include "texts.h"

#define COLUMNS     118
#define NAME_MAX_ST 48

/* Prints a comment, broken between words into as many lines as needed. */
static void print_comment(const char *indent, const char *text)
{
    size_t column = strlen(indent) + 2;
    printf("%s(*", indent);
    while (*text) {
        size_t n = strcspn(text, " ");
        if (column + 1 + n + 3 > COLUMNS) {
            printf("\n%s  ", indent);
            column = strlen(indent) + 2;
        }
        printf(" %.*s", (int)n, text);
        column += 1 + n;
        text += n;
        text += strspn(text, " ");
    }
    printf(" *)\n");
}

/* In a character string, '$' begins an escape sequence and a quotation mark ends the string. */
static void print_string(const char *text)
{
    putchar('\'');
    while (*text) {
        char c = *text;
        const char *word = kr_map_sentence_word(&text);
        if (word)
            printf("[%s]", word);
        else if (c == '\'' || c == '$')
            printf("$%c", c);
        else
            putchar(c);
    }
    putchar('\'');
}

/* ---- blocks -------------------------------------------------------------------------------------------------- */

static bool in_block(const struct kr_reg_info *r, const struct kr_block_info *b)
{
    return r->area == b->area && r->address >= b->first && r->address < b->first + b->words;
}

/* The blocks of all rails have the same type: that of rail 1, without its number. */
static bool name_block(const struct kr_block_info *b, char name[NAME_MAX_ST])
{
    bool per_rail = false, has_rows = false;
    struct kr_map_row row = {KR_REG_NONE, 0};
    while (kr_map_next_row(&row, 1)) {
        has_rows = has_rows || in_block(kr_reg_info(row.reg), b);
        per_rail = per_rail || (in_block(kr_reg_info(row.reg), b) && kr_reg_info(row.reg)->per_rail);
    }
    snprintf(name, NAME_MAX_ST, "KR_%s", b->name);
    size_t n = strlen(name);
    if (per_rail && n > 2 && strcmp(name + n - 2, "_1") == 0)
        name[n - 2] = '\0';
    return has_rows;
}

static void print_gap(const struct kr_block_info *b, unsigned from, unsigned to)
{
    if (to > from)
        printf("    RESERVED_%u : ARRAY [1..%u] OF WORD;\n", from - b->first, to - from);
}

static void print_field(const struct kr_reg_info *r)
{
    char head[900];
    const char *set = kr_map_set_of(r->name);
    snprintf(head, sizeof head, "%u: %s%s%s", r->address, r->meaning, set ? "; see " : "", set ? set : "");
    print_comment("    ", head);
    if (r->n > 1)
        printf("    %s : ARRAY [1..%u] OF %s;\n", r->name, r->n, kr_word_tag_type(r));
    else
        printf("    %s : %s;\n", r->name, kr_word_tag_type(r));
}

static void print_block(const struct kr_block_info *b)
{
    char name[NAME_MAX_ST], head[600];
    if (!name_block(b, name))
        return;
    snprintf(head, sizeof head, "Block %s, %s registers %u to %u: %s", b->name, kr_word_area(b->area), b->first,
             b->first + b->words - 1u, b->meaning);
    printf("\n");
    print_comment("  ", head);
    printf("  %s_WORDS : ARRAY [0..%u] OF WORD;\n  %s_BLOCK : STRUCT\n", name, b->words - 1u, name);
    unsigned at = b->first;
    struct kr_map_row row = {KR_REG_NONE, 0};
    while (kr_map_next_row(&row, 1)) {
        const struct kr_reg_info *r = kr_reg_info(row.reg);
        if (!in_block(r, b))
            continue;
        print_gap(b, at, r->address);
        print_field(r);
        at = r->address + (unsigned)r->n * kr_reg_words(r->type);
    }
    print_gap(b, at, b->first + b->words);
    printf("  END_STRUCT;\n");
}

/* ---- constants ----------------------------------------------------------------------------------------------- */

static void print_sets(void)
{
    const struct kr_named_number *n, *next;
    const char *set = "";
    for (size_t i = 0; (n = kr_named_number(i)) != NULL; i++) {
        bool bits = kr_map_set_is_bits(n->set);
        if (strcmp(n->set, set) != 0)
            printf("\n  KR_%s_%s : STRUCT\n", n->set, bits ? "BITS" : "NUMBERS");
        set = n->set;
        print_comment("    ", n->text);
        if (bits)
            printf("    KR_%s : WORD := 16#%04X;\n", n->name, 1u << n->number);
        else
            printf("    KR_%s : UINT := %d;\n", n->name, n->number);
        next = kr_named_number(i + 1);
        if (next == NULL || strcmp(next->set, set) != 0)
            printf("  END_STRUCT;\n");
    }
}

static void print_codes(void)
{
    const struct kr_code_info *c;
    const struct kr_alarm_info *a;
    printf("\n  (* Results of requests and commands *)\n  KR_RESULT_NUMBERS : STRUCT\n");
    for (size_t i = 0; (c = kr_code_info_at(i)) != NULL; i++)
        printf("    KR_%s : UINT := %d;\n", c->name, (int)c->code);
    printf("  END_STRUCT;\n\n  (* Alarms *)\n  KR_ALARM_NUMBERS : STRUCT\n");
    for (size_t i = 0; (a = kr_alarm_info_at(i)) != NULL; i++)
        printf("    KR_%s : UINT := %d;\n", a->name, (int)a->code);
    printf("  END_STRUCT;\n");
}

static void print_addresses(void)
{
    char name[NAME_MAX_ST];
    printf("\n  (* Numbers of the map, and the first address of each block; addresses count from 0 *)\n"
           "  KR_MAP_NUMBERS : STRUCT\n    MAP_VERSION : UINT := %d;\n    WORD_ORDER_PROOF : DINT := %d;\n"
           "    INPUT_AS_HOLDING : UINT := %d;\n    RAIL_STRIDE : UINT := %d;\n    RAILS_MAX : UINT := %d;\n"
           "    HOLDERS_MAX : UINT := %d;\n    SLITS_MAX : UINT := %d;\n",
           KR_MAP_VERSION, KR_MAP_WORD_ORDER_PROOF, KR_MAP_WINDOW, KR_MAP_RAIL_STRIDE, KR_RAILS_MAX, KR_HOLDERS_MAX,
           KR_SLITS_MAX);
    enum kr_block_id id = KR_BLOCK_COUNT;
    while ((id = kr_map_next_block(id)) != KR_BLOCK_COUNT)
        if (name_block(kr_block_info(id), name))
            printf("    %s_FIRST : UINT := %u;\n", name, kr_block_info(id)->first);
    printf("  END_STRUCT;\n");
}

/* ---- texts --------------------------------------------------------------------------------------------------- */

static void begin_texts(const char *name, const char *of)
{
    printf("\n(* %s *)\nFUNCTION_BLOCK %s\nVAR_INPUT\n  Code : UINT;\nEND_VAR\nVAR_OUTPUT\n"
           "  Text : STRING;\n  Remedy : STRING;\nEND_VAR\nCASE Code OF\n",
           of, name);
}

static void print_text(int number, const char *text, const char *remedy)
{
    printf("  %d:\n    Text := ", number);
    print_string(text);
    printf(";\n    Remedy := ");
    print_string(remedy);
    printf(";\n");
}

static void end_texts(const char *otherwise)
{
    printf("ELSE\n  Text := '%s';\n  Remedy := '';\nEND_CASE;\nEND_FUNCTION_BLOCK\n", otherwise);
}

static void print_texts(void)
{
    const struct kr_code_info *c;
    const struct kr_alarm_info *a;
    begin_texts("KR_RESULT_TEXT",
                "The sentence of a result; [item], [value] and [limit] stand for the registers beside it");
    for (size_t i = 0; (c = kr_code_info_at(i)) != NULL; i++)
        print_text((int)c->code, c->text, kr_code_remedy(c->code));
    end_texts("unknown result");
    begin_texts("KR_ALARM_TEXT",
                "The sentence of an alarm; [item], [value] and [limit] stand for the registers beside it");
    print_text(0, "", "");
    for (size_t i = 0; (a = kr_alarm_info_at(i)) != NULL; i++)
        print_text((int)a->code, a->text, a->remedy);
    end_texts("unknown alarm");
}

static void print_state_texts(void)
{
    const struct kr_named_number *n;
    begin_texts("KR_UNIT_STATE_TEXT", "The name of a unit state, and its meaning");
    print_text(0, "", "");
    for (size_t i = 0; (n = kr_named_number(i)) != NULL; i++)
        if (strcmp(n->set, "UNIT_STATE") == 0)
            print_text(n->number, n->name, n->text);
    end_texts("unknown state");
}

static void put_version(FILE *to, const char *name, const void *data)
{
    (void)data;
    if (strcmp(name, "MAP_VERSION") == 0)
        fprintf(to, "%d", KR_MAP_VERSION);
}

int kr_map_st(void)
{
    text_fill(stdout, kr_types_head, put_version, NULL);
    printf("\nTYPE\n");
    enum kr_block_id id = KR_BLOCK_COUNT;
    while ((id = kr_map_next_block(id)) != KR_BLOCK_COUNT)
        print_block(kr_block_info(id));
    print_sets();
    print_codes();
    print_addresses();
    printf("END_TYPE\n");
    print_texts();
    print_state_texts();
    return kr_flushed(KR_EXIT_OK);
}
