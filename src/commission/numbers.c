#include "numbers.h"

#include <stdio.h>

const char *numbers_text(const uint16_t number[], uint16_t n, char *text, size_t size)
{
    size_t used = 0;
    text[0] = '\0';
    for (uint16_t i = 0; i < n && used < size;) {
        uint16_t last = i;
        while (last + 1 < n && number[last + 1] == number[last] + 1)
            last++;
        const char *before = used > 0 ? ", " : "";
        if (last >= i + 2) {
            used += (size_t)snprintf(text + used, size - used, "%s%u to %u", before, number[i], number[last]);
            i = (uint16_t)(last + 1);
        } else {
            used += (size_t)snprintf(text + used, size - used, "%s%u", before, number[i++]);
        }
    }
    return text;
}
