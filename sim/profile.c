#include "sim/profile.h"

#include <math.h>

static void add_piece(struct sim_profile *p, double length_s, double accel_um_per_s2)
{
    if (length_s <= 0)
        return;
    p->piece[p->n].length_s = length_s;
    p->piece[p->n].accel_um_per_s2 = accel_um_per_s2;
    p->n++;
    p->length_s += length_s;
}

static void begin(struct sim_profile *p, struct sim_motion from, double to_um)
{
    *p = (struct sim_profile){.from_um = from.at_um, .from_speed_um_per_s = from.speed_um_per_s, .to_um = to_um};
}

void sim_profile_rest(struct sim_profile *profile, double at_um)
{
    begin(profile, (struct sim_motion){.at_um = at_um}, at_um);
}

void sim_profile_stop(struct sim_profile *profile, struct sim_motion from, double decel_um_per_s2)
{
    double v = from.speed_um_per_s;
    begin(profile, from, from.at_um + v * fabs(v) / (2 * decel_um_per_s2));
    add_piece(profile, fabs(v) / decel_um_per_s2, v > 0 ? -decel_um_per_s2 : decel_um_per_s2);
}

/* Adds the sections over a distance > 0, from a speed v with 0 <= v and v*v/2d <= distance, to rest. way is +1 or
 * -1. */
static void add_trapezoid(struct sim_profile *p, double distance_um, double v, double way, struct sim_limits lim)
{
    double a = lim.accel_um_per_s2, d = lim.decel_um_per_s2, top = lim.speed_um_per_s;
    if (v > top) { /* the new speed limit is lower, so the motor is first slowed down to it */
        double cruise_um = distance_um - v * v / (2 * d);
        add_piece(p, (v - top) / d, -way * d);
        add_piece(p, cruise_um / top, 0);
        add_piece(p, top / d, -way * d);
        return;
    }
    double peak = sqrt((2 * a * d * distance_um + d * v * v) / (a + d));
    double cruise_um = 0;
    if (peak > top) {
        peak = top;
        cruise_um = distance_um - (top * top - v * v) / (2 * a) - top * top / (2 * d);
    }
    add_piece(p, (peak - v) / a, way * a);
    add_piece(p, cruise_um / peak, 0);
    add_piece(p, peak / d, -way * d);
}

void sim_profile_move(struct sim_profile *profile, struct sim_motion from, double to_um, struct sim_limits limits)
{
    double v = from.speed_um_per_s, d = limits.decel_um_per_s2;
    double stop_um = from.at_um + v * fabs(v) / (2 * d);
    begin(profile, from, to_um);
    if (v * (to_um - stop_um) < 0) { /* it moves away from the target, or can't stop before it */
        add_piece(profile, fabs(v) / d, v > 0 ? -d : d);
        from = (struct sim_motion){.at_um = stop_um};
    }
    double way = to_um < from.at_um ? -1 : 1;
    double distance_um = fabs(to_um - from.at_um);
    if (distance_um > 0)
        add_trapezoid(profile, distance_um, fabs(from.speed_um_per_s), way, limits);
}

struct sim_motion sim_profile_at(const struct sim_profile *profile, double t_s)
{
    struct sim_motion m = {profile->from_um, profile->from_speed_um_per_s};
    if (t_s >= profile->length_s)
        return (struct sim_motion){.at_um = profile->to_um};
    for (uint32_t i = 0; i < profile->n; i++) {
        double a = profile->piece[i].accel_um_per_s2;
        double t = fmin(t_s, profile->piece[i].length_s);
        m.at_um += m.speed_um_per_s * t + a * t * t / 2;
        m.speed_um_per_s += a * t;
        if (t_s <= profile->piece[i].length_s)
            break;
        t_s -= profile->piece[i].length_s;
    }
    return m;
}
