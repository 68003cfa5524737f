#include "kniferail/quantity.h"

#include <ctype.h>
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* Wide enough for every product below: 18 digits x the largest unit x the denominator of a fraction. */
__extension__ typedef __int128 wide;

static const struct kr_scale scales[] = {
    {"_mm_per_s2", KR_DIM_ACCEL, 1000000, "mm/s2"},
    {"_mm_per_s", KR_DIM_SPEED, 1000000, "mm/s"},
    {"_um_per_s2", KR_DIM_ACCEL, 1000, "um/s2"},
    {"_um_per_s", KR_DIM_SPEED, 1000, "um/s"},
    {"_mm", KR_DIM_LENGTH, 1000000, "mm"},
    {"_um", KR_DIM_LENGTH, 1000, "um"},
    {"_nm", KR_DIM_LENGTH, 1, "nm"},
    {"_ms", KR_DIM_TIME, 1000, "ms"},
    {"_us", KR_DIM_TIME, 1, "us"},
    {"_ppm", KR_DIM_NUMBER, 1000, "ppm"},
    {"_ppb", KR_DIM_NUMBER, 1, "ppb"},
    {"_percent", KR_DIM_NUMBER, 1, "%"},
    {"", KR_DIM_NUMBER, 1, ""},
};

/* den is needed for metres and feet per minute, which are not whole numbers of nanometres per second. */
static const struct unit {
    const char *name;
    enum kr_dimension dimension;
    int64_t num, den;
} units[] = {
    {"mm", KR_DIM_LENGTH, 1000000, 1},
    {"um", KR_DIM_LENGTH, 1000, 1},
    {"nm", KR_DIM_LENGTH, 1, 1},
    {"m", KR_DIM_LENGTH, 1000000000, 1},
    {"in", KR_DIM_LENGTH, 25400000, 1},
    {"ft", KR_DIM_LENGTH, 304800000, 1},
    {"ms", KR_DIM_TIME, 1000, 1},
    {"us", KR_DIM_TIME, 1, 1},
    {"s", KR_DIM_TIME, 1000000, 1},
    {"min", KR_DIM_TIME, 60000000, 1},
    {"mm/s", KR_DIM_SPEED, 1000000, 1},
    {"m/s", KR_DIM_SPEED, 1000000000, 1},
    {"m/min", KR_DIM_SPEED, 1000000000, 60},
    {"in/s", KR_DIM_SPEED, 25400000, 1},
    {"ft/min", KR_DIM_SPEED, 304800000, 60},
    {"mm/s2", KR_DIM_ACCEL, 1000000, 1},
    {"m/s2", KR_DIM_ACCEL, 1000000000, 1},
    {"in/s2", KR_DIM_ACCEL, 25400000, 1},
};
#define N_UNITS (sizeof units / sizeof units[0])

#define MOST_DIGITS   18                  /* the most digits of a number */
#define MOST_MANTISSA 1000000000000000000 /* 10 to the power of MOST_DIGITS */
#define MOST_FRACTION 1000000             /* the greatest numerator and denominator of a common fraction */

struct rational {
    int64_t num, den; /* den > 0 */
};

const struct kr_scale *kr_scale_of(const char *name)
{
    size_t length = strlen(name);
    if (length && name[length - 1] == ']') /* for an element of an array, the unit stands before the index */
        while (length && name[--length] != '[') {
        }
    for (const struct kr_scale *s = scales;; s++) {
        size_t n = strlen(s->suffix);
        if (n <= length && memcmp(name + length - n, s->suffix, n) == 0)
            return s;
    }
}

const char *kr_quantity_units(enum kr_dimension dimension)
{
    switch (dimension) {
    case KR_DIM_LENGTH: return "mm, um, nm, m, in, ft";
    case KR_DIM_TIME: return "ms, us, s, min";
    case KR_DIM_SPEED: return "mm/s, m/s, m/min, in/s, ft/min";
    case KR_DIM_ACCEL: return "mm/s2, m/s2, in/s2";
    case KR_DIM_NUMBER: break;
    }
    return "";
}

/* ---- the number ------------------------------------------------------------------------------------------- */

/* Appends decimal digits to *value; false if there are too many. */
static bool take_digits(const char **p, int64_t *value, int *n)
{
    for (*n = 0; isdigit((unsigned char)**p); (*p)++, (*n)++) {
        if (*value >= MOST_MANTISSA / 10)
            return false;
        *value = *value * 10 + (**p - '0');
    }
    return true;
}

static bool scale_by_ten(int64_t *value)
{
    if (*value >= MOST_MANTISSA / 10)
        return false;
    *value *= 10;
    return true;
}

/* Reads an exponent, such as "e-3", after a decimal number. */
static enum kr_quantity_answer take_exponent(const char **p, struct rational *r)
{
    if (**p != 'e' && **p != 'E')
        return KR_QUANTITY_OK;
    (*p)++;
    bool negative = **p == '-';
    if (**p == '-' || **p == '+')
        (*p)++;
    int64_t exponent = 0;
    int n;
    if (!take_digits(p, &exponent, &n))
        return KR_QUANTITY_TOO_LARGE;
    if (n == 0)
        return KR_QUANTITY_MALFORMED;
    if (r->num == 0)
        return KR_QUANTITY_OK;
    for (; exponent > 0; exponent--)
        if (!scale_by_ten(negative ? &r->den : &r->num))
            return KR_QUANTITY_TOO_LARGE;
    return KR_QUANTITY_OK;
}

/* Reads "/8", or " 5/8" after a whole number. Leaves *p unchanged if there is no fraction. */
static enum kr_quantity_answer take_fraction(const char **p, struct rational *r)
{
    const char *q = *p;
    int64_t whole = 0, top = r->num, bottom = 0;
    int n;
    if (*q == ' ') {
        q += strspn(q, " ");
        if (!isdigit((unsigned char)*q))
            return KR_QUANTITY_OK;
        whole = r->num;
        top = 0;
        if (!take_digits(&q, &top, &n))
            return KR_QUANTITY_TOO_LARGE;
        if (*q != '/')
            return KR_QUANTITY_MALFORMED;
    }
    if (*q++ != '/')
        return KR_QUANTITY_OK;
    if (!take_digits(&q, &bottom, &n) || whole > MOST_MANTISSA / MOST_FRACTION - 1)
        return KR_QUANTITY_TOO_LARGE;
    if (n == 0 || bottom == 0)
        return KR_QUANTITY_MALFORMED;
    if (top > MOST_FRACTION || bottom > MOST_FRACTION)
        return KR_QUANTITY_TOO_LARGE;
    *r = (struct rational){whole * bottom + top, bottom};
    *p = q;
    return KR_QUANTITY_OK;
}

static enum kr_quantity_answer take_decimals(const char **p, struct rational *r, int whole_digits)
{
    int n = 0;
    (*p)++; /* the point */
    if (!take_digits(p, &r->num, &n))
        return KR_QUANTITY_TOO_LARGE;
    if (n + whole_digits == 0)
        return KR_QUANTITY_MALFORMED;
    for (int i = 0; i < n; i++)
        if (!scale_by_ten(&r->den))
            return KR_QUANTITY_TOO_LARGE;
    return take_exponent(p, r);
}

static enum kr_quantity_answer take_hex(const char **p, struct rational *r)
{
    int n = 0;
    for (*p += 2; isxdigit((unsigned char)**p); (*p)++, n++) {
        if (r->num >= MOST_MANTISSA / 16)
            return KR_QUANTITY_TOO_LARGE;
        int c = tolower((unsigned char)**p);
        r->num = r->num * 16 + (c <= '9' ? c - '0' : c - 'a' + 10);
    }
    return n ? KR_QUANTITY_OK : KR_QUANTITY_MALFORMED;
}

static enum kr_quantity_answer take_unsigned(const char **p, struct rational *r)
{
    int n = 0;
    if ((*p)[0] == '0' && ((*p)[1] == 'x' || (*p)[1] == 'X'))
        return take_hex(p, r);
    if (!take_digits(p, &r->num, &n))
        return KR_QUANTITY_TOO_LARGE;
    if (**p == '.')
        return take_decimals(p, r, n);
    if (n == 0)
        return KR_QUANTITY_MALFORMED;
    if (**p == 'e' || **p == 'E')
        return take_exponent(p, r);
    return take_fraction(p, r);
}

static enum kr_quantity_answer take_number(const char **p, struct rational *r)
{
    bool negative = **p == '-';
    if (**p == '-' || **p == '+')
        (*p)++;
    *r = (struct rational){0, 1};
    enum kr_quantity_answer answer = take_unsigned(p, r);
    if (negative)
        r->num = -r->num;
    return answer;
}

/* ---- the unit --------------------------------------------------------------------------------------------- */

/* Finds the unit of that name; blanks may follow the name. */
static const struct unit *unit_named(const char *name, enum kr_dimension dimension)
{
    size_t length = strcspn(name, " ");
    if (name[length + strspn(name + length, " ")] != '\0')
        return NULL;
    for (size_t i = 0; i < N_UNITS; i++)
        if (units[i].dimension == dimension && strlen(units[i].name) == length &&
            memcmp(units[i].name, name, length) == 0)
            return &units[i];
    return NULL;
}

/* Numbers and counts must be whole: half a holder is a mistake. A length in inches can lie between two micrometres, and
 * is rounded as the register map rounds: to the nearest, halves up. */
static enum kr_quantity_answer keep(struct rational r, int64_t num, int64_t den, const struct kr_scale *kept,
                                    int64_t *value)
{
    wide top = (wide)r.num * num, bottom = (wide)r.den * den * kept->base;
    bool counted = kept->dimension == KR_DIM_NUMBER || kept->dimension == KR_DIM_TIME;
    if (counted && top % bottom != 0)
        return KR_QUANTITY_NOT_WHOLE;
    wide doubled = 2 * top + bottom;
    wide result = doubled / (2 * bottom);
    if (doubled % (2 * bottom) < 0) /* C rounds towards 0, but this must round down */
        result--;
    if (result > INT64_MAX || result < -INT64_MAX)
        return KR_QUANTITY_TOO_LARGE;
    *value = (int64_t)result;
    return KR_QUANTITY_OK;
}

enum kr_quantity_answer kr_quantity_read(const char *text, bool plain, const struct kr_scale *written,
                                         const struct kr_scale *kept, int64_t *value)
{
    struct rational r;
    const char *p = text + strspn(text, " ");
    enum kr_quantity_answer answer = take_number(&p, &r);
    if (answer != KR_QUANTITY_OK)
        return answer;
    p += strspn(p, plain ? "L" : " "); /* the suffix of a 64-bit number in the file */
    if (*p == '\0')
        return plain ? keep(r, written->base, 1, kept, value) : KR_QUANTITY_NO_UNIT;
    if (plain)
        return KR_QUANTITY_MALFORMED;
    const struct unit *unit = unit_named(p, written->dimension);
    return unit ? keep(r, unit->num, unit->den, kept, value) : KR_QUANTITY_WRONG_UNIT;
}

enum kr_quantity_answer kr_length_read(const char *text, const char *bare_unit, int64_t *nm)
{
    static const struct kr_scale kept = {"_nm", KR_DIM_LENGTH, 1, "nm"};
    struct rational r;
    int64_t value;
    const char *p = text + strspn(text, " ");
    enum kr_quantity_answer answer = take_number(&p, &r);
    if (answer != KR_QUANTITY_OK)
        return answer;
    p += strspn(p, " ");
    const struct unit *unit = unit_named(*p ? p : bare_unit, KR_DIM_LENGTH);
    if (unit == NULL)
        return KR_QUANTITY_WRONG_UNIT;
    answer = keep(r, unit->num, unit->den, &kept, &value);
    if (answer == KR_QUANTITY_OK && (value > KR_LENGTH_MOST_NM || value < -KR_LENGTH_MOST_NM))
        answer = KR_QUANTITY_TOO_LARGE;
    if (answer == KR_QUANTITY_OK)
        *nm = value;
    return answer;
}

/* ---- what is wrong ---------------------------------------------------------------------------------------- */

static const char *why_not(enum kr_quantity_answer answer)
{
    switch (answer) {
    case KR_QUANTITY_OK: return "";
    case KR_QUANTITY_MALFORMED: return " is not a number";
    case KR_QUANTITY_NO_UNIT: return " names no unit";
    case KR_QUANTITY_WRONG_UNIT: return " has an unknown or unfit unit";
    case KR_QUANTITY_NOT_WHOLE: return " is not a whole number";
    case KR_QUANTITY_TOO_LARGE: return " has too many digits";
    }
    return "";
}

static bool is_quantity(const char *text, enum kr_dimension dimension)
{
    struct rational r;
    const char *p = text + strspn(text, " ");
    if (take_number(&p, &r) != KR_QUANTITY_OK)
        return false;
    p += strspn(p, " ");
    return *p == '\0' || unit_named(p, dimension) != NULL;
}

/* Copies text, with the first `from` that stands between two digits replaced by `to`. False: the result is not a
 * quantity either. */
static bool respelled(const char *text, char from, char to, enum kr_dimension dimension, char *out, size_t size)
{
    size_t at = 0;
    for (const char *p = text; at == 0 && (p = strchr(p, from)) != NULL; p++)
        if (p > text && isdigit((unsigned char)p[-1]) && isdigit((unsigned char)p[1]))
            at = (size_t)(p - text);
    if (at == 0 || strlen(text) >= size)
        return false;
    memcpy(out, text, strlen(text) + 1);
    out[at] = to;
    return is_quantity(out, dimension);
}

void kr_quantity_why(enum kr_quantity_answer answer, const char *text, enum kr_dimension dimension, char *why,
                     size_t size)
{
    char meant[48];
    if (answer == KR_QUANTITY_MALFORMED || answer == KR_QUANTITY_WRONG_UNIT) {
        if (respelled(text, ',', '.', dimension, meant, sizeof meant)) {
            snprintf(why, size, " has a comma; a decimal point is needed, as %s, and nothing between thousands", meant);
            return;
        }
        if (respelled(text, '-', ' ', dimension, meant, sizeof meant)) {
            snprintf(why, size, " has a hyphen in it; a space is needed before the fraction, as %s", meant);
            return;
        }
    }
    bool unit = answer == KR_QUANTITY_NO_UNIT || answer == KR_QUANTITY_WRONG_UNIT;
    snprintf(why, size, unit ? "%s (%s)" : "%s", why_not(answer), kr_quantity_units(dimension));
}

/* ---- and back --------------------------------------------------------------------------------------------- */

int kr_quantity_text(int64_t value, const struct kr_scale *written, const struct kr_scale *kept, char *text,
                     size_t size)
{
    char decimals[24] = "";
    int64_t ratio =
        /* A power of ten; it is below 1 only if a value is stored in a coarser unit. */
        written->base / kept->base;
    if (ratio == 0) {
        value *= kept->base / written->base;
        ratio = 1;
    }
    uint64_t magnitude = value < 0 ? 0 - (uint64_t)value : (uint64_t)value;
    uint64_t whole = magnitude / (uint64_t)ratio, rest = magnitude % (uint64_t)ratio;
    size_t n = rest ? 1 : 0;
    decimals[0] = rest ? '.' : '\0';
    for (uint64_t place = (uint64_t)ratio / 10; rest && n + 1 < sizeof decimals;
         place /= 10) { /* stops at the last digit that is not 0 */
        decimals[n++] = (char)('0' + rest / place);
        decimals[n] = '\0';
        rest %= place;
    }
    return snprintf(text, size, "%s%" PRIu64 "%s%s%s", value < 0 ? "-" : "", whole, decimals,
                    *written->text && *written->text != '%' ? " " : "", written->text);
}
