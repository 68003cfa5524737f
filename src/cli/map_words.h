/* The words for the map's enums; all forms of the map's document use the same ones. */
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

/* A register, and its rail (from 0) if each rail has one. */
struct kr_map_row {
    enum kr_reg reg;
    uint16_t rail;
};

/* Steps through the rows by area and address. row begins as {KR_REG_NONE, 0}; false after the last row. rails: for how
 * many rails rows are wanted, 1 to KR_RAILS_MAX. */
bool kr_map_next_row(struct kr_map_row *row, uint16_t rails);

/* Returns the next block in the same sequence. It begins with KR_BLOCK_COUNT and ends with it. */
enum kr_block_id kr_map_next_block(enum kr_block_id block);

/* Returns the block of an address; NULL if there is none. */
const struct kr_block_info *kr_map_block_of(enum kr_area area, unsigned address);

/* Returns how often a row exists: the rows of a rail's block exist once for each rail. */
int kr_map_copies(bool per_rail);

/* Returns the set that names the bits or numbers of a register, or NULL. */
const char *kr_map_set_of(const char *reg);

/* Tells whether the set names bits; otherwise it names numbers. */
bool kr_map_set_is_bits(const char *set);

/* Return the list that explains the value of an alarm or a result: the name of a set, "alarms", "results", or an object
 * of the drive's profile ("6041h"). NULL: the kind of the value says enough. */
const char *kr_map_alarm_value_of(const struct kr_alarm_info *alarm);
const char *kr_map_result_value_of(const struct kr_code_info *result);

/* The values that a register can have. A station's own limits depend on its file. */
struct kr_map_range {
    int64_t least, most;
    int64_t initial; /* the value of a tag before it was read or written */
};
struct kr_map_range kr_map_range_of(const struct kr_reg_info *reg);

/* Reads the next part of a sentence that contains placeholders for item, value and limit. Returns the word for a
 * placeholder, or NULL if *text begins with an ordinary character; moves *text past what was read. */
const char *kr_map_sentence_word(const char **text);

int kr_map_markdown(void);
int kr_map_csv(void);
int kr_map_json(void);
int kr_map_texts(void);
int kr_map_st(void);

#endif
