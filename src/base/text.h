/* Private to base: sentences from a template with %i (item), %v (value), %l (limit). */
#ifndef KR_BASE_TEXT_H
#define KR_BASE_TEXT_H

#include "kniferail/base.h"

struct kr_text_values {
    uint16_t rail, item;
    int32_t value, limit;
    enum kr_value_kind kind;
    enum kr_item_kind item_kind;
};

/* Writes "rail N: " where a rail is meant, with the holder if the template itself doesn't name it, then the template
 * filled in. Returns as snprintf. */
int kr_text_fill(const char *text, const struct kr_text_values *values, enum kr_length_unit unit, char *out,
                 size_t size);

#endif
