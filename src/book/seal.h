/* The sum that seals are made by: FNV-1a, 64 bits (Fowler, Noll, Vo: draft-eastlake-fnv). Each of its steps is one to
 * one, so that a single byte that differs always shows; against people who mean harm it is no help. Private to
 * src/book. */
#ifndef BOOK_SEAL_H
#define BOOK_SEAL_H

#include <stdint.h>

#define SEAL_BEGIN 0xCBF29CE484222325u

void seal_add(uint64_t *seal, int64_t number);
void seal_add_text(uint64_t *seal, const char *text);

/* Nothing if the number is 0; else the name too, so that two such fields can't be taken for each other. */
void seal_add_if_set(uint64_t *seal, const char *name, int64_t number);

#endif
