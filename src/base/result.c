#include "kniferail/base.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "text.h"

static const struct kr_code_info codes[] = {
#define X(name, number, item, value, text) {KR_##name, #name, KR_ITEM_##item, KR_VALUE_##value, text},
    KR_CODES(X)
#undef X
};

#define N_CODES (sizeof codes / sizeof codes[0])

static size_t n_before(const struct kr_code_info *c)
{
    size_t n = 0;
    for (size_t i = 0; i < N_CODES; i++)
        n += codes[i].code < c->code;
    return n;
}

const struct kr_code_info *kr_code_info_at(size_t index)
{
    for (size_t i = 0; i < N_CODES; i++)
        if (n_before(&codes[i]) == index)
            return &codes[i];
    return NULL;
}

const struct kr_code_info *kr_code_info(int number)
{
    for (size_t i = 0; i < sizeof codes / sizeof codes[0]; i++)
        if ((int)codes[i].code == number)
            return &codes[i];
    return NULL;
}

int kr_length_text(int32_t um, enum kr_length_unit unit, char *text, size_t size)
{
    int64_t count = kr_count_from_um(um, unit);
    const char *sign = count < 0 ? "-" : "";
    int64_t magnitude = count < 0 ? -count : count;
    if (unit == KR_LENGTH_INCH)
        return snprintf(text, size, "%s%" PRId64 ".%04" PRId64 " in", sign, magnitude / 10000, magnitude % 10000);
    return snprintf(text, size, "%s%" PRId64 ".%03" PRId64 " mm", sign, magnitude / 1000, magnitude % 1000);
}

static int value_text(int32_t value, enum kr_value_kind kind, enum kr_length_unit unit, char *text, size_t size)
{
    switch (kind) {
    case KR_VALUE_LENGTH: return kr_length_text(value, unit, text, size);
    case KR_VALUE_MASK: return snprintf(text, size, "%04" PRIx32 " hex", (uint32_t)value);
    case KR_VALUE_NONE:
    case KR_VALUE_COUNT:
    case KR_VALUE_PPM:
    case KR_VALUE_CODE: break;
    }
    return snprintf(text, size, "%" PRId32, value);
}

/* Writes "rail 2, holder 8: ", or only the rail, or nothing, depending on what the values name. */
static int where_text(const char *text, const struct kr_text_values *values, char *out, size_t size)
{
    if (values->rail == 0) {
        if (size)
            out[0] = '\0';
        return 0;
    }
    if (values->item_kind == KR_ITEM_HOLDER && values->item != 0 && strstr(text, "%i") == NULL)
        return snprintf(out, size, "rail %u, holder %u: ", (unsigned)values->rail, (unsigned)values->item);
    return snprintf(out, size, "rail %u: ", (unsigned)values->rail);
}

int kr_text_fill(const char *text, const struct kr_text_values *values, enum kr_length_unit unit, char *out,
                 size_t size)
{
    int length = where_text(text, values, out, size);
    char word[32];
    for (; *text; text++) {
        if (text[0] == '%' && text[1] == 'i') {
            snprintf(word, sizeof word, "%u", (unsigned)values->item);
            text++;
        } else if (text[0] == '%' && (text[1] == 'v' || text[1] == 'l')) {
            value_text(text[1] == 'v' ? values->value : values->limit, values->kind, unit, word, sizeof word);
            text++;
        } else {
            word[0] = *text;
            word[1] = '\0';
        }
        size_t used = (size_t)length;
        length += used < size ? snprintf(out + used, size - used, "%s", word) : snprintf(NULL, 0, "%s", word);
    }
    return length;
}

int kr_result_text(const struct kr_result *result, enum kr_length_unit unit, char *text, size_t size)
{
    const struct kr_code_info *info = kr_code_info((int)result->code);
    if (info == NULL)
        return snprintf(text, size, "unknown result code %d", (int)result->code);
    struct kr_text_values values = {result->rail, result->item, result->value, result->limit, info->value, info->item};
    return kr_text_fill(info->text, &values, unit, text, size);
}
