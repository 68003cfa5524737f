/* Flags found by a scan, matched in rail order to the holders that are known to be there. One missing or one extra is
 * named, not guessed. */
#include "state.h"

#include <string.h>

/* The least-cost alignment of n expected flags with m found ones, order kept, as sequences are aligned (Needleman and
 * Wunsch 1970, J. Mol. Biol. 48(3), 443-453): a pair costs how far it lies apart; a flag without a partner costs
 * `alone`, so that two that lie further apart than twice that are no pair. */
struct alignment {
    int64_t cost[KR_HOLDERS_MAX + 1][HITS_MAX + 1];
    uint16_t partner[KR_HOLDERS_MAX]; /* of each expected flag: index of the found one + 1; 0: missing */
};

static int64_t apart(int32_t a, int32_t b)
{
    return a > b ? (int64_t)a - b : (int64_t)b - a;
}

static void align(struct alignment *a, const int32_t expected[], uint16_t n, const int32_t found[],
                  uint16_t m, int64_t alone)
{
    for (uint16_t i = 0; i <= n; i++) {
        for (uint16_t j = 0; j <= m; j++) {
            int64_t best = i + j == 0 ? 0 : INT64_MAX;
            if (i > 0 && a->cost[i - 1][j] + alone < best)
                best = a->cost[i - 1][j] + alone;
            if (j > 0 && a->cost[i][j - 1] + alone < best)
                best = a->cost[i][j - 1] + alone;
            if (i > 0 && j > 0 && a->cost[i - 1][j - 1] + apart(expected[i - 1], found[j - 1]) < best)
                best = a->cost[i - 1][j - 1] + apart(expected[i - 1], found[j - 1]);
            a->cost[i][j] = best;
        }
    }
    memset(a->partner, 0, sizeof a->partner);
    for (uint16_t i = n, j = m; i > 0 && j > 0;) {
        if (a->cost[i][j] == a->cost[i - 1][j - 1] + apart(expected[i - 1], found[j - 1])) {
            a->partner[i - 1] = j;
            i--;
            j--;
        } else if (a->cost[i][j] == a->cost[i - 1][j] + alone) {
            i--;
        } else {
            j--;
        }
    }
}

static void measured(struct kr_station *s, struct carriage *c, uint16_t holder, int32_t found_um)
{
    const struct kr_holder_data *data = &s->durable.holder[c->rail][holder - 1];
    int32_t limit_um = s->config.carriage[c->rail].displaced_um;
    int64_t off_um = (int64_t)found_um - data->position_um;
    if (data->known != KR_UNKNOWN && (off_um > limit_um || off_um < -limit_um))
        alarm_raise(s, (struct kr_alarm){KR_ALARM_FLAG_DISPLACED, (uint16_t)(c->rail + 1), holder,
                                         (int32_t)off_um, limit_um});
    holder_set(s, c->rail, holder, found_um, KR_MEASURED);
}

/* Which found flag no holder belongs to: the first; item is the holder on its left. */
static void name_extra(struct kr_station *s, struct carriage *c, const struct alignment *a,
                       const uint16_t holder[], uint16_t n, const int32_t found_um[])
{
    uint16_t next = 1, i = 0;
    while (i < n && (a->partner[i] == 0 || a->partner[i] == next)) {
        if (a->partner[i] == next)
            next++;
        i++;
    }
    carriage_trip(s, c, KR_ALARM_FLAG_EXTRA, i > 0 ? holder[i - 1] : 0, found_um[next - 1], n);
}

static void name_missing(struct kr_station *s, struct carriage *c, const struct alignment *a,
                         const uint16_t holder[], uint16_t n, uint16_t m)
{
    for (uint16_t i = 0; i < n; i++) {
        if (a->partner[i] != 0)
            continue;
        carriage_trip(s, c, KR_ALARM_FLAG_MISSING, holder[i], m, n);
        return;
    }
}

/* The counts differ: what has a partner near where it was known is measured, the rest of the rail is unknown. */
static void mismatch(struct kr_station *s, struct carriage *c, const uint16_t holder[], uint16_t n,
                     const int32_t found_um[], uint16_t m)
{
    struct alignment a;
    int32_t expected_um[KR_HOLDERS_MAX];
    struct kr_holder_data *row = s->durable.holder[c->rail];
    bool all_known = true;
    for (uint16_t i = 0; i < n; i++) {
        expected_um[i] = row[holder[i] - 1].position_um;
        all_known = all_known && row[holder[i] - 1].known != KR_UNKNOWN;
    }
    if (!all_known) { /* nothing to compare with: only the count can be named */
        holders_demote(s, c->rail, KR_UNKNOWN);
        enum kr_alarm_code code = m < n ? KR_ALARM_FLAG_MISSING : KR_ALARM_FLAG_EXTRA;
        carriage_trip(s, c, code, 0, m < n ? m : found_um[m - 1], n);
        return;
    }
    align(&a, expected_um, n, found_um, m, s->config.carriage[c->rail].displaced_um);
    for (uint16_t i = 0; i < n; i++) {
        if (a.partner[i] != 0)
            holder_set(s, c->rail, holder[i], found_um[a.partner[i] - 1], KR_MEASURED);
        else
            holder_set(s, c->rail, holder[i], expected_um[i], KR_UNKNOWN);
    }
    if (m < n)
        name_missing(s, c, &a, holder, n, m);
    else
        name_extra(s, c, &a, holder, n, found_um);
}

/* True if every holder was found. Both passes give their flags in growing order (the first one's). */
bool match_hits(struct kr_station *s, struct carriage *c, const int32_t hit_um[], uint16_t n_hits)
{
    uint16_t holder[KR_HOLDERS_MAX], n = 0;
    for (uint16_t i = 0; i < s->config.geometry.rail[c->rail].n_holders; i++)
        if (holder_present(&s->durable.holder[c->rail][i]))
            holder[n++] = (uint16_t)(i + 1);
    if (n != n_hits) {
        mismatch(s, c, holder, n, hit_um, n_hits);
        return false;
    }
    for (uint16_t i = 0; i < n; i++)
        measured(s, c, holder[i], hit_um[i]);
    return true;
}
