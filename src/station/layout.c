#include "kniferail/layout.h"

#include <inttypes.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

/* ---- the table, made by layout.sh ------------------------------------------------------------------------------ */

enum kind { UNSIGNED, SIGNED, BOOL, ENUM, TEXT, FLOAT, ARRAY, STRUCT };

/* ARRAY: `first` is the type of the elements, and n is their number. STRUCT: first and n are a range of members[]. */
struct type {
    enum kind kind;
    uint32_t size;
    int first, n;
};
struct member {
    const char *name;
    uint32_t offset;
    int type;
};

#define DIGEST(text)
#define ROOT(name, type)
#define TYPE(kind, size, first, n) {kind, size, first, n},
#define MEMBER(name, offset, type)
static const struct type types[] = {
#include "layout_rows.def"
};
#undef TYPE
#undef MEMBER

#define TYPE(kind, size, first, n)
#define MEMBER(name, offset, type) {#name, offset, type},
static const struct member members[] = {
#include "layout_rows.def"
};
#undef MEMBER

#undef ROOT
#define ROOT(name, type) type,
#define MEMBER(name, offset, type)
static const int roots[KR_LAYOUTS] = {
#include "layout_rows.def"
};
#undef ROOT

#undef DIGEST
#define DIGEST(text) text
#define ROOT(name, type)
static const char digest[] =
#include "layout_rows.def"
    ;

const char *kr_layout_digest(void)
{
    return digest;
}

size_t kr_layout_size(enum kr_layout_of of)
{
    return types[roots[of]].size;
}

/* ---- a walk to one field --------------------------------------------------------------------------------------- */

/* The position of a walk: the part of the field's name that is known so far, and its offset. */
struct place {
    char name[KR_FIELD_NAME_MAX];
    size_t length, offset;
    int type;
};

static void append(struct place *place, const char *text)
{
    int n = snprintf(place->name + place->length, sizeof place->name - place->length, "%s", text);
    size_t room = sizeof place->name - 1 - place->length;
    place->length += (size_t)n < room ? (size_t)n : room;
}

static int parts_of(int type)
{
    return types[type].kind == ARRAY || types[type].kind == STRUCT ? types[type].n : 0;
}

/* Returns the position one level deeper: at member or element `part`. */
static struct place deeper(const struct place *at, int part)
{
    struct place to = *at;
    const struct type *type = &types[at->type];
    if (type->kind == STRUCT) {
        const struct member *member = &members[type->first + part];
        append(&to, at->length > 0 ? "." : "");
        append(&to, member->name);
        to.offset += member->offset;
        to.type = member->type;
    } else {
        char index[16];
        snprintf(index, sizeof index, "[%d]", part);
        append(&to, index);
        to.type = type->first;
        to.offset += (size_t)part * types[type->first].size;
    }
    return to;
}

static struct kr_field field_at(const struct place *place)
{
    struct kr_field field = {.offset = place->offset, .number = place->type};
    snprintf(field.name, sizeof field.name, "%s", place->name);
    return field;
}

/* ---- comparing ------------------------------------------------------------------------------------------------- */

/* Two structs, and the number of their bytes to compare. */
struct pair {
    const unsigned char *a, *b;
    size_t size;
};

static size_t looked_at(const struct pair *pair, size_t offset, size_t size)
{
    size_t left = offset < pair->size ? pair->size - offset : 0;
    return size < left ? size : left;
}

static bool same_bytes(const struct pair *pair, size_t offset, size_t size)
{
    return memcmp(pair->a + offset, pair->b + offset, looked_at(pair, offset, size)) == 0;
}

/* Two structs may differ only in their padding; then the next one is compared. */
static bool differs(const struct pair *pair, const struct place *at, struct kr_field *field)
{
    int n = parts_of(at->type);
    if (same_bytes(pair, at->offset, types[at->type].size))
        return false;
    if (n == 0) {
        *field = field_at(at);
        return true;
    }
    for (int i = 0; i < n; i++) {
        struct place part = deeper(at, i);
        if (differs(pair, &part, field))
            return true;
    }
    return false;
}

bool kr_layout_differs(enum kr_layout_of of, const void *a, const void *b, size_t size, struct kr_field *field)
{
    struct pair pair = {a, b, size};
    struct place root = {.type = roots[of]};
    return differs(&pair, &root, field);
}

/* ---- all of them ----------------------------------------------------------------------------------------------- */

#define ARRAY_MOST_BYTES 256

static void tell(const struct place *at, void (*each)(void *arg, const struct kr_field *field), void *arg)
{
    int n = parts_of(at->type);
    if (types[at->type].kind == ARRAY && types[at->type].size > ARRAY_MOST_BYTES)
        return;
    if (n == 0) {
        struct kr_field field = field_at(at);
        each(arg, &field);
    }
    for (int i = 0; i < n; i++) {
        struct place part = deeper(at, i);
        tell(&part, each, arg);
    }
}

void kr_layout_each(enum kr_layout_of of, void (*each)(void *arg, const struct kr_field *field), void *arg)
{
    struct place root = {.type = roots[of]};
    tell(&root, each, arg);
}

/* ---- values ---------------------------------------------------------------------------------------------------- */

static uint64_t unsigned_at(const unsigned char *at, uint32_t size)
{
    uint8_t u8;
    uint16_t u16;
    uint32_t u32;
    uint64_t u64;
    switch (size) {
    case 1: memcpy(&u8, at, sizeof u8); return u8;
    case 2: memcpy(&u16, at, sizeof u16); return u16;
    case 4: memcpy(&u32, at, sizeof u32); return u32;
    default: memcpy(&u64, at, sizeof u64); return u64;
    }
}

static int64_t signed_at(const unsigned char *at, uint32_t size)
{
    int unused = 64 - 8 * (int)size;
    uint64_t bits = unsigned_at(at, size) << unused;
    int64_t value;
    memcpy(&value, &bits, sizeof value);
    return value / ((int64_t)1 << unused);
}

static double float_at(const unsigned char *at, uint32_t size)
{
    float single;
    double whole;
    memcpy(&single, at, sizeof single);
    if (size == sizeof single)
        return (double)single;
    memcpy(&whole, at, sizeof whole);
    return whole;
}

int kr_field_text(const struct kr_field *field, const void *of, char *text, size_t size)
{
    const struct type *type = &types[field->number];
    const unsigned char *at = (const unsigned char *)of + field->offset;
    switch (type->kind) {
    case SIGNED:
    case TEXT: return snprintf(text, size, "%" PRId64, signed_at(at, type->size));
    case FLOAT: return snprintf(text, size, "%.17g", float_at(at, type->size));
    case UNSIGNED:
    case BOOL:
    case ENUM:
    case ARRAY:
    case STRUCT: break;
    }
    return snprintf(text, size, "%" PRIu64, unsigned_at(at, type->size));
}
