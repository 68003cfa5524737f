/* Flags found by a scan, matched in rail order to the holders that are known to be there. One missing or one extra is
 * named, not guessed. */
#include "state.h"

#include <string.h>

/* The least-cost alignment of n expected flags with m found ones, order kept, as sequences are aligned (Needleman and
 * Wunsch 1970, J. Mol. Biol. 48(3), 443-453): a pair costs how far the found flag lies outside of where the expected
 * one can be; a flag without a partner costs `alone`, so that two that lie further apart than twice that are no pair.
 * Where several alignments cost the same, only what all of them say is known. */
struct expected {
    uint16_t holder;
    int32_t low_um, high_um; /* a known holder: where it was; an unknown one: between its known neighbours */
};

enum { PAIR = 1, MISSING = 2, EXTRA = 4 };

struct matching {
    uint16_t n, m;
    struct expected expected[KR_HOLDERS_MAX];
    const struct hit *found;
    int64_t alone_um;
    uint8_t best[KR_HOLDERS_MAX + 1][HITS_MAX + 1]; /* which last steps lead here at least cost */
    uint16_t partner[KR_HOLDERS_MAX]; /* of each expected flag: of the found one, from 1; 0: unsure */
};

/* ---- what is expected --------------------------------------------------------------------------------------------- */

/* No centre comes nearer to a neighbour's than half of what the two should keep. */
static int32_t beside_um(const struct kr_station *s, const struct kr_holder_data *known,
                         const struct kr_holder_data *unknown, int side)
{
    int32_t spacing_um = kr_spacing_um(&s->config.geometry, known->holder_class, unknown->holder_class);
    return known->position_um + side * (spacing_um / 2);
}

static void expect(const struct kr_station *s, const struct carriage *c, struct matching *a)
{
    const struct kr_holder_data *row = s->durable.holder[c->rail], *left = NULL, *right = NULL;
    for (uint16_t i = 0; i < s->config.geometry.rail[c->rail].n_holders; i++)
        if (holder_present(&row[i]))
            a->expected[a->n++] =
                (struct expected){(uint16_t)(i + 1), row[i].position_um, row[i].position_um};
    for (uint16_t i = 0; i < a->n; i++) {
        const struct kr_holder_data *h = &row[a->expected[i].holder - 1];
        if (h->known != KR_UNKNOWN)
            left = h;
        else
            a->expected[i].low_um = left ? beside_um(s, left, h, 1) : INT32_MIN;
    }
    for (uint16_t i = a->n; i > 0; i--) {
        const struct kr_holder_data *h = &row[a->expected[i - 1].holder - 1];
        if (h->known != KR_UNKNOWN)
            right = h;
        else
            a->expected[i - 1].high_um = right ? beside_um(s, right, h, -1) : INT32_MAX;
    }
}

static int64_t outside_um(const struct expected *e, int32_t found_um)
{
    if (found_um < e->low_um)
        return (int64_t)e->low_um - found_um;
    return found_um > e->high_um ? (int64_t)found_um - e->high_um : 0;
}

/* ---- the alignment ------------------------------------------------------------------------------------------------ */

static int64_t least_of(int64_t a, int64_t b, int64_t c)
{
    int64_t least = a < b ? a : b;
    return c < least ? c : least;
}

static void align(struct matching *a)
{
    int64_t row[2][HITS_MAX + 1];
    for (uint16_t i = 0; i <= a->n; i++) {
        int64_t *here = row[i % 2];
        const int64_t *above = row[(i + 1) % 2];
        for (uint16_t j = 0; j <= a->m; j++) {
            int64_t paired = INT64_MAX, missing = INT64_MAX, extra = INT64_MAX;
            if (i > 0 && j > 0)
                paired = above[j - 1] + outside_um(&a->expected[i - 1], a->found[j - 1].at_um);
            if (i > 0)
                missing = above[j] + a->alone_um;
            if (j > 0)
                extra = here[j - 1] + a->alone_um;
            int64_t least = least_of(paired, missing, extra);
            here[j] = i + j == 0 ? 0 : least;
            a->best[i][j] = (uint8_t)((paired == least ? PAIR : 0) | (missing == least ? MISSING : 0) |
                                      (extra == least ? EXTRA : 0));
        }
    }
}

/* One of the best alignments: where it has a choice it pairs as late, or as early, as it can. */
static void trace(const struct matching *a, bool late, uint16_t partner[KR_HOLDERS_MAX])
{
    memset(partner, 0, KR_HOLDERS_MAX * sizeof partner[0]);
    for (uint16_t i = a->n, j = a->m; i > 0 && j > 0;) {
        uint8_t best = a->best[i][j];
        if (best & PAIR && (late || best == PAIR)) {
            partner[--i] = j--;
        } else if (best & MISSING) {
            i--;
        } else {
            j--;
        }
    }
}

static void pair_up(struct matching *a)
{
    uint16_t late[KR_HOLDERS_MAX], early[KR_HOLDERS_MAX];
    align(a);
    trace(a, true, late);
    trace(a, false, early);
    for (uint16_t i = 0; i < a->n; i++)
        a->partner[i] = late[i] == early[i] ? late[i] : 0;
}

/* ---- what follows from it ----------------------------------------------------------------------------------------- */

static void unknown(struct kr_station *s, struct carriage *c, uint16_t holder)
{
    holder_set(s, c->rail, holder, s->durable.holder[c->rail][holder - 1].position_um, KR_UNKNOWN);
}

/* The same holder's flag, wider or narrower than ever since the start: something beside it, or a switch that failed in
 * the middle of it. Somebody has to look; after that it is taken as it is. */
static bool has_changed(struct kr_station *s, struct carriage *c, uint16_t holder, struct hit found)
{
    int32_t *width_um = &s->flag_width_um[c->rail][holder - 1], before_um = *width_um;
    if (before_um == 0 ||
        widths_agree(found.width_um, before_um, s->config.carriage[c->rail].flag_width_um)) {
        *width_um = found.width_um;
        return false;
    }
    *width_um = 0;
    carriage_trip(s, c, KR_ALARM_FLAG_WIDTH, 0, found.at_um, before_um);
    return true;
}

static bool measured(struct kr_station *s, struct carriage *c, uint16_t holder, struct hit found)
{
    const struct kr_holder_data *data = &s->durable.holder[c->rail][holder - 1];
    int32_t limit_um = s->config.carriage[c->rail].displaced_um;
    int64_t off_um = (int64_t)found.at_um - data->position_um;
    if (has_changed(s, c, holder, found)) {
        unknown(s, c, holder);
        return false;
    }
    if (data->known != KR_UNKNOWN && (off_um > limit_um || off_um < -limit_um))
        alarm_raise(s, (struct kr_alarm){KR_ALARM_FLAG_DISPLACED, (uint16_t)(c->rail + 1), holder,
                                         (int32_t)off_um, limit_um});
    holder_set(s, c->rail, holder, found.at_um, KR_MEASURED);
    return true;
}

/* As many flags as expected, and yet one seems missing and another extra, with the flags between shifted by one: or
 * hands moved all of these. What only one of the two readings says is not known; somebody has to look. */
static bool pair(struct kr_station *s, struct carriage *c, const struct matching *a, uint16_t i, uint16_t j)
{
    if (a->n != a->m || i == j)
        return measured(s, c, a->expected[i].holder, a->found[j]);
    unknown(s, c, a->expected[i].holder);
    return true; /* what is missing or extra beside it says why */
}

/* Between two sure pairs: expected flags i to i_end, found ones j to j_end (from 0, ends excluded). As many of each:
 * they are these holders, wherever they were before. Else one is missing or extra; it has a name if there is no other
 * that it could be. */
static bool settle(struct kr_station *s, struct carriage *c, const struct matching *a, uint16_t i,
                   uint16_t i_end, uint16_t j, uint16_t j_end)
{
    uint16_t missing = (uint16_t)(i_end - i), extra = (uint16_t)(j_end - j);
    if (missing == extra) {
        bool good = true;
        for (; i < i_end; i++, j++)
            good = pair(s, c, a, i, j) && good;
        return good;
    }
    uint16_t left = i > 0 ? a->expected[i - 1].holder : 0;
    for (uint16_t k = i; k < i_end; k++)
        unknown(s, c, a->expected[k].holder);
    if (missing > extra)
        carriage_trip(s, c, KR_ALARM_FLAG_MISSING, extra == 0 && missing == 1 ? a->expected[i].holder : 0,
                      a->m, a->n);
    else
        carriage_trip(s, c, KR_ALARM_FLAG_EXTRA, left, a->found[j].at_um, a->n);
    return false;
}

static bool settle_all(struct kr_station *s, struct carriage *c, const struct matching *a)
{
    uint16_t i = 0, j = 0;
    bool good = true;
    for (uint16_t k = 0; k < a->n; k++) {
        if (a->partner[k] == 0)
            continue;
        good = settle(s, c, a, i, k, j, (uint16_t)(a->partner[k] - 1)) && good;
        good = pair(s, c, a, k, (uint16_t)(a->partner[k] - 1)) && good;
        i = (uint16_t)(k + 1);
        j = a->partner[k];
    }
    return settle(s, c, a, i, a->n, j, a->m) && good;
}

/* True if every holder was found. Flags come in growing order. */
bool match_hits(struct kr_station *s, struct carriage *c, const struct hit hit[], uint16_t n_hits)
{
    struct matching a = {.m = n_hits, .found = hit, .alone_um = s->config.carriage[c->rail].displaced_um};
    expect(s, c, &a);
    pair_up(&a);
    return settle_all(s, c, &a);
}
