/* The map's enums in words, the same in all three forms of the document. */
#ifndef KNIFERAIL_CLI_MAP_WORDS_H
#define KNIFERAIL_CLI_MAP_WORDS_H

#include "kniferail/alarm.h"
#include "kniferail/map.h"

const char *kr_word_area(enum kr_area area);         /* "input" */
const char *kr_word_type(enum kr_reg_type type);     /* "I32" */
const char *kr_word_tag_type(enum kr_reg_type type); /* "DINT": IEC 61131-3 */
const char *kr_word_unit(enum kr_reg_unit unit);     /* "length", "" */
const char *kr_word_access(enum kr_access access);
const char *kr_word_item(enum kr_item_kind item);
const char *kr_word_value(enum kr_value_kind value);
const char *kr_word_reaction(enum kr_reaction reaction);

/* Rows of a rail's block exist once a rail. */
int kr_map_copies(bool per_rail);

/* The set that names the bits or numbers of a register, or NULL. */
const char *kr_map_set_of(const char *reg);

int kr_map_markdown(void);
int kr_map_csv(void);
int kr_map_json(void);

#endif
