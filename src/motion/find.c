/* Finds the datum by the references on the frame. It is for a drive whose datum is lost because its battery failed or
 * its encoder was replaced. The carriage goes towards the drive side, at setup speed and setup torque, until it has
 * passed two references that stand nearer to each other than two holders can. Their distance identifies the two, and so
 * the position of the carriage. The result is preliminary: a whole scan must then find all other references at their
 * places.
 *
 * The end of the travel is unknown during the search. So the drive never gets a target more than a fraction of a
 * second ahead, as in a jog, and the whole way is not longer than the travel. It ends earlier where flags that were
 * seen can be a pair near the end of the travel. Once the pair is known, the carriage is halted, as in a jog: the room
 * behind the last reference need be no longer than the way to stop. */
#include "find.h"

#include "drive.h"
#include "match.h"
#include "residual.h"
#include "scan.h"
#include "scan_way.h"
#include "signals.h"
#include "track.h"
#include "trip.h"
#include "wind_down.h"

#define LEAD_MS 500

/* The cycles from the edge of a flag to the halt at the drive: the image with the edge, the command, one to spare. */
#define HALT_CYCLES 3

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

/* Tells whether flag i and the next one are such a pair with this distance. */
static bool is_distance(const struct kr_geometry *geometry, const struct kr_references *references, uint16_t i,
                        int64_t distance_um)
{
    if (!is_close(geometry, references, i))
        return false;
    int64_t off_um = distance_um - references->flag[i + 1].at_um + references->flag[i].at_um;
    return off_um <= KR_REFERENCE_SAME_UM && off_um >= -KR_REFERENCE_SAME_UM;
}

/* Returns the first flag, from 1, of the only pair with this distance; 0: there is none, or more than one. */
static uint16_t only_one(const struct kr_geometry *geometry, const struct kr_references *references,
                         int64_t distance_um)
{
    uint16_t found = 0, n = 0;
    for (uint16_t i = 0; i < references->n; i++) {
        if (!is_distance(geometry, references, i, distance_um))
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

static int64_t stop_um(struct kr_speed speed)
{
    int64_t v = speed.v_um_per_s;
    return v * v / (2LL * speed.a_um_per_s2);
}

int64_t kr_find_way_um(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage,
                       int32_t period_us, int32_t setup_um_per_s)
{
    struct kr_speed speed = rail->empty;
    if (speed.v_um_per_s > setup_um_per_s)
        speed.v_um_per_s = setup_um_per_s;
    const struct kr_reference *last = &carriage->references.flag[carriage->references.n - 1];
    /* half a flag, and as much for the switch's hysteresis */
    int64_t behind_um = scan_position_um(carriage, scan_references_switch(carriage), last->at_um + last->width_um);
    return behind_um + (int64_t)speed.v_um_per_s * HALT_CYCLES * period_us / 1000000 + stop_um(speed) + 1;
}

static const struct kr_hit *references_seen(const struct rail *r, uint16_t *n)
{
    enum kr_switch_of of = scan_references_switch(r->in->carriage);
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

/* Returns the distance of two flags from the taught places of references i and i + 1. */
static int32_t shift_um(const struct kr_references *references, const struct kr_hit hit[2], uint16_t i)
{
    const struct kr_reference *flag = &references->flag[i];
    int64_t twice_um = (int64_t)hit[0].at_um + hit[1].at_um - flag[0].at_um - flag[1].at_um;
    return (int32_t)(twice_um / 2 > INT32_MAX ? INT32_MAX : twice_um / 2 < INT32_MIN ? INT32_MIN : twice_um / 2);
}

static bool is_seen(const struct kr_hit hit[], uint16_t n, int64_t place_um)
{
    for (uint16_t i = 0; i < n; i++) {
        int64_t off_um = hit[i].at_um - place_um;
        if (off_um <= KR_REFERENCE_SAME_UM && off_um >= -KR_REFERENCE_SAME_UM)
            return true;
    }
    return false;
}

/* Tells whether the rail is not shifted by this: the switch has passed the place of another reference, and no flag was
 * there. */
static bool is_refuted(const struct rail *r, const struct kr_hit hit[], uint16_t n, int32_t by_um)
{
    const struct kr_references *references = &r->in->carriage->references;
    for (uint16_t i = 0; i < references->n; i++) {
        const struct kr_reference *flag = &references->flag[i];
        int64_t place_um = (int64_t)flag->at_um + by_um, clear_um = flag->width_um + KR_REFERENCE_SAME_UM;
        if (place_um > INT32_MAX || place_um < INT32_MIN)
            continue;
        int64_t at_um = scan_position_um(r->in->carriage, scan_references_switch(r->in->carriage), (int32_t)place_um);
        bool passed = at_um - clear_um > r->m->find_from_um && at_um + clear_um < axis_of(r)->position_um;
        if (passed && !is_seen(hit, n, place_um))
            return true;
    }
    return false;
}

/* Returns where the search ends if it finds nothing, by the drive's own position: not further from its start than the
 * travel is long, and not beyond the travel by any pair that flags which were seen can be. */
static int64_t end_um(const struct rail *r)
{
    const struct kr_carriage_config *carriage = r->in->carriage;
    int64_t end = (int64_t)r->m->find_from_um + carriage->travel_max_um - carriage->travel_min_um;
    uint16_t n;
    const struct kr_hit *hit = references_seen(r, &n);
    for (uint16_t k = 0; k + 1 < n; k++) {
        for (uint16_t i = 0; i < carriage->references.n; i++) {
            int64_t distance_um = (int64_t)hit[k + 1].at_um - hit[k].at_um;
            if (!is_distance(r->in->geometry, &carriage->references, i, distance_um))
                continue;
            int32_t by_um = shift_um(&carriage->references, &hit[k], i);
            int64_t most_um = (int64_t)carriage->travel_max_um + by_um;
            if (most_um < end && !is_refuted(r, hit, n, by_um))
                end = most_um;
        }
    }
    return end;
}

/* Returns the furthest target that the drive may have now: the end, or behind it where it can still stop. */
static int64_t furthest_um(const struct rail *r)
{
    int64_t end = end_um(r), stops_um = axis_of(r)->position_um + stop_um(speed_of(r));
    return end > stops_um ? end : stops_um;
}

static int64_t lead_um(const struct rail *r, int64_t ms)
{
    struct kr_speed speed = speed_of(r);
    return speed.v_um_per_s * ms / 1000 + stop_um(speed);
}

static void lead(const struct rail *r)
{
    int64_t to_um = axis_of(r)->position_um + lead_um(r, LEAD_MS), most_um = furthest_um(r);
    to_um = to_um < most_um ? to_um : most_um;
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

static void halt(const struct rail *r)
{
    r->m->drive.halt = true;
    r->m->drive.setpoint = KR_SETPOINT_NONE;
    r->m->find = KR_FIND_HALTING;
    carriage_enter(r, KR_CARRIAGE_FINDING); /* standstill must be proven from this moment on */
}

static void look(const struct rail *r)
{
    const struct kr_drive_control *drive = &r->m->drive;
    bool reached = drive->setpoint == KR_SETPOINT_REACHED, taken = reached || drive->setpoint == KR_SETPOINT_RUNNING;
    int64_t left_um = (int64_t)drive->target_um - axis_of(r)->position_um;
    bool is_short = left_um < lead_um(r, LEAD_MS / 2) && drive->target_um < end_um(r);
    uint16_t pair = pair_of(r);
    if (pair != 0) {
        uint16_t n;
        const struct kr_hit *hit = references_seen(r, &n);
        r->m->find_shift_um = shift_um(&r->in->carriage->references, &hit[n - 2], (uint16_t)(pair - 1));
        halt(r);
    } else if (reached && drive->target_um >= end_um(r)) {
        carriage_trip(r, KR_ALARM_REFERENCES_UNSEEN, 0, 0, r->in->carriage->references.n);
    } else if (drive->target_um > furthest_um(r) || (taken && is_short)) {
        lead(r);
    }
}

/* The place where it has stopped becomes the target, so that it does not run on when the halt ends. */
static void halting(const struct rail *r)
{
    int32_t at_um = axis_of(r)->position_um;
    if (carriage_still(r)) {
        drive_move(r, at_um, speed_of(r));
        r->m->find = KR_FIND_FOUND;
    } else if (phase_is_late(r, WIND_DOWN_STANDSTILL_LIMIT_MS)) {
        carriage_trip(r, KR_ALARM_MOVE_LATE, 0, carriage_place_um(r), place_by_um(r, at_um));
    }
}

static void found(const struct rail *r)
{
    if (r->m->drive.setpoint == KR_SETPOINT_RUNNING)
        r->m->drive.halt = false;
    if (r->m->drive.setpoint != KR_SETPOINT_REACHED)
        return;
    residual_take_datum(r, r->m->find_shift_um);
    r->m->find = KR_FIND_DONE;
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
    switch (r->m->find) {
    case KR_FIND_LOOKING: look(r); break;
    case KR_FIND_HALTING: halting(r); break;
    case KR_FIND_FOUND: found(r); break;
    case KR_FIND_ARMING:
    case KR_FIND_DONE: break;
    }
}
