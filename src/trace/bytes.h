/* Private to src/trace: the numbers and texts of a file's head, in a byte order that does not depend on the machine. */
#ifndef KR_TRACE_BYTES_H
#define KR_TRACE_BYTES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

static inline void put_number(unsigned char **to, uint64_t value, int bytes)
{
    for (int i = 0; i < bytes; i++, value >>= 8)
        *(*to)++ = (unsigned char)value;
}

static inline uint64_t get_number(const unsigned char **from, int bytes)
{
    uint64_t value = 0;
    for (int i = 0; i < bytes; i++)
        value |= (uint64_t) * (*from)++ << (8 * i);
    return value;
}

#endif
