/* Private to base: makes sentences from a template with %i (item), %v (value), %l (limit). */
#ifndef KR_BASE_TEXT_H
#define KR_BASE_TEXT_H

#include "kniferail/base.h"

struct kr_text_values {
    uint16_t rail, item;
    int32_t value, limit;
    enum kr_value_kind kind;
    enum kr_item_kind item_kind;
};

/* Writes "rail N: " if the values name a rail, also the holder if the template itself doesn't name it, and then the
 * filled template. Returns what snprintf returns. */
int kr_text_fill(const char *text, const struct kr_text_values *values, enum kr_length_unit unit, char *out,
                 size_t size);

#endif
