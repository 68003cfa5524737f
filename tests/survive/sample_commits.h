/* story: what two stations have to store, commit by commit, made from the commit's number alone: so any of its states can
 * be made again to be held against what a book has kept. */
#ifndef KR_TESTS_STORY_H
#define KR_TESTS_STORY_H

#include "kniferail/book.h"

#define STORY_COMMITS  14
#define STORY_STATIONS 2

const char *story_station(int station);

/* The station whose commit number i (1 to STORY_COMMITS) is. */
int story_whose(int i);

/* What that commit stores. Static, until the next call. */
const struct kr_book_entry *story_entry(int i);

/* What a station has stored once commits 1 to i are; serial 0: nothing yet. Static, until the next call. */
const struct kr_durable *story_durable(int station, int i);

/* Whether both mean the same: field by field, padding and what lies behind the last slit are nobody's. */
bool story_same(const struct kr_durable *a, const struct kr_durable *b);

#endif
