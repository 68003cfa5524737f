/* What two stations have to store, commit by commit, made from the commit's number alone: so any of its states can
 * be made again to be held against what a book has kept. */
#ifndef KR_TESTS_SAMPLE_COMMITS_H
#define KR_TESTS_SAMPLE_COMMITS_H

#include "kniferail/book.h"

#define SAMPLE_COMMITS  14
#define SAMPLE_STATIONS 2

const char *sample_station(int station);

/* The station whose commit number i (1 to SAMPLE_COMMITS) is. */
int sample_whose(int i);

/* What that commit stores. Static, until the next call. */
const struct kr_book_entry *sample_entry(int i);

/* What a station has stored once commits 1 to i are; serial 0: nothing yet. Static, until the next call. */
const struct kr_durable *sample_durable(int station, int i);

/* Strips of test cuts that both stations have stored once commits 1 to i are. */
int sample_strips(int i);

/* Whether both mean the same: field by field, padding and what lies behind the last slit are nobody's. */
bool sample_same(const struct kr_durable *a, const struct kr_durable *b);

#endif
