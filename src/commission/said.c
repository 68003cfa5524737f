/* Writes lengths and speeds as people at a station read them. */
#include <stdio.h>

#include "kniferail/commission.h"

#define FORMS       (KR_SAID_SHORT | KR_SAID_SETTING | KR_SAID_CELL | KR_SAID_TYPED)
#define MM_PER_INCH (KR_NM_PER_INCH / 1e6)

/* An inch has about a decimal and a half more than a millimetre. The registers of a station in inches count 0.0001 in,
 * so that a length of 0.001 mm has no more decimals than that. */
static int inch_decimals(int decimals)
{
    static const int of[] = {2, 3, 4, 4, 5};
    int most = (int)(sizeof of / sizeof of[0]) - 1;
    return of[decimals < 0 ? 0 : decimals > most ? most : decimals];
}

static void number_text(unsigned as, int decimals, double value, char text[32])
{
    snprintf(text, 32, as & KR_SAID_SIGNED ? "%+.*f" : "%.*f", decimals, value);
}

const char *kr_said(enum kr_length_unit unit, unsigned as, int decimals, double mm, char text[KR_SAID_MAX])
{
    char in_mm[32], in_inches[32];
    const char *per = as & KR_SAID_SPEED ? "/s" : "";
    number_text(as, decimals, mm, in_mm);
    number_text(as, inch_decimals(decimals), mm / MM_PER_INCH, in_inches);
    if (unit != KR_LENGTH_INCH && (as & FORMS) == KR_SAID_LENGTH)
        snprintf(text, KR_SAID_MAX, "%s mm%s", in_mm, per);
    else if (unit != KR_LENGTH_INCH)
        snprintf(text, KR_SAID_MAX, "%s", in_mm);
    else if (as & KR_SAID_TYPED)
        snprintf(text, KR_SAID_MAX, "%sin%s", in_inches, per);
    else if (as & KR_SAID_CELL)
        snprintf(text, KR_SAID_MAX, "%s [%s in%s]", in_mm, in_inches, per);
    else if (as & KR_SAID_SETTING)
        snprintf(text, KR_SAID_MAX, "%s mm%s [%s in%s]", in_mm, per, in_inches, per);
    else
        snprintf(text, KR_SAID_MAX, "%s in%s (%s mm%s)", in_inches, per, in_mm, per);
    return text;
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Reads a decimal number, which begins the text. Returns its length; 0: there is none. */
static size_t decimal_read(const char *text, double *value, int *decimals)
{
    size_t sign = text[0] == '-', n = sign;
    double parts = 1;
    for (*value = 0; is_digit(text[n]); n++)
        *value = 10 * *value + (text[n] - '0');
    *decimals = 0;
    if (n == sign)
        return 0;
    if (text[n] == '.')
        for (n++; is_digit(text[n]); n++, parts *= 10, ++*decimals)
            *value = 10 * *value + (text[n] - '0');
    *value /= sign ? -parts : parts;
    return n;
}

/* Tells whether the text goes on with that unit, and the unit ends there. */
static bool has_unit(const char *text, const char *unit)
{
    for (; *unit != '\0'; unit++)
        if (*text++ != *unit)
            return false;
    return *text == '\0' || *text == ' ' || *text == ',' || *text == '.' || *text == ';' || *text == ':' ||
           *text == ')';
}

/* Returns the length of a number of mm, or of mm/s, with its unit, which begins the text; 0: there is none. */
static size_t mm_length(const char *text, double *mm, int *decimals, unsigned *as)
{
    static const char length[] = " mm", speed[] = " mm/s";
    size_t n = decimal_read(text, mm, decimals);
    *as = has_unit(text + n, speed) ? KR_SAID_SPEED : KR_SAID_LENGTH;
    if (n > 0 && *as == KR_SAID_SPEED)
        return n + sizeof speed - 1;
    return n > 0 && has_unit(text + n, length) ? n + sizeof length - 1 : 0;
}

const char *kr_said_text(enum kr_length_unit unit, const char *text, char *out, size_t size)
{
    size_t used = 0;
    bool begins = true; /* a word begins here */
    snprintf(out, size, "%s", "");
    while (*text != '\0' && used < size) {
        double mm;
        int decimals;
        unsigned as;
        size_t n = begins ? mm_length(text, &mm, &decimals, &as) : 0;
        if (n > 0)
            used += (size_t)snprintf(out + used, size - used, "%s", KR_SAID(unit, as, decimals, mm));
        else
            used += (size_t)snprintf(out + used, size - used, "%c", *text);
        begins = n == 0 && (*text == ' ' || *text == '(');
        text += n > 0 ? n : 1;
    }
    return out;
}
