#include "kniferail/suggest.h"

#include <string.h>

#define LONGEST 63

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

/* Returns how many letters have to be inserted, deleted, changed or swapped with their neighbour (Damerau's distance,
 * with adjacent swaps only). */
static size_t distance(const char *a, const char *b)
{
    size_t n = strlen(a), m = strlen(b), d[3][LONGEST + 1];
    if (n > LONGEST || m > LONGEST)
        return LONGEST;
    for (size_t j = 0; j <= m; j++)
        d[0][j] = j;
    for (size_t i = 1; i <= n; i++) {
        size_t *row = d[i % 3], *above = d[(i + 2) % 3], *two_above = d[(i + 1) % 3];
        row[0] = i;
        for (size_t j = 1; j <= m; j++) {
            row[j] = least(above[j - 1] + (a[i - 1] != b[j - 1]), 1 + least(above[j], row[j - 1]));
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                row[j] = least(row[j], two_above[j - 2] + 1);
        }
    }
    return d[n % 3][m];
}

/* The unit is often forgotten, so "widest" counts as nearer to "widest_mm" than the three missing letters would. */
static size_t apart(const char *written, const char *name)
{
    size_t n = strlen(written);
    if (n > 2 && strncmp(written, name, n) == 0 && name[n] == '_')
        return 1;
    return distance(written, name);
}

const char *kr_suggest(const char *written, const char *const names[], size_t n)
{
    const char *nearest = NULL;
    size_t best = 1 + least(3, 1 + strlen(written) / 4);
    for (size_t i = 0; i < n; i++) {
        size_t d = apart(written, names[i]);
        if (d < best) {
            best = d;
            nearest = names[i];
        }
    }
    return nearest;
}
