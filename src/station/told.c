/* Calculates the time of a changeover before it begins, phase by phase: the slowest rail's time for each phase, or the
 * sum if rails move one after the other. */
#include "kniferail/station.h"

/* The place where each carriage will stand, and the time until then. */
struct telling {
    const struct kr_station_config *config;
    const struct kr_plan_request *request; /* its geometry has the speeds of the job */
    const struct kr_plan *plan;
    bool reduced;
    bool moved;     /* the plan's moves are made */
    uint16_t known; /* rails whose next scan goes fast between flags */
    int32_t at_um[KR_RAILS_MAX];
};

typedef int64_t (*rail_time)(struct telling *t, uint16_t rail);

static int64_t phase_us(struct telling *t, rail_time of_rail)
{
    int64_t whole_us = 0;
    for (uint16_t r = 0; r < t->request->geometry.n_rails; r++) {
        int64_t us = of_rail(t, r);
        if (!t->request->geometry.rails_together)
            whole_us += us;
        else if (us > whole_us)
            whole_us = us;
    }
    return whole_us;
}

static int64_t enabling_us(struct telling *t, uint16_t rail)
{
    return 1000LL * t->config->carriage[rail].enable_ms;
}

static void flags_of(const struct telling *t, uint16_t rail, struct kr_scan_flags *flags)
{
    flags->known = t->known >> rail & 1u;
    flags->n = 0;
    for (uint16_t i = 0; i < t->config->geometry.rail[rail].n_holders; i++) {
        const struct kr_holder *holder = &t->request->rail[rail].holder[i];
        const struct kr_plan_holder *planned = &t->plan->rail[rail].holder[i];
        if (kr_holder_on_rail(holder->state))
            flags->at_um[flags->n++] = t->moved && planned->moved ? planned->target_um : holder->position_um;
    }
}

static int64_t scan_us(struct telling *t, uint16_t rail)
{
    struct kr_scan_flags flags;
    flags_of(t, rail, &flags);
    return kr_scan_time_us(&t->config->geometry.rail[rail], &t->config->carriage[rail], t->reduced, &flags,
                           &t->at_um[rail]);
}

/* The plan begins where the carriage stood then. After a scan its first way is another one. */
static int64_t moves_us(struct telling *t, uint16_t rail)
{
    const struct kr_rail_geometry *g = &t->request->geometry.rail[rail];
    const struct kr_plan_rail *plan = &t->plan->rail[rail];
    if (plan->n_moves == 0)
        return 0;
    int64_t first_um = plan->move[0].from_um;
    int64_t planned_us = kr_way_time_us(g, first_um - t->request->rail[rail].carriage_um, g->empty);
    int64_t real_us = kr_way_time_us(g, first_um - t->at_um[rail], g->empty);
    t->at_um[rail] = plan->move[plan->n_moves - 1].to_um;
    return plan->time_us - planned_us + real_us;
}

static int64_t parking_us(struct telling *t, uint16_t rail)
{
    const struct kr_rail_geometry *g = &t->request->geometry.rail[rail];
    const struct kr_carriage_config *carriage = &t->config->carriage[rail];
    int64_t way_um = (int64_t)t->at_um[rail] - carriage->park_um;
    bool parks = way_um > carriage->park_window_um || -way_um > carriage->park_window_um;
    return parks ? kr_way_time_us(g, way_um, g->empty) : 0;
}

/* The clamp opens before the first move of any rail, and closes in the same time after the last one. */
static int64_t clamps_us(struct telling *t, uint16_t rail)
{
    const struct kr_carriage_config *carriage = &t->config->carriage[rail];
    bool opens = carriage->clamping == KR_CLAMP_COMMON && t->plan->rail[rail].n_moves > 0;
    return opens ? 2000LL * carriage->clamp_ms : 0;
}

static bool moves_something(const struct kr_plan_request *request, const struct kr_plan *plan)
{
    for (uint16_t r = 0; r < request->geometry.n_rails; r++)
        if (plan->rail[r].n_moves > 0)
            return true;
    return false;
}

struct kr_told kr_station_tell(const struct kr_station_config *config, const struct kr_plan_request *request,
                               const struct kr_plan *plan, struct kr_telling how)
{
    struct telling t = {.config = config, .request = request, .plan = plan, .reduced = how.reduced, .known = how.known};
    struct kr_told told = {.moves_us = how.moves ? plan->time_us : 0};
    bool moves = how.moves && moves_something(request, plan);
    for (uint16_t r = 0; r < request->geometry.n_rails; r++)
        t.at_um[r] = how.from_park ? config->carriage[r].park_um : request->rail[r].carriage_um;
    if (how.scans_first) {
        told.scans_us = phase_us(&t, scan_us);
        t.known = UINT16_MAX;
    }
    t.moved = how.moves;
    int64_t rest_us = phase_us(&t, enabling_us);
    if (moves)
        rest_us += phase_us(&t, clamps_us) + phase_us(&t, moves_us);
    if (how.verifies && (moves || !how.scans_first))
        told.scans_us += phase_us(&t, scan_us);
    told.verified_us = rest_us + told.scans_us + phase_us(&t, parking_us);
    return told;
}
