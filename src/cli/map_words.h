/* The map's enums in words, the same in all three forms of the document. */
#ifndef KNIFERAIL_CLI_MAP_WORDS_H
#define KNIFERAIL_CLI_MAP_WORDS_H

#include "kniferail/alarm.h"
#include "kniferail/map.h"

const char *kr_word_area(enum kr_area area);                 /* "input" */
const char *kr_word_type(enum kr_reg_type type);             /* "I32" */
const char *kr_word_tag_type(const struct kr_reg_info *reg); /* "DINT", "WORD" for bits: IEC 61131-3 */
const char *kr_word_unit(enum kr_reg_unit unit);             /* "length", "" */
const char *kr_word_access(enum kr_access access);
const char *kr_word_item(enum kr_item_kind item);
const char *kr_word_value(enum kr_value_kind value);

/* A register, and of which rail it is (counts from 0) if each rail has one. */
struct kr_map_row {
    enum kr_reg reg;
    uint16_t rail;
};

/* The rows in the sequence of their areas and addresses. row begins as {KR_REG_NONE, 0}; false behind the last. rails:
 * of how many rails the rows are wanted, 1 to KR_RAILS_MAX. */
bool kr_map_next_row(struct kr_map_row *row, uint16_t rails);

/* The blocks in that sequence; before the first and behind the last KR_BLOCK_COUNT. */
enum kr_block_id kr_map_next_block(enum kr_block_id block);

/* The block of an address; NULL if there is none. */
const struct kr_block_info *kr_map_block_of(enum kr_area area, unsigned address);

/* Rows of a rail's block exist once a rail. */
int kr_map_copies(bool per_rail);

/* The set that names the bits or numbers of a register, or NULL. */
const char *kr_map_set_of(const char *reg);

/* Whether the set names bits; else numbers. */
bool kr_map_set_is_bits(const char *set);

/* What the value of an alarm or a result is a number or mask of: a set, "alarms", "results", or an object of the
 * drive's profile ("6041h"); NULL if its kind says all. */
const char *kr_map_alarm_value_of(const struct kr_alarm_info *alarm);
const char *kr_map_result_value_of(const struct kr_code_info *result);

/* What can stand in a register. What a station's own limits are depends on its file. */
struct kr_map_range {
    int64_t least, most;
    int64_t initial; /* what a tag should hold before it was read or written */
};
struct kr_map_range kr_map_range_of(const struct kr_reg_info *reg);

/* The next character of a sentence with item, value and limit as words in its place. Returns the word, or NULL where
 * *text begins with a plain character; *text is moved behind what was taken. */
const char *kr_map_sentence_word(const char **text);

int kr_map_markdown(void);
int kr_map_csv(void);
int kr_map_json(void);
int kr_map_texts(void);
int kr_map_st(void);

#endif
