/* The checksum of which seals are made: FNV-1a with 64 bits (Fowler, Noll, Vo: draft-eastlake-fnv). Each of its steps
 * is one to one, so a single byte that differs always changes the sum. It does not protect against deliberate changes.
 * Private to src/book. */
#ifndef BOOK_SEAL_H
#define BOOK_SEAL_H

#include <stdint.h>

#define SEAL_BEGIN 0xCBF29CE484222325u

void seal_add(uint64_t *seal, int64_t number);
void seal_add_text(uint64_t *seal, const char *text);

/* Adds nothing if the number is 0. Otherwise adds the name, too, so that two such fields can't be confused. */
void seal_add_if_set(uint64_t *seal, const char *name, int64_t number);

#endif
