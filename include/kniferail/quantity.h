/* quantity: reads numbers with units exactly: decimals, common fractions, mixed numbers. It uses no binary fraction: a
 * value is rounded once, to the unit in which it is kept. The station file and the command line use it. Belongs to
 * config; pure, any thread may call it. */
#ifndef KNIFERAIL_QUANTITY_H
#define KNIFERAIL_QUANTITY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum kr_dimension { KR_DIM_NUMBER, KR_DIM_LENGTH, KR_DIM_TIME, KR_DIM_SPEED, KR_DIM_ACCEL };

/* The unit at the end of a name. "_mm" says that the value is a length, in units of 1 000 000 base units. The base
 * units are nm, us, nm/s and nm/s2. */
struct kr_scale {
    const char *suffix;
    enum kr_dimension dimension;
    int64_t base;
    const char *text; /* "mm", for messages */
};
/* Finds the scale by the name of a setting, or of the field that keeps it ("geometry.rail[0].min_um"). A name without a
 * unit is a plain number. Never returns NULL. */
const struct kr_scale *kr_scale_of(const char *name);

enum kr_quantity_answer {
    KR_QUANTITY_OK,
    KR_QUANTITY_MALFORMED,
    KR_QUANTITY_NO_UNIT,    /* a string must name a unit */
    KR_QUANTITY_WRONG_UNIT, /* the unit is unknown, or of another kind */
    KR_QUANTITY_NOT_WHOLE,  /* numbers and times must be whole multiples of the unit in which they are kept */
    KR_QUANTITY_TOO_LARGE,
};
/* Reads all of `text`. If `plain` allows it, a number without a unit is in the unit `written`. *value is in the unit
 * `kept`. */
enum kr_quantity_answer kr_quantity_read(const char *text, bool plain, const struct kr_scale *written,
                                         const struct kr_scale *kept, int64_t *value);

/* The largest length on a command line or in its files: the largest value of a register. */
#define KR_LENGTH_MOST_NM (INT64_C(1000) * INT32_MAX)

/* Reads all of `text` as a length. Without a unit after the number, the unit is bare_unit ("mm", "in", "um"). *nm
 * changes only if the answer is KR_QUANTITY_OK. */
enum kr_quantity_answer kr_length_read(const char *text, const char *bare_unit, int64_t *nm);

/* Writes what is wrong with `text` in a few words that follow it (" is no number"). For a decimal comma, and for a
 * hyphen in a mixed number, it also says how to write the number (" ... as 62.5 in"). The result is empty if the answer
 * is KR_QUANTITY_OK. */
void kr_quantity_why(enum kr_quantity_answer answer, const char *text, enum kr_dimension dimension, char *why,
                     size_t size);

/* Writes a kept value in the unit `written`, without needless zeros, and then the unit. Returns as snprintf() does. */
int kr_quantity_text(int64_t value, const struct kr_scale *written, const struct kr_scale *kept, char *text,
                     size_t size);

/* Returns the units that a string may name: "mm, um, nm, m, in, ft". */
const char *kr_quantity_units(enum kr_dimension dimension);

#endif
