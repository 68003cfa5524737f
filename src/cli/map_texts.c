/* Prints text lists for an operator's HMI: one row for each number, bit, result or alarm. RFC 4180. */
#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "csv.h"
#include "map_words.h"

#define SENTENCE_MAX 400

/* Writes the sentence with [item], [value] and [limit] in the places where an HMI has to show these registers. */
static void write_sentence(const char *text, char out[SENTENCE_MAX])
{
    size_t used = 0;
    out[0] = '\0';
    while (*text && used + 10 < SENTENCE_MAX) {
        char c = *text;
        const char *word = kr_map_sentence_word(&text);
        used += word ? (size_t)snprintf(out + used, SENTENCE_MAX - used, "[%s]", word)
                     : (size_t)snprintf(out + used, SENTENCE_MAX - used, "%c", c);
    }
}

/* list, kind, number, name */
static void begin(struct csv_writer *to, const char *list, const char *kind, int number, const char *name)
{
    csv_put(to, list);
    csv_put(to, kind);
    csv_put_format(to, "%d", number);
    csv_put(to, name);
}

/* item, value, value_of, reaction, remedy */
static void put_kinds(struct csv_writer *to, const char *item, const char *value, const char *value_of,
                      const char *reaction, const char *remedy)
{
    csv_put(to, item);
    csv_put(to, value);
    csv_put(to, value_of ? value_of : "");
    csv_put(to, reaction);
    csv_put(to, remedy);
    csv_end_record(to);
}

static void put_numbers(struct csv_writer *to)
{
    const struct kr_named_number *n;
    for (size_t i = 0; (n = kr_named_number(i)) != NULL; i++) {
        begin(to, n->set, kr_map_set_is_bits(n->set) ? "bit" : "number", n->number, n->name);
        csv_put(to, n->text);
        put_kinds(to, "", "", "", "", "");
    }
}

static void put_results(struct csv_writer *to)
{
    const struct kr_code_info *c;
    char text[SENTENCE_MAX];
    for (size_t i = 0; (c = kr_code_info_at(i)) != NULL; i++) {
        begin(to, "results", "number", (int)c->code, c->name);
        write_sentence(c->text, text);
        csv_put(to, text);
        put_kinds(to, kr_word_item(c->item), kr_word_value(c->value), kr_map_result_value_of(c), "",
                  kr_code_remedy(c->code));
    }
}

static void put_alarms(struct csv_writer *to)
{
    const struct kr_alarm_info *a;
    char text[SENTENCE_MAX];
    for (size_t i = 0; (a = kr_alarm_info_at(i)) != NULL; i++) {
        begin(to, "alarms", "number", (int)a->code, a->name);
        write_sentence(a->text, text);
        csv_put(to, text);
        put_kinds(to, kr_word_item(a->item), kr_word_value(a->value), kr_map_alarm_value_of(a),
                  kr_reaction_word(a->reaction), a->remedy);
    }
}

int kr_map_texts(void)
{
    static const char *const heading[] = {"list", "kind",  "number",   "name",     "text",
                                          "item", "value", "value_of", "reaction", "remedy"};
    struct csv_writer to = {stdout, false};
    for (size_t i = 0; i < sizeof heading / sizeof heading[0]; i++)
        csv_put(&to, heading[i]);
    csv_end_record(&to);
    put_numbers(&to);
    put_results(&to);
    put_alarms(&to);
    return kr_flushed(KR_EXIT_OK);
}
