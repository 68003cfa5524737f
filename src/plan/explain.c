#include "kniferail/plan.h"

#include <stdio.h>

#include "integers.h"

#define LENGTH 32

/* ---- advice ---------------------------------------------------------------------------------------------------- */

/* Tells whether cut lines are whole micrometres, also after a slit became wider by this much. */
static bool is_whole(const struct kr_order *o, int64_t um)
{
    bool whole = o->compensation_ppm == 0 && (um % 2 == 0 || o->alignment != KR_CENTRED);
    for (uint16_t i = 0; i < o->n_slits && i < KR_SLITS_MAX; i++)
        whole = whole && o->width_nm[i] % KR_NM_PER_UM == 0;
    return whole;
}

/* Returns the difference that the refusal names. A slit is ordered before compensation. If cut lines are rounded, the
 * result includes the largest error of the rounding. */
static int64_t short_um(const struct kr_plan_request *q, const struct kr_result *r)
{
    int64_t um = abs_i64((int64_t)r->limit - r->value), each = 1000000 + (int64_t)q->order.compensation_ppm;
    if (r->code != KR_SLIT_TOO_NARROW || each <= 0)
        return um;
    int64_t ordered = (um * 1000000 + each - 1) / each;
    return is_whole(&q->order, um) ? ordered : ordered + 1;
}

/* Writes a length of at least one count of the unit. */
static const char *length_text(int64_t um, enum kr_length_unit unit, char text[LENGTH])
{
    if (unit == KR_LENGTH_INCH) /* rounded up to a count, so that the advice suffices */
        um = (um * KR_NM_PER_UM + kr_length_unit_nm(unit) - 1) / kr_length_unit_nm(unit) * kr_length_unit_nm(unit) /
                 KR_NM_PER_UM +
             1;
    kr_length_text(clamp_i32(um), unit, text, LENGTH);
    return text;
}

static const char *edge_name(uint16_t edge)
{
    return edge == 1 ? "operator" : "drive";
}

static const char *rail_name(const struct kr_plan_request *q, uint16_t rail)
{
    if (rail == 0 || rail > q->geometry.n_rails)
        return "rail's";
    return kr_number_word("RAIL_ROLE", (int)q->geometry.rail[rail - 1].role);
}

/* Counts the holders that are on the rail or could be, but can't cut. */
static int not_in_service(const struct kr_plan_request *q, uint16_t rail)
{
    int n = 0;
    if (rail == 0 || rail > q->geometry.n_rails)
        return 0;
    for (uint16_t i = 0; i < q->geometry.rail[rail - 1].n_holders; i++)
        n += q->rail[rail - 1].holder[i].state != KR_HOLDER_IN;
    return n;
}

static int advise_holders(const struct kr_plan_request *q, const struct kr_result *r, char *text, size_t size)
{
    int more = r->limit - r->value, spare = not_in_service(q, r->rail);
    if (spare >= more)
        return snprintf(text, size, "%d more %s holder%s in service would do; %d %s not", more, rail_name(q, r->rail),
                        more == 1 ? "" : "s", spare, spare == 1 ? "is" : "are");
    return snprintf(text, size, "order %d slit%s less: the %s rail has no more holders", more, more == 1 ? "" : "s",
                    rail_name(q, r->rail));
}

/* Tells whether holders in service could still make the cut at the other end, if all cuts moved this far to one
 * side. */
static bool leaves_other_end(const struct kr_plan_request *q, const struct kr_result *r)
{
    struct kr_cuts cuts;
    if (r->rail == 0 || r->rail > q->geometry.n_rails || kr_cuts_make(&q->geometry, &q->order, &cuts).code != KR_OK)
        return true;
    const struct kr_rail_geometry *g = &q->geometry.rail[r->rail - 1];
    bool right = r->value < r->limit; /* direction in which the cuts would move */
    int64_t cut = cuts.cut_um[right ? cuts.n_cuts - 1 : 0] + (int64_t)g->cut_side_um + r->limit - r->value;
    for (uint16_t i = 0; i < g->n_holders; i++) {
        const struct kr_holder *h = &q->rail[r->rail - 1].holder[i];
        int64_t x = cut - h->edge_offset_um;
        if (h->state == KR_HOLDER_IN && (right ? x <= g->max_um : x >= g->min_um))
            return true;
    }
    return false;
}

static int advise_off_rail(const struct kr_plan_request *q, const struct kr_result *r, const char *by, char *text,
                           size_t size)
{
    if (!leaves_other_end(q, r))
        return snprintf(text, size, "take at least %s from the slits: both ends can't be on the rail", by);
    return snprintf(text, size, "shift the web %s towards the %s side", by, r->value < r->limit ? "drive" : "operator");
}

static int advise_web(const struct kr_result *r, const char *by, char *text, size_t size)
{
    switch (r->code) {
    case KR_SUM_MISMATCH: return snprintf(text, size, "the widths and their sum differ by %s: write both anew", by);
    case KR_WEB_TOO_NARROW:
        return snprintf(text, size, "take %s and the trims from the slits, or load a wider web", by);
    case KR_TRIM_TOO_SMALL:
        return snprintf(text, size, "leave %s more at the %s edge: narrower slits, or the slits moved", by,
                        edge_name(r->item));
    case KR_TRIM_TOO_LARGE:
        return snprintf(text, size, "take %s off the trim at the %s edge: wider slits, or the slits moved", by,
                        edge_name(r->item));
    case KR_UNTRIMMED_SUM:
        return snprintf(text, size, "the slits and the web differ by %s; or have an edge trimmed", by);
    default: return snprintf(text, size, "%s", "");
    }
}

static int advise_rail(const struct kr_plan_request *q, const struct kr_result *r, const char *by, char *text,
                       size_t size)
{
    switch (r->code) {
    case KR_SLIT_TOO_NARROW: return snprintf(text, size, "make slit %u at least %s wider", r->item, by);
    case KR_CUT_OFF_RAIL: return advise_off_rail(q, r, by, text, size);
    case KR_NO_ROOM_FOR_IDLE:
        return snprintf(text, size, "%s more room would do, or holder %u taken off the %s rail", by, r->item,
                        rail_name(q, r->rail));
    case KR_FIXED_IN_THE_WAY:
        return snprintf(text, size, "free holder %u, or keep the cut beside it %s further away", r->item, by);
    case KR_SPACING:
        return snprintf(text, size, "%s more between the cuts there would do, or more holders to choose from", by);
    case KR_HOLDERS_DISORDERED: return snprintf(text, size, "scan the %s rail again", rail_name(q, r->rail));
    default: return snprintf(text, size, "%s", "");
    }
}

int kr_plan_advice(const struct kr_plan_request *request, const struct kr_result *refusal, enum kr_length_unit unit,
                   char *text, size_t size)
{
    char by[LENGTH];
    length_text(short_um(request, refusal), unit, by);
    if (refusal->code == KR_TOO_FEW_HOLDERS)
        return advise_holders(request, refusal, text, size);
    if (refusal->code >= KR_SLIT_TOO_NARROW && refusal->code <= KR_HOLDERS_DISORDERED)
        return advise_rail(request, refusal, by, text, size);
    return advise_web(refusal, by, text, size);
}

/* ---- reasons --------------------------------------------------------------------------------------------------- */

static int why_stays(const struct kr_plan_request *q, const struct kr_plan_holder *h, const struct kr_holder *now,
                     enum kr_length_unit unit, char *text, size_t size)
{
    char off[LENGTH];
    if (now->state == KR_HOLDER_ABSENT)
        return snprintf(text, size, "is off the rail");
    if (now->state == KR_HOLDER_FIXED)
        return snprintf(text, size, "is fixed where it stands");
    if (h->cut == 0)
        return snprintf(text, size, "%s, and rests where it is: in nobody's way",
                        now->state == KR_HOLDER_OUT ? "is out of service" : "isn't needed");
    kr_length_text(clamp_i32(abs_i64((int64_t)h->target_um - now->position_um)), unit, off, sizeof off);
    return snprintf(text, size, "makes cut %u from where it is: %s off, %s", h->cut, off,
                    q->deadband_um > 0 ? "within the deadband" : "exactly there");
}

static int why_moves(const struct kr_plan_holder *h, char *text, size_t size)
{
    switch (h->reason) {
    case KR_WHY_CUT: return snprintf(text, size, "goes to cut %u", h->cut);
    case KR_WHY_ROOM:
        if (h->cut > 0)
            return snprintf(text, size, "makes cut %u, and goes there exactly to make room for a neighbour", h->cut);
        return snprintf(text, size, "makes room for a neighbour");
    case KR_WHY_CLEAR: return snprintf(text, size, "leaves the web, where no idle holder may rest");
    case KR_WHY_NEXT: return snprintf(text, size, "goes where the next order wants it");
    default: return snprintf(text, size, "%s", "");
    }
}

static const struct kr_move *move_of(const struct kr_plan_rail *p, uint16_t holder_number)
{
    for (uint16_t m = 0; m < p->n_moves; m++) {
        if (p->move[m].holder == holder_number)
            return &p->move[m];
    }
    return NULL;
}

int kr_plan_why(const struct kr_plan_request *request, const struct kr_plan *plan, uint16_t rail,
                uint16_t holder_number, enum kr_length_unit unit, char *text, size_t size)
{
    const struct kr_plan_rail *p = &plan->rail[rail];
    const struct kr_plan_holder *h = &p->holder[holder_number - 1];
    const struct kr_move *m = move_of(p, holder_number);
    char reason[120];
    if (m == NULL)
        return why_stays(request, h, &request->rail[rail].holder[holder_number - 1], unit, text, size);
    why_moves(h, reason, sizeof reason);
    if (m->after[1] > 0)
        return snprintf(text, size, "%s; not before holders %u and %u have moved out of its way", reason, m->after[0],
                        m->after[1]);
    if (m->after[0] > 0)
        return snprintf(text, size, "%s; not before holder %u has moved out of its way", reason, m->after[0]);
    return snprintf(text, size, "%s", reason);
}
