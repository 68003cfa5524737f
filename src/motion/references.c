/* Finds the references among the flags of a scan, and the line along the rail on which their deviations lie. */
#include "kniferail/references.h"

#include <string.h>

static int64_t magnitude(int64_t value)
{
    return value < 0 ? -value : value;
}

/* ---- the pattern ----------------------------------------------------------------------------------------------- */

struct search {
    const struct kr_references *pattern;
    bool mirrored;
    const struct kr_hit *hit;
    uint16_t n;
};

static const struct kr_reference *flag_of(const struct search *s, uint16_t i)
{
    return &s->pattern->flag[s->mirrored ? s->pattern->n - 1 - i : i];
}

static int64_t place_of(const struct search *s, uint16_t i)
{
    return s->mirrored ? -(int64_t)flag_of(s, i)->at_um : flag_of(s, i)->at_um;
}

/* References are the outermost flags of a scan, and each side has a known number of them. Their own switch sees no
 * other flags. */
static bool may_be(const struct search *s, uint16_t i, uint16_t j)
{
    if (s->pattern->own_switch)
        return true;
    uint16_t n = s->pattern->n, n_low = s->mirrored ? (uint16_t)(n - s->pattern->n_low) : s->pattern->n_low;
    return i < n_low ? j < n_low : j + n - n_low >= s->n;
}

/* Returns the number, from 1, of the flag that is nearest to the reference's place within within_um; 0: there is
 * none. */
static uint16_t partner(const struct search *s, uint16_t i, int64_t shift_um, int64_t within_um)
{
    uint16_t best = 0;
    for (uint16_t j = 0; j < s->n; j++) {
        int64_t away_um = magnitude(s->hit[j].at_um - place_of(s, i) - shift_um);
        if (may_be(s, i, j) && away_um <= within_um) {
            best = (uint16_t)(j + 1);
            within_um = away_um;
        }
    }
    return best;
}

static void try_shift(const struct search *s, int64_t shift_um, struct kr_pattern_found *best)
{
    struct kr_pattern_found found = {.shift_um = (int32_t)shift_um};
    for (uint16_t i = 0; i < s->pattern->n; i++) {
        found.hit[i] = partner(s, i, shift_um, KR_REFERENCE_SAME_UM);
        found.n = (uint16_t)(found.n + (found.hit[i] != 0));
    }
    bool nearer = found.n == best->n && magnitude(shift_um) < magnitude(best->shift_um);
    if (found.n > best->n || nearer)
        *best = found;
}

static bool is_taken(const struct kr_pattern_found *found, uint16_t hit_number)
{
    for (uint16_t i = 0; i < KR_REFERENCES_MAX; i++)
        if (found->hit[i] == hit_number)
            return true;
    return false;
}

/* Dirt beside a reference may shift its middle by more than the tolerance of distances. A flag that touches the
 * reference's place is that reference all the same. */
static void claim_dirty(const struct search *s, struct kr_pattern_found *found)
{
    for (uint16_t i = 0; i < s->pattern->n; i++)
        for (uint16_t j = 0; j < s->n && found->hit[i] == 0; j++) {
            int64_t away_um = magnitude(s->hit[j].at_um - place_of(s, i) - found->shift_um);
            int64_t reach_um = ((int64_t)s->hit[j].width_um + flag_of(s, i)->width_um) / 2;
            if (away_um < reach_um && may_be(s, i, j) && !is_taken(found, (uint16_t)(j + 1)))
                found->hit[i] = (uint16_t)(j + 1);
        }
}

struct kr_pattern_found kr_pattern_find(const struct kr_references *pattern, bool mirrored, const struct kr_hit hit[],
                                        uint16_t n)
{
    struct search s = {pattern, mirrored, hit, n};
    struct kr_pattern_found best = {0};
    for (uint16_t i = 0; i < pattern->n; i++)
        for (uint16_t j = 0; j < n; j++) {
            int64_t shift_um = hit[j].at_um - place_of(&s, i);
            if (may_be(&s, i, j) && shift_um >= INT32_MIN && shift_um <= INT32_MAX)
                try_shift(&s, shift_um, &best);
        }
    if (best.n > 0)
        claim_dirty(&s, &best);
    return best;
}

bool kr_patterns_alike(const struct kr_references *a, const struct kr_references *b, bool mirrored)
{
    struct kr_hit hit[KR_REFERENCES_MAX];
    uint16_t fewer = a->n < b->n ? a->n : b->n;
    if (fewer < 2 || a->own_switch != b->own_switch) /* one of the switches does not see the other's flags */
        return false;
    for (uint16_t i = 0; i < a->n; i++)
        hit[i] = (struct kr_hit){a->flag[i].at_um, a->flag[i].width_um};
    return kr_pattern_find(b, mirrored, hit, a->n).n >= fewer;
}

/* ---- the line -------------------------------------------------------------------------------------------------- */

#define PPB 1000000000

int32_t kr_off_line_um(const struct kr_off_line *line, int64_t place_um)
{
    int64_t off_um = line->off_um + line->slope_ppb * (place_um - line->at_um) / PPB;
    return (int32_t)(off_um > INT32_MAX ? INT32_MAX : off_um < INT32_MIN ? INT32_MIN : off_um);
}

/* Returns the distance of c from the line through a and b. */
static int64_t beside_um(const struct kr_off *a, const struct kr_off *b, const struct kr_off *c)
{
    int64_t way_um = (int64_t)b->at_um - a->at_um, rise_um = (int64_t)b->off_um - a->off_um;
    int64_t there_um = way_um == 0 ? a->off_um : a->off_um + rise_um * ((int64_t)c->at_um - a->at_um) / way_um;
    return magnitude(c->off_um - there_um);
}

/* Marks the flags that don't lie on the line on which most of three or more lie. Two are not enough, because a line
 * leads through any two. */
static void set_apart(struct kr_off off[], uint16_t n, int32_t limit_um)
{
    uint16_t most = 2, a_most = 0, b_most = 0;
    for (uint16_t a = 0; a < n; a++)
        for (uint16_t b = (uint16_t)(a + 1); b < n; b++) {
            uint16_t on = 0;
            for (uint16_t c = 0; c < n; c++)
                on = (uint16_t)(on + (beside_um(&off[a], &off[b], &off[c]) <= limit_um));
            if (on > most) {
                most = on;
                a_most = a;
                b_most = b;
            }
        }
    for (uint16_t c = 0; c < n; c++)
        off[c].apart = most > 2 && 2 * most > n && beside_um(&off[a_most], &off[b_most], &off[c]) > limit_um;
}

struct sums {
    int64_t n, at_um, off_um, low_um, high_um;
};

static struct sums sums_of(const struct kr_off off[], uint16_t n)
{
    struct sums s = {.low_um = INT64_MAX, .high_um = INT64_MIN};
    for (uint16_t i = 0; i < n; i++) {
        if (off[i].apart)
            continue;
        s.n++;
        s.at_um += off[i].at_um;
        s.off_um += off[i].off_um;
        s.low_um = off[i].at_um < s.low_um ? off[i].at_um : s.low_um;
        s.high_um = off[i].at_um > s.high_um ? off[i].at_um : s.high_um;
    }
    return s;
}

/* Least squares. Places reach 2e7 um, and deviations at most 2e7 um, so that sums of eight products fit in 64 bits. The
 * divisor is scaled down before the dividend is scaled up. */
static int64_t slope_ppb(const struct kr_off off[], uint16_t n, const struct kr_off_line *mean)
{
    int64_t xx = 0, xy = 0;
    for (uint16_t i = 0; i < n; i++) {
        int64_t x = (int64_t)off[i].at_um - mean->at_um, y = (int64_t)off[i].off_um - mean->off_um;
        xx += off[i].apart ? 0 : x * x;
        xy += off[i].apart ? 0 : x * y;
    }
    return xx < 1000000 ? 0 : xy * 1000 / (xx / 1000000);
}

struct kr_off_line kr_off_line_through(struct kr_off off[], uint16_t n, int32_t limit_um, int32_t span_um)
{
    set_apart(off, n, limit_um);
    struct sums s = sums_of(off, n);
    if (s.n == 0)
        return (struct kr_off_line){0};
    struct kr_off_line line = {(int32_t)(s.at_um / s.n), (int32_t)(s.off_um / s.n), 0};
    if (s.n >= 2 && s.high_um - s.low_um >= span_um) {
        int64_t slope = slope_ppb(off, n, &line);
        line.slope_ppb = (int32_t)(slope > PPB ? PPB : slope < -PPB ? -PPB : slope);
    }
    return line;
}
