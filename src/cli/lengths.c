#include "lengths.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "cli.h"
#include "kniferail/quantity.h"

#define DIGITS "0123456789"

bool length_read(const char *command, const char *what, const char *text, enum kr_length_unit unit, int64_t *nm)
{
    char why[160];
    enum kr_quantity_answer answer = kr_length_read(text, unit == KR_LENGTH_INCH ? "in" : "mm", nm);
    if (answer == KR_QUANTITY_OK)
        return true;
    kr_quantity_why(answer, text, KR_DIM_LENGTH, why, sizeof why);
    kr_usage(command, "%s: '%s'%s; a length is 25.4 or 3 5/8, with or without its unit behind it", what, text, why);
    return false;
}

/* "62,5 in" could be one width with a decimal comma, or two widths; where knives cut must not be guessed. Returns the
 * length of such a pair at the beginning of text, or 0. */
static size_t ambiguous_pair(const char *text)
{
    size_t whole = strspn(text, DIGITS);
    if (whole == 0 || text[whole] != ',')
        return 0;
    const char *second = text + whole + 1, *unit = second + strspn(second, DIGITS);
    if (unit == second)
        return 0;
    unit += strspn(unit, " ");
    return isalpha((unsigned char)*unit) ? whole + 1 + strcspn(second, ",") : 0;
}

static bool tell_pair(const char *command, const char *what, const char *text, int length)
{
    int whole = (int)strspn(text, DIGITS);
    kr_usage(command,
             "%s: '%.*s' is one length or two: one needs a decimal point, as %.*s.%.*s; of two, both need a unit", what,
             length, text, whole, text, length - whole - 1, text + whole + 1);
    return false;
}

static bool read_one(const char *command, const char *what, const char *text, size_t length, enum kr_length_unit unit,
                     int64_t *nm)
{
    char word[64];
    size_t pair = ambiguous_pair(text);
    if (pair > 0)
        return tell_pair(command, what, text, (int)pair);
    if (length >= sizeof word) {
        kr_usage(command, "%s: '%.*s...' is longer than %zu characters", what, (int)sizeof word - 1, text,
                 sizeof word - 1);
        return false;
    }
    snprintf(word, sizeof word, "%.*s", (int)length, text);
    return length_read(command, what, word, unit, nm);
}

bool lengths_read(const char *command, const char *what, const char *text, enum kr_length_unit unit, int64_t nm[],
                  int most, uint16_t *n)
{
    *n = 0;
    for (const char *p = text;; p++) {
        size_t length = strcspn(p, ",");
        if (*n == most) {
            kr_usage(command, "%s: there are more than %d lengths", what, most);
            return false;
        }
        if (!read_one(command, what, p, length, unit, &nm[*n]))
            return false;
        ++*n;
        p += length;
        if (*p == '\0')
            return true;
    }
}
