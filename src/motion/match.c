/* Matches the flags of a scan, in rail order, to the holders that are known to be there. A missing or extra flag is
 * named, and never guessed. */
#include "match.h"

#include <string.h>

#include "alike.h"
#include "knowledge.h"
#include "trip.h"

/* The least-cost alignment of n expected flags with m found ones in their sequence, as sequences are aligned (Needleman
 * and Wunsch 1970, J. Mol. Biol. 48(3), 443-453). The cost of a pair is the distance of the found flag from the range
 * of the expected one. A flag without a partner costs alone_um, so that two flags further apart than twice alone_um are
 * no pair. If several alignments have the same cost, only what all of them agree on is known. */
struct expected {
    uint16_t holder;
    /* A known holder: its position. An unknown one: the range between its known neighbours. */
    int32_t low_um, high_um;
};

enum { PAIR = 1, MISSING = 2, EXTRA = 4 };

struct matching {
    uint16_t n, m;
    struct expected expected[KR_HOLDERS_MAX];
    const struct kr_hit *found;
    int64_t alone_um;
    uint8_t best[KR_HOLDERS_MAX + 1][KR_HITS_MAX + 1]; /* the last steps that lead here at least cost */
    /* For each expected flag: number of the found one, from 1; 0: unsure. */
    uint16_t partner[KR_HOLDERS_MAX];
    uint16_t seen[KR_HOLDERS_MAX]; /* the final result; 0: not found, or it can't be told */
};

/* ---- the expected flags ------------------------------------------------------------------------------------------ */

/* The centres of two neighbours are at least half of their spacing apart. */
static int32_t beside_um(const struct rail *r, uint16_t known_number, uint16_t unknown_number, int side)
{
    int32_t spacing_um = kr_spacing_um(r->in->geometry, r->in->holder[known_number - 1].holder_size,
                                       r->in->holder[unknown_number - 1].holder_size);
    return knowledge_of(r)->place[known_number - 1].position_um + side * (spacing_um / 2);
}

static bool is_known(const struct rail *r, uint16_t holder_number)
{
    return knowledge_of(r)->place[holder_number - 1].known != KR_UNKNOWN;
}

static void expect(const struct rail *r, struct matching *a)
{
    uint16_t left = 0, right = 0; /* the nearest holder on that side with a known position; 0: none */
    for (uint16_t i = 0; i < r->in->rail->n_holders; i++) {
        int32_t at_um = knowledge_of(r)->place[i].position_um;
        if (is_on_rail(r, i))
            a->expected[a->n++] = (struct expected){(uint16_t)(i + 1), at_um, at_um};
    }
    for (uint16_t i = 0; i < a->n; i++) {
        uint16_t h = a->expected[i].holder;
        if (is_known(r, h))
            left = h;
        else
            a->expected[i].low_um = left ? beside_um(r, left, h, 1) : INT32_MIN;
    }
    for (uint16_t i = a->n; i > 0; i--) {
        uint16_t h = a->expected[i - 1].holder;
        if (is_known(r, h))
            right = h;
        else
            a->expected[i - 1].high_um = right ? beside_um(r, right, h, -1) : INT32_MAX;
    }
}

static int64_t outside_um(const struct expected *e, int32_t found_um)
{
    if (found_um < e->low_um)
        return (int64_t)e->low_um - found_um;
    return found_um > e->high_um ? (int64_t)found_um - e->high_um : 0;
}

/* ---- the alignment --------------------------------------------------------------------------------------------- */

static int64_t least_of(int64_t a, int64_t b, int64_t c)
{
    int64_t least = a < b ? a : b;
    return c < least ? c : least;
}

static void align(struct matching *a)
{
    int64_t row[2][KR_HITS_MAX + 1];
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

/* Follows one of the best alignments. If it has a choice, it pairs as late as it can, or as early as it can. */
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

#define FLAG_WIDTH_PARTS 8

bool looks_as_wide(int32_t width_um, int32_t flag_um)
{
    int64_t off_um = (int64_t)width_um - flag_um;
    return (off_um < 0 ? -off_um : off_um) <= flag_um / FLAG_WIDTH_PARTS;
}

/* Two measurements of the same flag's width differ only by the scatter of edges. */
#define FLAG_REPEAT_PARTS 64

bool widths_agree(int32_t a_um, int32_t b_um, int32_t flag_um)
{
    int32_t apart_um = a_um < b_um ? b_um - a_um : a_um - b_um;
    return apart_um <= flag_um / FLAG_REPEAT_PARTS;
}

/* ---- the result -------------------------------------------------------------------------------------------------- */

static void unknown(const struct rail *r, uint16_t holder_number)
{
    place_set(r, holder_number, knowledge_of(r)->place[holder_number - 1].position_um, KR_UNKNOWN);
}

/* Tells whether a holder's flag is wider or narrower than when it was first measured. The cause is something beside it,
 * or a switch that failed in its middle. A comparison with the scan before would never show dirt that grows from scan
 * to scan. Somebody has to look at it; after that, its new width is accepted. */
static bool has_changed(const struct rail *r, uint16_t holder_number, struct kr_hit found)
{
    int32_t *width_um = &knowledge_of(r)->place[holder_number - 1].flag_width_um, before_um = *width_um;
    if (before_um == 0 || widths_agree(found.width_um, before_um, r->in->carriage->flag_width_um))
        return false;
    *width_um = 0;
    carriage_trip(r, KR_ALARM_FLAG_WIDTH, 0, found.at_um, before_um);
    return true;
}

/* Accepts found flag j as expected flag i. */
static bool seen(const struct rail *r, struct matching *a, uint16_t i, uint16_t j)
{
    if (has_changed(r, a->expected[i].holder, a->found[j])) {
        unknown(r, a->expected[i].holder);
        return false;
    }
    a->seen[i] = (uint16_t)(j + 1);
    return true;
}

/* The number of flags is right, but one seems missing and another one extra, with the flags between them shifted by
 * one. The alternative is that hands moved all of these. A position that only one of the two interpretations supports
 * is unknown, and somebody has to look. */
static bool pair(const struct rail *r, struct matching *a, uint16_t i, uint16_t j)
{
    if (a->n != a->m || i == j)
        return seen(r, a, i, j);
    unknown(r, a->expected[i].holder);
    return true; /* the missing or extra flag beside it is the reason */
}

/* Settles the flags between two sure pairs: expected flags i to i_end, found ones j to j_end (from 0, ends excluded).
 * If the numbers are equal, they are these holders, wherever they were before. Otherwise a flag is missing or extra,
 * and it is named if it can be no other one. */
static bool settle(const struct rail *r, struct matching *a, uint16_t i, uint16_t i_end, uint16_t j, uint16_t j_end)
{
    uint16_t missing = (uint16_t)(i_end - i), extra = (uint16_t)(j_end - j);
    if (missing == extra) {
        bool good = true;
        for (; i < i_end; i++, j++)
            good = pair(r, a, i, j) && good;
        return good;
    }
    uint16_t left = i > 0 ? a->expected[i - 1].holder : 0;
    for (uint16_t k = i; k < i_end; k++)
        unknown(r, a->expected[k].holder);
    if (missing > extra)
        carriage_trip(r, KR_ALARM_FLAG_MISSING, extra == 0 && missing == 1 ? a->expected[i].holder : 0, a->m, a->n);
    else
        carriage_trip(r, KR_ALARM_FLAG_EXTRA, left, a->found[j].at_um, a->n);
    return false;
}

static bool settle_all(const struct rail *r, struct matching *a)
{
    uint16_t i = 0, j = 0;
    bool good = true;
    for (uint16_t k = 0; k < a->n; k++) {
        if (a->partner[k] == 0)
            continue;
        good = settle(r, a, i, k, j, (uint16_t)(a->partner[k] - 1)) && good;
        good = pair(r, a, k, (uint16_t)(a->partner[k] - 1)) && good;
        i = (uint16_t)(k + 1);
        j = a->partner[k];
    }
    return settle(r, a, i, a->n, j, a->m) && good;
}

static void name_displaced(const struct rail *r, uint16_t holder_number, int32_t found_um)
{
    const struct kr_place *place = &knowledge_of(r)->place[holder_number - 1];
    int32_t limit_um = r->in->carriage->displaced_um;
    int64_t off_um = (int64_t)found_um - place->position_um;
    if (place->known != KR_UNKNOWN && (off_um > limit_um || off_um < -limit_um))
        rail_alarm(r, (struct kr_alarm){KR_ALARM_FLAG_DISPLACED, 0, holder_number, (int32_t)off_um, limit_um});
}

/* The fault that hid one flag, or added one, may have shortened another one: a switch that fails or recovers in the
 * middle of a flag shifts the flag's middle, by less than its width shows. So if anything is wrong, the found positions
 * are only a first estimate and no measurement, and no flag's width is learned. */
static void take(const struct rail *r, const struct matching *a, bool good)
{
    for (uint16_t i = 0; i < a->n; i++) {
        uint16_t h = a->expected[i].holder;
        if (a->seen[i] == 0)
            continue;
        struct kr_hit found = a->found[a->seen[i] - 1];
        name_displaced(r, h, found.at_um);
        place_scanned(r, h, found.at_um, good ? KR_MEASURED : KR_REMEMBERED);
        if (good && knowledge_of(r)->place[h - 1].flag_width_um == 0)
            knowledge_of(r)->place[h - 1].flag_width_um = found.width_um;
    }
}

/* ---- a deviation of the rail itself ------------------------------------------------------------------------------ */

/* Collects the deviations of the holders whose position has this origin, as they will be paired. */
static uint16_t off_from(const struct rail *r, const struct matching *a, enum kr_origin origin, struct found found[])
{
    uint16_t n = 0;
    for (uint16_t i = 0; i < a->n; i++) {
        uint16_t h = a->expected[i].holder, j = a->partner[i];
        const struct kr_place *place = &knowledge_of(r)->place[h - 1];
        if (j == 0 && a->n == a->m)
            j = (uint16_t)(i + 1);
        if (j != 0 && is_known(r, h) && place->origin == origin)
            found[n++] =
                (struct found){place->position_um, (int32_t)((int64_t)a->found[j - 1].at_um - place->position_um)};
    }
    return n;
}

/* No holder is measured, unless a person has confirmed this deviation. */
static bool rail_is_off(const struct rail *r, enum kr_alarm_code code, int32_t shift_um)
{
    const struct kr_rail_knowledge *known = knowledge_of(r);
    int32_t limit_um = r->in->carriage->alike_um;
    int64_t other_um = (int64_t)shift_um - known->confirmed_um;
    if (known->shift_confirmed && other_um <= limit_um && other_um >= -limit_um)
        return false;
    places_demote(r, KR_REMEMBERED);
    shift_set(r, shift_um);
    carriage_trip(r, code, 0, shift_um, limit_um);
    return true;
}

/* The references show that the drive is right. So holders that are off alike show an error of one of the two switches.
 * It is the holders' own switch if the holders that the carriage has released are off by the same. */
static bool switches_agree(const struct rail *r, enum alike kept, int32_t kept_um, bool released_too,
                           const struct referred *referred)
{
    int32_t before_um = knowledge_of(r)->shift_um;
    bool shifted = kept == ALIKE_SHIFTED && (kept_um > referred->apart_um || kept_um < -referred->apart_um);
    if (shifted)
        return !rail_is_off(r, released_too ? KR_ALARM_SWITCH_SHIFTED : KR_ALARM_SWITCHES_APART, kept_um);
    if (kept == ALIKE_SCALED && !referred->to_scale)
        return !rail_is_off(r, KR_ALARM_RAIL_SCALED, kept_um);
    return kept != ALIKE_UNKNOWN || before_um == 0 || !rail_is_off(r, KR_ALARM_SWITCHES_APART, before_um);
}

/* Holders that nobody has moved since a scan show errors of drive and switch. If the holders that the carriage has
 * released since then are off by the same, the error is in the switch, because the drive counted then as it does now.
 * Released holders alone show nothing, because play and brakes may shift all of them to one side. */
static bool rail_is_right(const struct rail *r, const struct matching *a, const struct referred *referred)
{
    struct found found[KR_HOLDERS_MAX];
    int32_t limit_um = r->in->carriage->alike_um, before_um = knowledge_of(r)->shift_um, kept_um, released_um;
    enum alike kept = alike_of(found, off_from(r, a, KR_ORIGIN_SCANNED, found), limit_um, &kept_um);
    enum alike released = alike_of(found, off_from(r, a, KR_ORIGIN_RELEASED, found), limit_um, &released_um);
    bool both = kept == ALIKE_SHIFTED && released == ALIKE_SHIFTED && released_um - kept_um <= limit_um &&
                kept_um - released_um <= limit_um;
    if (referred->by_other_switch)
        return switches_agree(r, kept, kept_um, both, referred);
    switch (kept) {
    case ALIKE_RIGHT: return true;
    case ALIKE_SHIFTED: return !rail_is_off(r, both ? KR_ALARM_SWITCH_SHIFTED : KR_ALARM_RAIL_SHIFTED, kept_um);
    case ALIKE_SCALED: return !rail_is_off(r, KR_ALARM_RAIL_SCALED, kept_um);
    case ALIKE_UNKNOWN: break;
    }
    return before_um == 0 ||
           /* No holder contradicts the earlier deviation. */
           !rail_is_off(r, KR_ALARM_RAIL_SHIFTED, before_um);
}

static bool was_dragged(const struct rail *r, uint16_t holder_number)
{
    const struct kr_place *place = &knowledge_of(r)->place[holder_number - 1];
    return place->origin == KR_ORIGIN_RELEASED && place->known == KR_PLACED;
}

/* Brakes slip differently, so that most of the deviations must agree. */
static void look_at_dragged(const struct rail *r, const struct matching *a, struct released *released)
{
    struct found found[KR_HOLDERS_MAX];
    uint16_t n = 0;
    for (uint16_t i = 0; i < a->n; i++) {
        const struct kr_place *place = &knowledge_of(r)->place[a->expected[i].holder - 1];
        if (a->partner[i] != 0 && was_dragged(r, a->expected[i].holder))
            found[n++] = (struct found){place->position_um,
                                        (int32_t)((int64_t)a->found[a->partner[i] - 1].at_um - place->position_um)};
    }
    *released = (struct released){.n = n};
    if (n == 1) {
        released->at_um = found[0].at_um;
        released->off_um = found[0].off_um;
    } else {
        released->n_alike = alike_mean(found, n, r->in->carriage->alike_um, &released->at_um, &released->off_um);
    }
}

bool match_hits(const struct rail *r, const struct kr_hit hit[], uint16_t n_hits, struct referred referred,
                struct released *released)
{
    struct matching a = {.m = n_hits, .found = hit, .alone_um = r->in->carriage->displaced_um};
    expect(r, &a);
    pair_up(&a);
    look_at_dragged(r, &a, released);
    bool speaks_for_itself = referred.to_place && !referred.by_other_switch;
    if (!knowledge_of(r)->settings_changed && !speaks_for_itself && !rail_is_right(r, &a, &referred))
        return false;
    shift_set(r, 0);
    bool good = settle_all(r, &a);
    take(r, &a, good);
    if (good) {
        knowledge_of(r)->shift_confirmed = knowledge_of(r)->settings_changed = false;
        knowledge_of(r)->references_confirmed = false;
    }
    return good;
}
