#include <string.h>

#include "segment.h"

/* Compares eight bytes at a time, because most of them are the same. */
static size_t same_until(const unsigned char *a, const unsigned char *b, size_t at, size_t bytes)
{
    while (at + 8 <= bytes) {
        uint64_t x, y;
        memcpy(&x, a + at, sizeof x);
        memcpy(&y, b + at, sizeof y);
        if (x != y)
            break;
        at += 8;
    }
    while (at < bytes && memcmp(a + at, b + at, 2) == 0)
        at += 2;
    return at;
}

static unsigned char *skip(unsigned char *to, size_t words)
{
    for (; words > SKIP_MORE_WORDS; words -= SKIP_MORE_WORDS)
        *to++ = SKIP_MORE;
    *to++ = (unsigned char)words;
    return to;
}

size_t change_write(unsigned char *to, const void *was, const void *is, size_t bytes)
{
    unsigned char *next = to + 2;
    const unsigned char *old = was, *now = is;
    uint16_t count = 0;
    size_t behind = 0; /* the last word that was written */
    for (size_t at = 0; (at = same_until(old, now, at, bytes)) < bytes; at += 2) {
        next = skip(next, (at - behind) / 2);
        memcpy(next, now + at, 2);
        next += 2;
        behind = at + 2;
        count++;
    }
    if (count == 0)
        return 0;
    memcpy(to, &count, sizeof count);
    return (size_t)(next - to);
}

size_t change_read(const unsigned char *from, size_t left, void *of, size_t bytes)
{
    const unsigned char *next = from, *end = from + left;
    uint16_t count;
    size_t at = 0;
    if (left < sizeof count)
        return 0;
    memcpy(&count, next, sizeof count);
    next += sizeof count;
    while (count > 0) {
        if (next == end)
            return 0;
        unsigned words = *next++;
        bool more = words == SKIP_MORE;
        at += 2 * (size_t)(more ? SKIP_MORE_WORDS : words);
        if (more)
            continue;
        if (end - next < 2 || at + 2 > bytes)
            return 0;
        memcpy((unsigned char *)of + at, next, 2);
        next += 2;
        at += 2;
        count--;
    }
    return (size_t)(next - from);
}
