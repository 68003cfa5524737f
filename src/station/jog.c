/* Hold-to-run: the empty carriage of one rail runs at reduced speed while the client in control asks for it anew again
 * and again, and while the hard-wired hold-to-run device is pressed, which no register can give.
 *
 * The drive is never sent further than it would get in JOG_LEAD_MS: whatever happens to this program, that is where
 * the carriage stops by itself. While it is held, the target is moved on before it is reached. Let go, the carriage is
 * halted, which works at once whatever set-point is under way; then the place where it came to stand is made the
 * target, so that the rest of the old one is not run when the halt is taken away. */
#include "state.h"

#define JOG_LEAD_MS 600

/* Wall time, as for every refresh. A refresh from before this job counts for nothing. */
void jog_watch(struct kr_station *s)
{
    struct jog *jog = &s->jog;
    if (s->in.jog_refresh == jog->refresh)
        return;
    jog->refresh = s->in.jog_refresh;
    jog->refresh_us = s->wall_us;
    jog->refreshed = true;
}

void jog_begin(struct kr_station *s)
{
    s->jog.refreshed = false;
    s->jog.step = JOG_STANDING;
}

bool jog_enabled(const struct kr_station *s, uint16_t rail)
{
    const struct kr_axis_in *axis = &s->in.axis[rail - 1];
    return axis->link && axis->inputs & KR_DI_JOG_ENABLE;
}

/* -1, 1, or 0: stand. */
static int8_t wanted(const struct kr_station *s)
{
    const struct jog *jog = &s->jog;
    if (!jog->refreshed || s->wall_us - jog->refresh_us >= 1000LL * KR_JOG_REFRESH_MS)
        return 0;
    if (s->in.jog_direction == 1)
        return 1;
    return s->in.jog_direction == -1 ? -1 : 0;
}

static struct kr_speed speed_of(const struct kr_station *s, const struct carriage *c)
{
    struct kr_speed speed = s->config.geometry.rail[c->rail].empty;
    int32_t limit = s->config.carriage[c->rail].setup_speed_um_per_s;
    if (speed.v_um_per_s > limit)
        speed.v_um_per_s = limit;
    return speed;
}

/* Way run in so long, and to stop after it. */
static int64_t way_um(struct kr_speed speed, int64_t ms)
{
    int64_t v = speed.v_um_per_s;
    return v * ms / 1000 + v * v / (2LL * speed.a_um_per_s2);
}

static void lead(struct kr_station *s, struct carriage *c)
{
    const struct kr_carriage_config *config = &s->config.carriage[c->rail];
    struct kr_speed speed = speed_of(s, c);
    int64_t to_um = axis_of(s, c)->position_um + s->jog.direction * way_um(speed, JOG_LEAD_MS);
    if (to_um > config->travel_max_um)
        to_um = config->travel_max_um;
    if (to_um < config->travel_min_um)
        to_um = config->travel_min_um;
    drive_move(s, c, (int32_t)to_um, speed);
}

static void run(struct kr_station *s, struct carriage *c, int8_t direction)
{
    s->jog.direction = direction;
    s->jog.step = JOG_RUNNING;
    lead(s, c);
}

static void halt(struct kr_station *s, struct carriage *c)
{
    c->drive.halt = true;
    c->drive.setpoint = SETPOINT_NONE;
    s->jog.step = JOG_HALTING;
    carriage_enter(s, c, KR_CARRIAGE_JOGGING); /* standstill is proven from here on */
}

static bool at_end_of_travel(const struct kr_station *s, const struct carriage *c)
{
    const struct kr_carriage_config *config = &s->config.carriage[c->rail];
    return c->drive.target_um == (s->jog.direction > 0 ? config->travel_max_um : config->travel_min_um);
}

static void running(struct kr_station *s, struct carriage *c)
{
    bool taken = c->drive.setpoint == SETPOINT_RUNNING || c->drive.setpoint == SETPOINT_REACHED;
    int64_t left_um = s->jog.direction * ((int64_t)c->drive.target_um - axis_of(s, c)->position_um);
    if (wanted(s) != s->jog.direction)
        halt(s, c);
    else if (taken && !at_end_of_travel(s, c) && left_um < way_um(speed_of(s, c), JOG_LEAD_MS / 2))
        lead(s, c);
}

static void settle(struct kr_station *s, struct carriage *c)
{
    drive_move(s, c, axis_of(s, c)->position_um, speed_of(s, c));
    s->jog.step = JOG_SETTLING;
}

/* The drive has taken the place where it stands as its target: the halt may go. */
static void settled(struct kr_station *s, struct carriage *c)
{
    if (c->drive.setpoint == SETPOINT_RUNNING)
        c->drive.halt = false;
    if (c->drive.setpoint == SETPOINT_REACHED)
        s->jog.step = JOG_STANDING;
}

void jog_step(struct kr_station *s, struct carriage *c)
{
    if (!pin_is_out(s, c)) {
        carriage_trip(s, c, KR_ALARM_PIN_UNPROVEN, c->docked, 0, 0);
        return;
    }
    switch (s->jog.step) {
    case JOG_STANDING:
        if (wanted(s) != 0)
            run(s, c, wanted(s));
        break;
    case JOG_RUNNING: running(s, c); break;
    case JOG_HALTING:
        if (carriage_still(s, c))
            settle(s, c);
        break;
    case JOG_SETTLING: settled(s, c); break;
    }
}
