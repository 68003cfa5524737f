/* Evaluates the references of a rail after a scan. Their residual is the sum of two errors: of the drive's datum, and
 * of the switch's place on the carriage. The whole residual is subtracted from all scanned flags, because the switch
 * sees holders and references alike. For the pin and for targets, the two errors must be told apart. A dragged holder
 * stands where the pin left it, so that a scan finds it off only by the error of the switch. The rest is the error of
 * the datum.
 *
 * References with a switch of their own tell nothing about the holders' switch. Their deviation counts as an error of
 * the datum, and the holders that nobody moved must show whether the two switches still agree (match.c). */
#include "residual.h"

#include <string.h>

#include "knowledge.h"
#include "trip.h"

#define PPB INT64_C(1000000000)

static int64_t magnitude(int64_t value)
{
    return value < 0 ? -value : value;
}

static int32_t saturated(int64_t um)
{
    return (int32_t)(um > INT32_MAX ? INT32_MAX : um < INT32_MIN ? INT32_MIN : um);
}

static const struct kr_references *references_of(const struct rail *r)
{
    return &r->in->carriage->references;
}

static struct kr_reference_knowledge *known_of(const struct rail *r)
{
    return &knowledge_of(r)->references;
}

/* ---- the rail of the references ---------------------------------------------------------------------------------- */

/* Trips the rail. Nothing is measured by this scan. */
static void trip(const struct rail *r, enum kr_alarm_code code, uint16_t item, int32_t value, int32_t limit)
{
    places_demote(r, KR_REMEMBERED);
    carriage_trip(r, code, item, value, limit);
}

static uint16_t holders_on(const struct rail *r)
{
    uint16_t n = 0;
    for (uint16_t i = 0; i < r->in->rail->n_holders; i++)
        n = (uint16_t)(n + is_on_rail(r, i));
    return n;
}

/* Returns the number of flags that the switch of the references should see. */
static uint16_t flags_expected(const struct rail *r)
{
    return (uint16_t)((references_of(r)->own_switch ? 0 : holders_on(r)) + references_of(r)->n);
}

/* Tells whether all references are there and in their taught places. */
static bool is_in_place(const struct rail *r, const struct kr_pattern_found *own)
{
    return own->n == references_of(r)->n && magnitude(own->shift_um) <= references_of(r)->window_um;
}

/* Tells whether any of the rail's own references is near its taught place. */
static bool is_at_home(const struct rail *r, const struct kr_pattern_found *own)
{
    return own->n > 0 && magnitude(own->shift_um) <= references_of(r)->window_um;
}

/* Tells whether a flag is where a holder of this rail is known to be, or where it would be if its references are right
 * about a shift. */
static bool is_a_holders(const struct rail *r, const struct kr_pattern_found *own, const struct kr_hit *hit)
{
    int32_t window_um = references_of(r)->window_um;
    for (uint16_t i = 0; i < r->in->rail->n_holders && !references_of(r)->own_switch; i++) {
        const struct kr_place *place = &knowledge_of(r)->place[i];
        int64_t off_um = (int64_t)hit->at_um - place->position_um;
        bool there = magnitude(off_um) <= window_um || (own->n > 0 && magnitude(off_um - own->shift_um) <= window_um);
        if (is_on_rail(r, i) && place->known != KR_UNKNOWN && there)
            return true;
    }
    return false;
}

/* Returns how many flags match another pattern than the rail's own. Distances alone may match by chance, flags of
 * holders included. So flags where holders are known to be do not count; and while one of the rail's own references is
 * at home, only flags that look like those of the other pattern count. */
static uint16_t matching(const struct rail *r, const struct kr_pattern_found *own, const struct kr_references *pattern,
                         bool mirrored, const struct kr_hit hit[], const struct kr_pattern_found *found)
{
    bool home = is_at_home(r, own);
    uint16_t alike = 0;
    for (uint16_t i = 0; i < pattern->n; i++) {
        const struct kr_hit *flag = found->hit[i] == 0 ? NULL : &hit[found->hit[i] - 1];
        int32_t told_um = pattern->flag[mirrored ? pattern->n - 1 - i : i].width_um;
        if (flag != NULL && (!home || looks_as_wide(flag->width_um, told_um)) && !is_a_holders(r, own, flag))
            alike++;
    }
    return alike < found->n ? alike : found->n;
}

/* Tells whether the flags identify another rail. Some flags, those of holders included, may match a part of a larger
 * pattern by chance. So most of the pattern must match, and all of it if the rail's own references are all in their
 * places. */
static bool says_whose(const struct rail *r, const struct kr_pattern_found *own, const struct kr_references *other,
                       uint16_t found)
{
    if (found == other->n)
        return true;
    return !is_in_place(r, own) && found > 2 && 2 * found > other->n;
}

/* Returns the other rail of the station, from 1, whose pattern fits best and better than better_than; 0: none. */
static uint16_t other_rail(const struct rail *r, const struct kr_hit hit[], uint16_t n,
                           const struct kr_pattern_found *own, uint16_t better_than)
{
    uint16_t best = 0;
    for (uint16_t k = 0; r->in->carriages && k < r->in->geometry->n_rails; k++) {
        const struct kr_references *other = &r->in->carriages[k].references;
        if (&r->in->carriages[k] == r->in->carriage || other->n < 2 ||
            other->own_switch != references_of(r)->own_switch)
            continue;
        struct kr_pattern_found pattern = kr_pattern_find(other, false, hit, n);
        uint16_t found = matching(r, own, other, false, hit, &pattern);
        if (found > better_than && says_whose(r, own, other, found)) {
            better_than = found;
            best = (uint16_t)(k + 1);
        }
    }
    return best;
}

/* A single flag is identified by its place alone: it is near to it or, if no flag is missing, the outermost flag. */
static bool is_own(const struct rail *r, const struct kr_pattern_found *own, uint16_t n_hits)
{
    const struct kr_references *references = references_of(r);
    bool all_there = n_hits >= flags_expected(r);
    if (references->n > 1)
        return own->n >= 2;
    return own->n == 1 && (all_there || magnitude(own->shift_um) <= references->window_um);
}

/* Tells whether the mirrored pattern fits better. The distance of two flags is the same in a mirror, so that their
 * places decide. */
static bool is_rather(const struct rail *r, const struct kr_pattern_found *mirrored, const struct kr_pattern_found *own)
{
    int64_t own_um = magnitude(own->shift_um), mirrored_um = magnitude(mirrored->shift_um);
    return mirrored->n > own->n ||
           (mirrored->n == own->n && own_um > references_of(r)->window_um && mirrored_um < own_um);
}

/* Tells whether some flag is at each reference's place. Dirt may have shifted the middle of some, but they belong to
 * this rail. */
static bool touches_all(const struct rail *r, const struct kr_pattern_found *own)
{
    for (uint16_t i = 0; i < references_of(r)->n; i++)
        if (own->hit[i] == 0)
            return false;
    return true;
}

static bool pattern_is_own(const struct rail *r, const struct kr_hit hit[], uint16_t n,
                           const struct kr_pattern_found *own)
{
    const struct kr_references *references = references_of(r);
    struct kr_pattern_found mirrored = kr_pattern_find(references, true, hit, n);
    mirrored.n = matching(r, own, references, true, hit, &mirrored);
    uint16_t best = mirrored.n > own->n ? mirrored.n : own->n, chance = is_in_place(r, own) ? 2 : 1;
    uint16_t other = other_rail(r, hit, n, own, best < chance ? chance : best);
    if (other != 0)
        trip(r, KR_ALARM_REFERENCES_EXCHANGED, other, 0, 0);
    else if (mirrored.n >= 2 && is_rather(r, &mirrored, own))
        trip(r, KR_ALARM_REFERENCES_MIRRORED, 0, mirrored.n, references->n);
    else if (is_own(r, own, n))
        return true;
    else if (references->n > 1 && n >= flags_expected(r) && !touches_all(r, own))
        trip(r, KR_ALARM_REFERENCES_EXCHANGED, 0, 0, 0);
    else
        trip(r, KR_ALARM_REFERENCES_UNSEEN, 0, own->n, references->n);
    return false;
}

/* ---- the deviation of the references ----------------------------------------------------------------------------- */

/* Returns the width as first measured; 0: not measured yet. A width that is not like the told one is that of another
 * flag: between two runs a reference was put on or taken off, so that the others count differently now. */
static int32_t width_before_um(const struct rail *r, uint16_t i)
{
    int32_t before_um = known_of(r)->width_um[i];
    return looks_as_wide(before_um, references_of(r)->flag[i].width_um) ? before_um : 0;
}

static bool is_clean(const struct rail *r, uint16_t i, int32_t width_um)
{
    int32_t told_um = references_of(r)->flag[i].width_um, before_um = width_before_um(r, i);
    return looks_as_wide(width_um, told_um) && (before_um == 0 || widths_agree(width_um, before_um, told_um));
}

/* Raises an alarm for each bad reference. One of the right width that is off the line of the others has been bent. */
static void notice_bad(const struct rail *r, const struct residual *residual, const struct kr_pattern_found *own)
{
    for (uint16_t i = 0; i < references_of(r)->n; i++)
        if (!(residual->good >> i & 1u))
            rail_alarm(r, (struct kr_alarm){KR_ALARM_REFERENCE_BAD, 0, (uint16_t)(i + 1),
                                            own->hit[i] == 0 ? 0 : residual->width_um[i],
                                            references_of(r)->flag[i].width_um});
}

/* Two references at the ends of the rail give a slope. For two that are close together, the scatter of their edges
 * would make a slope. */
static int32_t span_needed_um(const struct rail *r)
{
    return (r->in->rail->max_um - r->in->rail->min_um) / 2;
}

static void draw_line(const struct rail *r, const struct kr_hit hit[], const struct kr_pattern_found *own,
                      struct residual *residual)
{
    struct kr_off off[KR_REFERENCES_MAX];
    uint16_t which[KR_REFERENCES_MAX], n = 0;
    for (uint16_t i = 0; i < references_of(r)->n; i++) {
        if (own->hit[i] == 0)
            continue;
        struct kr_hit found = hit[own->hit[i] - 1];
        residual->width_um[i] = found.width_um;
        if (!is_clean(r, i, found.width_um))
            continue;
        off[n] = (struct kr_off){found.at_um, (int32_t)((int64_t)found.at_um - references_of(r)->flag[i].at_um), false};
        which[n++] = i;
    }
    residual->line = kr_off_line_through(off, n, r->in->carriage->alike_um, span_needed_um(r));
    for (uint16_t k = 0; k < n; k++) {
        residual->n_good = (uint16_t)(residual->n_good + !off[k].apart);
        residual->good = (uint8_t)(residual->good | (off[k].apart ? 0u : 1u) << which[k]);
    }
}

static bool enough_are_good(const struct rail *r, const struct residual *residual)
{
    uint16_t needed = references_of(r)->n > 1 ? 2 : 1;
    if (residual->n_good >= needed)
        return true;
    trip(r, KR_ALARM_REFERENCES_UNSEEN, 0, residual->n_good, references_of(r)->n);
    return false;
}

/* ---- the correction ---------------------------------------------------------------------------------------------- */

static int32_t worse(int32_t a_um, int32_t b_um)
{
    return magnitude(a_um) > magnitude(b_um) ? a_um : b_um;
}

/* Returns the largest deviation over the rail's holders. */
static int32_t worst_um(const struct rail *r, const struct kr_off_line *line)
{
    return worse(kr_off_line_um(line, r->in->rail->min_um), kr_off_line_um(line, r->in->rail->max_um));
}

/* A larger deviation is no drift and no play: the drive counts differently. */
static bool can_be_corrected(const struct rail *r, const struct kr_off_line *line)
{
    int64_t scale_ppb = (int64_t)r->in->carriage->frame.scale_ppb - line->slope_ppb;
    return magnitude(scale_ppb) <= KR_FRAME_SCALE_MAX_PPB - KR_FRAME_SCALE_MAX_PPB / 100 &&
           magnitude(worst_um(r, line)) <= KR_FRAME_OFFSET_MAX_UM;
}

/* Subtracts the line from the map from the drive's position to the place, and the switch's part of it from the switch
 * offset. With offset o and scale s, place - off(place) is a map with the scale s - b - b s, where b is the line's
 * slope. At the drive's position 0 the place is o. */
static struct kr_frame_correction corrected(const struct rail *r, const struct kr_off_line *line, int32_t switch_off_um)
{
    const struct kr_frame *frame = &r->in->carriage->frame;
    struct kr_frame_correction c = known_of(r)->correction;
    int64_t more_ppb = -line->slope_ppb - (int64_t)line->slope_ppb * frame->scale_ppb / PPB;
    int64_t scale_ppb = frame->scale_ppb + more_ppb;
    int64_t datum_off_um = (int64_t)kr_off_line_um(line, frame->offset_um) - switch_off_um;
    c.scale_ppb = (int32_t)(c.scale_ppb + more_ppb);
    c.datum_um = saturated(c.datum_um - datum_off_um * PPB / (PPB + scale_ppb));
    c.switch_um -= switch_off_um;
    return c;
}

/* Returns the largest deviation over the rail's holders since the references were taught. */
static int32_t total_um(const struct rail *r, const struct kr_frame_correction *c)
{
    const struct kr_frame *frame = &r->in->carriage->frame;
    int64_t ends_um[] = {r->in->rail->min_um, r->in->rail->max_um};
    int32_t total[2];
    for (int i = 0; i < 2; i++) {
        int64_t position_um = (int64_t)position_for_um(r, (int32_t)ends_um[i]) + frame->datum_um;
        total[i] = saturated(-((int64_t)c->datum_um - c->taught_um + c->switch_um + position_um * c->scale_ppb / PPB));
    }
    return worse(total[0], total[1]);
}

static bool is_confirmed(const struct rail *r, int32_t shift_um)
{
    struct kr_rail_knowledge *known = knowledge_of(r);
    int32_t step_um = references_of(r)->step_um;
    bool now = known->shift_confirmed && magnitude((int64_t)shift_um - known->confirmed_um) <= step_um;
    bool before =
        known->references_confirmed && magnitude((int64_t)shift_um - known->references_confirmed_um) <= step_um;
    if (now && references_of(r)->own_switch) {
        known->references_confirmed = true;
        known->references_confirmed_um = shift_um;
    }
    return now || before;
}

/* A deviation that is too large: more than a step since the last scan, or more than a window since the references were
 * taught; and its limit. */
struct excess {
    bool is;
    int32_t shift_um, limit_um;
};

static struct excess excess_of(const struct rail *r, const struct kr_off_line *line)
{
    const struct kr_references *references = references_of(r);
    int32_t step_um = worst_um(r, line);
    if (!can_be_corrected(r, line))
        return (struct excess){true, step_um, references->window_um};
    struct kr_frame_correction c = corrected(r, line, 0);
    int32_t since_taught_um = total_um(r, &c);
    if (known_of(r)->seen && magnitude(step_um) > references->step_um)
        return (struct excess){true, step_um, references->step_um};
    return (struct excess){magnitude(since_taught_um) > references->window_um, worse(since_taught_um, step_um),
                           references->window_um};
}

static bool is_within(const struct rail *r, const struct kr_off_line *line, bool *confirmed)
{
    struct excess excess = excess_of(r, line);
    *confirmed = excess.is && can_be_corrected(r, line) && is_confirmed(r, excess.shift_um);
    if (!excess.is || *confirmed)
        return true;
    shift_set(r, excess.shift_um);
    trip(r, KR_ALARM_REFERENCES_SHIFTED, 0, excess.shift_um, excess.limit_um);
    return false;
}

static bool is_reference(const struct kr_pattern_found *own, uint16_t hit_number)
{
    for (uint16_t i = 0; i < KR_REFERENCES_MAX; i++)
        if (own->hit[i] == hit_number)
            return true;
    return false;
}

/* Subtracts the line. References with a switch of their own are not among these flags. */
static void take_off(struct kr_hit hit[], uint16_t n, const struct kr_off_line *line)
{
    for (uint16_t j = 0; j < n; j++)
        hit[j].at_um = kr_flag_less_residual_um(hit[j].at_um, kr_off_line_um(line, hit[j].at_um));
}

/* Removes the references, so that the holders' flags are left. A flag whose width is not that of a holder's flag is
 * named only here. */
static bool leave_holders(const struct rail *r, struct kr_hit hit[], uint16_t *n_hits,
                          const struct kr_pattern_found *own, const struct kr_off_line *line)
{
    uint16_t left = 0;
    for (uint16_t j = 0; j < *n_hits; j++) {
        if (is_reference(own, (uint16_t)(j + 1)))
            continue;
        if (!looks_as_wide(hit[j].width_um, r->in->carriage->flag_width_um)) {
            carriage_trip(r, KR_ALARM_FLAG_WIDTH, 0, hit[j].at_um, r->in->carriage->flag_width_um);
            return false;
        }
        hit[left] = hit[j];
        hit[left].at_um = kr_flag_less_residual_um(hit[j].at_um, kr_off_line_um(line, hit[j].at_um));
        left++;
    }
    *n_hits = left;
    return true;
}

/* Returns the flags that the switch of the references saw; NULL: the switch is dead. */
static struct kr_hit *seen_by_their_switch(const struct rail *r, struct kr_hit hit[], uint16_t *n)
{
    if (!references_of(r)->own_switch)
        return hit;
    *n = r->m->scan.of[KR_SWITCH_OF_REFERENCES].n_hits[0];
    if (*n > 0)
        return scan_hits(&r->m->scan, KR_SWITCH_OF_REFERENCES, 0);
    trip(r, KR_ALARM_REFERENCE_SWITCH_DEAD, 0, 0, references_of(r)->n);
    return NULL;
}

bool residual_take(const struct rail *r, struct kr_hit hit[], uint16_t *n_hits, struct residual *residual)
{
    *residual = (struct residual){0};
    if (references_of(r)->n == 0)
        return true;
    uint16_t n = *n_hits;
    const struct kr_hit *seen = seen_by_their_switch(r, hit, &n);
    if (!seen)
        return false;
    struct kr_pattern_found own = kr_pattern_find(references_of(r), false, seen, n);
    if (!pattern_is_own(r, seen, n, &own))
        return false;
    draw_line(r, seen, &own, residual);
    if (!enough_are_good(r, residual))
        return false;
    notice_bad(r, residual, &own);
    if (!is_within(r, &residual->line, &residual->confirmed))
        return false;
    if (!references_of(r)->own_switch)
        return leave_holders(r, hit, n_hits, &own, &residual->line);
    take_off(hit, *n_hits, &residual->line);
    return true;
}

struct referred residual_refers(const struct rail *r, const struct residual *residual)
{
    int64_t way_um = (int64_t)r->in->rail->max_um - r->in->rail->min_um;
    int64_t grown_um = magnitude(way_um * residual->line.slope_ppb / PPB);
    return (struct referred){.to_place = residual->n_good > 1 || residual->confirmed,
                             .to_scale = residual->line.slope_ppb != 0,
                             .by_other_switch = residual->n_good > 0 && references_of(r)->own_switch,
                             .apart_um = saturated(r->in->carriage->alike_um + grown_um)};
}

/* Tells whether a part of the correction that dragged holders assign to the switch is accepted at once. It is, if it is
 * at most a step, or if it leaves the datum as it was taught. Otherwise two errors that hide each other would have
 * appeared, and it is likelier that the holders were dragged while the datum was off. */
static bool is_told_at_once(const struct rail *r, const struct kr_off_line *line, int32_t dragged_off_um,
                            int32_t switch_off_um)
{
    int32_t step_um = references_of(r)->step_um;
    struct kr_frame_correction all_datum = corrected(r, line, 0), split = corrected(r, line, switch_off_um);
    return magnitude(dragged_off_um) <= step_um || magnitude(split.datum_um) <= step_um ||
           magnitude((int64_t)split.datum_um - split.taught_um) <
               magnitude((int64_t)all_datum.datum_um - split.taught_um);
}

/* A slipping brake releases its holder differently each time, and a datum that was off for a while has come back. A
 * deviation that repeats again and again comes from the switch. */
#define REPEATED_OFTEN 3

/* Counts the scan. True: the deviation has been repeated often enough, and *off_um is now the mean. */
static bool is_repeated(const struct rail *r, int32_t *off_um)
{
    struct kr_rail_knowledge *known = knowledge_of(r);
    int64_t beside_um = known->n_repeated ? (int64_t)*off_um - known->repeated_um / known->n_repeated : 0;
    if (magnitude(beside_um) > r->in->carriage->alike_um)
        known->n_repeated = 0;
    known->repeated_um = saturated((int64_t)(known->n_repeated ? known->repeated_um : 0) + *off_um);
    if (++known->n_repeated < REPEATED_OFTEN)
        return false;
    *off_um = known->repeated_um / known->n_repeated;
    known->n_repeated = 0;
    return true;
}

/* Returns the part of the deviation that belongs to the switch: that of the dragged holders. They were compared after
 * the line of the references had been subtracted. */
static int32_t switch_off_um(const struct rail *r, const struct kr_off_line *line, const struct released *released)
{
    int32_t dragged_um = released->off_um, line_um = kr_off_line_um(line, released->at_um);
    /* Their switch tells nothing about the other one. */
    if (references_of(r)->own_switch || released->n == 0)
        return 0;
    bool alike = released->n_alike > 0;
    bool at_once = alike && is_told_at_once(r, line, dragged_um, saturated((int64_t)dragged_um + line_um));
    if (at_once || (released->n > 1 && !alike)) {
        knowledge_of(r)->n_repeated = 0;
        return at_once ? saturated((int64_t)dragged_um + line_um) : 0;
    }
    return is_repeated(r, &dragged_um) ? saturated((int64_t)dragged_um + line_um) : 0;
}

static void trend_shift(int32_t trend_um[KR_REFERENCE_TREND], int32_t newest_um)
{
    memmove(&trend_um[1], &trend_um[0], (KR_REFERENCE_TREND - 1) * sizeof trend_um[0]);
    trend_um[0] = newest_um;
}

void residual_keep(const struct rail *r, const struct residual *residual, const struct released *released)
{
    struct kr_reference_knowledge *known = known_of(r);
    if (residual->n_good == 0)
        return;
    known->correction = corrected(r, &residual->line, switch_off_um(r, &residual->line, released));
    int32_t total = total_um(r, &known->correction);
    if (magnitude(total) > references_of(r)->window_um) { /* a person has confirmed it */
        known->correction.taught_um = known->correction.datum_um + known->correction.switch_um;
        total = total_um(r, &known->correction);
    }
    known->seen = 1;
    known->good = residual->good;
    trend_shift(known->trend_um, total);
    for (uint16_t i = 0; i < references_of(r)->n; i++)
        if (residual->good >> i & 1u && width_before_um(r, i) == 0)
            known->width_um[i] = residual->width_um[i];
    knowledge_touch(r);
}

void residual_take_datum(const struct rail *r, int32_t shift_um)
{
    struct kr_off_line line = {.off_um = shift_um};
    struct kr_reference_knowledge *known = known_of(r);
    known->correction = corrected(r, &line, 0);
    known->correction.taught_um = known->correction.datum_um;
    residual_begins_anew(r);
    places_demote(r, KR_REMEMBERED); /* they were measured from another datum */
    knowledge_of(r)->datum_doubted = false;
    r->m->homed_here = false;
    knowledge_touch(r);
}

/* ---- a new beginning --------------------------------------------------------------------------------------------- */

void residual_begins_anew(const struct rail *r)
{
    known_of(r)->seen = 0;
}

void residual_forget_datum(const struct rail *r)
{
    residual_begins_anew(r);
    known_of(r)->correction.datum_um = known_of(r)->correction.taught_um = 0;
}

/* Expands the frame, and the flags that are fixed to it. */
static void expand(struct kr_carriage_config *carriage, int32_t expansion_ppb)
{
    carriage->frame = kr_frame_expanded(&carriage->frame, expansion_ppb);
    for (uint16_t i = 0; i < carriage->references.n; i++) {
        struct kr_reference *flag = &carriage->references.flag[i];
        flag->at_um = kr_expanded_um(flag->at_um, expansion_ppb);
    }
}

void kr_carriage_correct(const struct kr_carriage_config *told, const struct kr_frame_correction *correction,
                         struct kr_carriage_config *carriage)
{
    int64_t scale_ppb = (int64_t)told->frame.scale_ppb + correction->scale_ppb;
    *carriage = *told;
    carriage->frame.datum_um = correction->datum_um;
    carriage->frame.scale_ppb = (int32_t)(scale_ppb > KR_FRAME_SCALE_MAX_PPB    ? KR_FRAME_SCALE_MAX_PPB
                                          : scale_ppb < -KR_FRAME_SCALE_MAX_PPB ? -KR_FRAME_SCALE_MAX_PPB
                                                                                : scale_ppb);
    if (correction->expansion_ppb != 0)
        expand(carriage, correction->expansion_ppb);
    carriage->switch_offset_um += correction->switch_um;
    carriage->travel_min_um = saturated((int64_t)told->travel_min_um - correction->datum_um);
    carriage->travel_max_um = saturated((int64_t)told->travel_max_um - correction->datum_um);
}
