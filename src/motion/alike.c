/* Finds deviations that holders have in common. Hands, brakes and slips move each holder differently. A deviation that
 * is the same for all holders, or grows along the rail, comes from the rail itself: the datum, the scale or the switch.
 * Two holders can agree on a shift. A deviation that grows along the rail takes three, because a line leads through any
 * two. */
#include "alike.h"

#include <string.h>

#define FEWEST_SHIFTED 2
#define FEWEST_SCALED  3

static int64_t magnitude(int64_t value)
{
    return value < 0 ? -value : value;
}

static bool is_most(uint16_t part, uint16_t of)
{
    return 2 * part > of;
}

static uint16_t agree(const struct found found[], uint16_t n, int32_t off_um, int32_t limit_um)
{
    uint16_t k = 0;
    for (uint16_t i = 0; i < n; i++)
        k = (uint16_t)(k + (magnitude((int64_t)found[i].off_um - off_um) <= limit_um));
    return k;
}

static void sort_by_off(struct found found[], uint16_t n)
{
    for (uint16_t i = 1; i < n; i++)
        for (uint16_t k = i; k > 0 && found[k].off_um < found[k - 1].off_um; k--) {
            struct found other = found[k];
            found[k] = found[k - 1];
            found[k - 1] = other;
        }
}

/* Returns the deviation that a holder at at_um has by the line through a and b. */
static int64_t on_line_um(const struct found *a, const struct found *b, int32_t at_um)
{
    int64_t way_um = (int64_t)b->at_um - a->at_um, rise_um = (int64_t)b->off_um - a->off_um;
    return way_um == 0 ? a->off_um : a->off_um + rise_um * ((int64_t)at_um - a->at_um) / way_um;
}

static bool is_on_line(const struct found *a, const struct found *b, const struct found *c, int32_t limit_um)
{
    return magnitude(c->off_um - on_line_um(a, b, c->at_um)) <= limit_um;
}

/* A line on which most holders lie leads through two of them. Each holder is tried with the one that is half of their
 * number further on, counted in a circle. If more than half lie on a line, at least one such pair does, and its two are
 * far apart. */
static bool scaled(const struct found found[], uint16_t n, int32_t limit_um, int32_t *shift_um)
{
    for (uint16_t i = 0; i < n; i++) {
        const struct found *a = &found[i], *b = &found[(i + n / 2) % n];
        int32_t furthest_um = 0;
        uint16_t on_line = 0;
        for (uint16_t k = 0; k < n; k++) {
            if (!is_on_line(a, b, &found[k], limit_um))
                continue;
            on_line++;
            if (magnitude(found[k].off_um) > magnitude(furthest_um))
                furthest_um = found[k].off_um;
        }
        *shift_um = furthest_um;
        if (on_line >= FEWEST_SCALED && is_most(on_line, n) && magnitude(furthest_um) > limit_um)
            return true;
    }
    *shift_um = 0;
    return false;
}

static int32_t middle_off_um(const struct found found[], uint16_t n)
{
    struct found sorted[KR_HOLDERS_MAX];
    memcpy(sorted, found, n * sizeof found[0]);
    sort_by_off(sorted, n);
    return sorted[(n - 1) / 2].off_um;
}

enum alike alike_of(const struct found found[], uint16_t n, int32_t limit_um, int32_t *shift_um)
{
    *shift_um = 0;
    if (n < FEWEST_SHIFTED)
        return ALIKE_UNKNOWN;
    if (is_most(agree(found, n, 0, limit_um), n))
        return ALIKE_RIGHT;
    int32_t middle_um = middle_off_um(found, n);
    uint16_t alike = agree(found, n, middle_um, limit_um);
    if (alike >= FEWEST_SHIFTED && is_most(alike, n) && magnitude(middle_um) > limit_um) {
        *shift_um = middle_um;
        return ALIKE_SHIFTED;
    }
    return scaled(found, n, limit_um, shift_um) ? ALIKE_SCALED : ALIKE_UNKNOWN;
}

uint16_t alike_mean(const struct found found[], uint16_t n, int32_t limit_um, int32_t *at_um, int32_t *off_um)
{
    *at_um = *off_um = 0;
    if (n < FEWEST_SHIFTED)
        return 0;
    int32_t middle_um = middle_off_um(found, n);
    uint16_t alike = agree(found, n, middle_um, limit_um);
    if (alike < FEWEST_SHIFTED || !is_most(alike, n))
        return 0;
    int64_t at = 0, off = 0;
    for (uint16_t i = 0; i < n; i++) {
        bool is_alike = magnitude((int64_t)found[i].off_um - middle_um) <= limit_um;
        at += is_alike ? found[i].at_um : 0;
        off += is_alike ? found[i].off_um : 0;
    }
    *at_um = (int32_t)(at / alike);
    *off_um = (int32_t)(off / alike);
    return alike;
}
