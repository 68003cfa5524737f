/* Finds the datum by the references on the frame. It is for a drive whose datum is lost because its battery failed or
 * its encoder was replaced. The carriage goes towards the drive side, at setup speed and setup torque, until it has
 * passed two references that stand nearer to each other than two holders can. Their distance identifies the two, and so
 * the position of the carriage. The result is preliminary: a whole scan must then find all other references at their
 * places.
 *
 * The end of the travel is unknown during the search. So the drive never gets a target more than a fraction of a second
 * ahead, as in a jog, and the whole way is not longer than the travel. */
#include "find.h"

#include "drive.h"
#include "match.h"
#include "residual.h"
#include "scan.h"
#include "signals.h"
#include "trip.h"

#define LEAD_MS 500

/* ---- which pair of references it can be ------------------------------------------------------------------------- */

/* No two holders come so near to each other. */
static int32_t nearest_um(const struct kr_geometry *geometry)
{
    int32_t nearest = geometry->size_spacing_um[0];
    for (uint16_t i = 1; i < geometry->n_sizes; i++)
        nearest = geometry->size_spacing_um[i] < nearest ? geometry->size_spacing_um[i] : nearest;
    return nearest;
}

/* Tells whether flag i and the next one are a pair that cannot be two holders: their distance is less than that of any
 * two holders, or their switch sees no holder. */
static bool is_close(const struct kr_geometry *geometry, const struct kr_references *references, uint16_t i)
{
    if (references->own_switch)
        return i + 1 < references->n;
    bool one_side = i + 1 < references->n && (i + 1 < references->n_low || i >= references->n_low);
    return one_side &&
           references->flag[i + 1].at_um - references->flag[i].at_um < nearest_um(geometry) - 2 * KR_REFERENCE_SAME_UM;
}

/* Returns the first flag, from 1, of the only pair with this distance; 0: there is none, or more than one. */
static uint16_t only_one(const struct kr_geometry *geometry, const struct kr_references *references,
                         int64_t distance_um)
{
    uint16_t found = 0, n = 0;
    for (uint16_t i = 0; i < references->n; i++) {
        int64_t off_um =
            distance_um - references->flag[i + 1u < references->n ? i + 1u : i].at_um + references->flag[i].at_um;
        if (!is_close(geometry, references, i) || off_um > KR_REFERENCE_SAME_UM || off_um < -KR_REFERENCE_SAME_UM)
            continue;
        found = (uint16_t)(i + 1);
        n++;
    }
    return n == 1 ? found : 0;
}

/* From every start, the carriage meets the references of the drive side last. */
bool kr_find_is_possible(const struct kr_geometry *geometry, const struct kr_references *references)
{
    uint16_t first = references->own_switch ? (uint16_t)(references->n - 2) : references->n_low;
    for (uint16_t i = first; i + 1 < references->n; i++)
        if (only_one(geometry, references, references->flag[i + 1].at_um - references->flag[i].at_um) != 0)
            return true;
    return false;
}

/* ---- the search ------------------------------------------------------------------------------------------------- */

static struct kr_speed speed_of(const struct rail *r)
{
    return kr_setup_speed(r->in->carriage, r->in->rail->empty, true);
}

static int64_t lead_um(const struct rail *r, int64_t ms)
{
    struct kr_speed speed = speed_of(r);
    int64_t v = speed.v_um_per_s;
    return v * ms / 1000 + v * v / (2LL * speed.a_um_per_s2);
}

static void lead(const struct rail *r)
{
    int64_t to_um = axis_of(r)->position_um + lead_um(r, LEAD_MS);
    drive_move(r, (int32_t)(to_um < INT32_MAX ? to_um : INT32_MAX), speed_of(r));
}

void find_begin(const struct rail *r)
{
    if (!pin_is_out(r)) {
        carriage_trip(r, KR_ALARM_PIN_UNPROVEN, r->m->docked, 0, 0);
        return;
    }
    r->m->find_from_um = axis_of(r)->position_um;
    r->m->find = KR_FIND_ARMING;
    carriage_enter(r, KR_CARRIAGE_FINDING);
}

static const struct kr_hit *references_seen(const struct rail *r, uint16_t *n)
{
    enum kr_switch_of of = r->in->carriage->references.own_switch ? KR_SWITCH_OF_REFERENCES : KR_SWITCH_OF_HOLDERS;
    *n = r->m->scan.of[of].n_hits[0];
    return scan_hits(&r->m->scan, of, 0);
}

/* Returns the pair that the last two flags are, if their widths fit; 0: they are no such pair. */
static uint16_t pair_of(const struct rail *r)
{
    const struct kr_references *references = &r->in->carriage->references;
    uint16_t n;
    const struct kr_hit *hit = references_seen(r, &n);
    if (n < 2)
        return 0;
    const struct kr_hit *a = &hit[n - 2], *b = &hit[n - 1];
    uint16_t pair = only_one(r->in->geometry, references, (int64_t)b->at_um - a->at_um);
    bool clean = pair != 0 && looks_as_wide(a->width_um, references->flag[pair - 1].width_um) &&
                 looks_as_wide(b->width_um, references->flag[pair].width_um);
    return clean ? pair : 0;
}

/* Returns the distance of the pair from its taught place. */
static int32_t shift_um(const struct rail *r, uint16_t pair)
{
    uint16_t n;
    const struct kr_hit *last = references_seen(r, &n) + n - 1;
    const struct kr_reference *flag = &r->in->carriage->references.flag[pair - 1];
    int64_t twice_um = (int64_t)last[-1].at_um + last->at_um - flag[0].at_um - flag[1].at_um;
    return (int32_t)(twice_um / 2 > INT32_MAX ? INT32_MAX : twice_um / 2 < INT32_MIN ? INT32_MIN : twice_um / 2);
}

static void look(const struct rail *r)
{
    const struct kr_drive_control *drive = &r->m->drive;
    bool taken = drive->setpoint == KR_SETPOINT_RUNNING || drive->setpoint == KR_SETPOINT_REACHED;
    int64_t at_um = axis_of(r)->position_um, gone_um = at_um - r->m->find_from_um;
    int64_t travel_um = (int64_t)r->in->carriage->travel_max_um - r->in->carriage->travel_min_um;
    uint16_t pair = pair_of(r);
    if (pair != 0) {
        r->m->find_shift_um = shift_um(r, pair);
        r->m->find = KR_FIND_FOUND; /* the drive stops at its last target */
    } else if (gone_um > travel_um) {
        carriage_trip(r, KR_ALARM_REFERENCES_UNSEEN, 0, 0, r->in->carriage->references.n);
    } else if (taken && drive->target_um - at_um < lead_um(r, LEAD_MS / 2)) {
        lead(r);
    }
}

static void arming(const struct rail *r)
{
    if (carriage_fresh(r) && scan_is_armed(r)) {
        scan_watch(r);
        r->m->find = KR_FIND_LOOKING;
        lead(r);
    } else if (phase_is_late(r, r->in->carriage->setpoint_limit_ms)) {
        scan_not_armed(r);
    }
}

void find_step(const struct rail *r)
{
    if (r->m->find == KR_FIND_ARMING) {
        arming(r);
        return;
    }
    scan_edges(r);
    if (r->m->phase != KR_CARRIAGE_FINDING)
        return;
    if (r->m->find == KR_FIND_LOOKING) {
        look(r);
    } else if (r->m->drive.setpoint == KR_SETPOINT_REACHED) {
        residual_take_datum(r, r->m->find_shift_um);
        r->m->find = KR_FIND_DONE;
    }
}
