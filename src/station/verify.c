#include "verify.h"

int32_t order_tolerance_um(const struct kr_station_config *config, const struct kr_durable *durable)
{
    int32_t own_um = durable->in_force ? durable->order.tolerance_um : 0;
    return own_um ? own_um : config->geometry.tolerance_um;
}

int32_t stay_um(const struct kr_station_config *config, const struct kr_order *order)
{
    int32_t most_um = order->tolerance_um ? order->tolerance_um : config->geometry.tolerance_um;
    if (most_um > config->pair_window_um / 2)
        most_um = config->pair_window_um / 2;
    if (most_um > config->slit_tolerance_um / 2)
        most_um = config->slit_tolerance_um / 2;
    return most_um;
}

bool verify_may_return(const struct placement *placement)
{
    return placement->verified || placement->set_aside;
}

void verify_set_aside(struct placement *placement)
{
    placement->verified = placement->slits_measured = false;
    placement->set_aside = true;
}

void verify_undo(struct placement *placement)
{
    placement->verified = placement->set_aside = false;
}

void verify_forget(struct placement *placement)
{
    verify_undo(placement);
    placement->slits_measured = false;
}

void verify_shown_changed(struct placement *placement)
{
    placement->generation++;
}

void verify_places_changed(struct placement *placement, uint16_t n)
{
    placement->generation = (uint16_t)(placement->generation + n);
    if (n > 0)
        verify_forget(placement); /* a verification sets them again at its end */
}

static int32_t magnitude(int32_t value)
{
    return value < 0 ? -value : value;
}

static void keep_worst(int32_t *worst_um, int32_t off_um)
{
    if (magnitude(off_um) > magnitude(*worst_um))
        *worst_um = off_um;
}

bool verify_can_judge(const struct kr_station_config *config, const struct kr_durable *durable,
                      const struct planning *planning)
{
    if (!planning->valid || !planning->cuts_valid)
        return false;
    for (uint16_t r = 0; r < config->geometry.n_rails; r++)
        for (uint16_t i = 0; i < config->geometry.rail[r].n_holders; i++)
            if (planning->plan.rail[r].holder[i].cut != 0 && durable->holder[r][i].known != KR_MEASURED)
                return false;
    return true;
}

/* Computes the measured cutting edge of each cut on one rail. */
static void edges_of(const struct judgement *j, uint16_t rail, int32_t edge_um[KR_CUTS_MAX])
{
    const struct kr_plan_rail *plan = &j->planning->plan.rail[rail];
    for (uint16_t i = 0; i < j->config->geometry.rail[rail].n_holders; i++) {
        const struct kr_holder_data *holder = &j->durable->holder[rail][i];
        if (plan->holder[i].cut != 0)
            edge_um[plan->holder[i].cut - 1] = kr_edge_um(holder->position_um, holder->edge_offset_um);
    }
}

/* Counts a slip: the holder was moved to its target, and isn't there. */
static void count_slip(struct placement *placement, const struct judgement *j, uint16_t rail, uint16_t i)
{
    uint16_t *slips = &placement->slips[rail][i], notice = j->config->carriage[rail].slips_notice;
    if (*slips < UINT16_MAX)
        ++*slips;
    if (notice && *slips == notice)
        alarm_raise(j->alarms,
                    (struct kr_alarm){KR_ALARM_MANY_SLIPS, (uint16_t)(rail + 1), (uint16_t)(i + 1), notice, notice});
}

static bool holders_hold(struct placement *placement, const struct judgement *j, uint16_t rail)
{
    struct kr_record_rail *record = &j->record->rail[rail];
    int32_t tolerance_um = order_tolerance_um(j->config, j->durable);
    bool good = true;
    record->worst_holder = 0;
    record->worst_um = 0;
    for (uint16_t i = 0; i < j->config->geometry.rail[rail].n_holders; i++) {
        const struct kr_plan_holder *holder = &j->planning->plan.rail[rail].holder[i];
        if (holder->cut == 0)
            continue;
        int32_t off_um = j->durable->holder[rail][i].position_um - holder->target_um;
        if (record->worst_holder == 0 || magnitude(off_um) > magnitude(record->worst_um)) {
            record->worst_holder = (uint16_t)(i + 1);
            record->worst_um = off_um;
        }
        if (magnitude(off_um) <= tolerance_um)
            continue;
        good = false;
        if (j->counts_slips && holder->moved)
            count_slip(placement, j, rail, i);
        if (j->names)
            alarm_raise(j->alarms, (struct kr_alarm){KR_ALARM_OUT_OF_TOLERANCE, (uint16_t)(rail + 1), (uint16_t)(i + 1),
                                                     off_um, tolerance_um});
    }
    return good;
}

static bool pairs_hold(const struct judgement *j, uint16_t upper, uint16_t lower,
                       int32_t edge_um[KR_RAILS_MAX][KR_CUTS_MAX])
{
    const struct kr_rail_geometry *rail = j->config->geometry.rail;
    int32_t clearance_um = rail[upper].cut_side_um - rail[lower].cut_side_um;
    bool good = true;
    for (uint16_t k = 0; k < j->planning->cuts.n_cuts; k++) {
        int32_t off_um = edge_um[upper][k] - edge_um[lower][k] - clearance_um;
        keep_worst(&j->record->worst_pair_um, off_um);
        if (magnitude(off_um) <= j->config->pair_window_um)
            continue;
        good = false;
        if (j->names)
            alarm_raise(j->alarms, (struct kr_alarm){KR_ALARM_PAIR_OUT_OF_WINDOW, (uint16_t)(upper + 1),
                                                     (uint16_t)(k + 1), off_um, j->config->pair_window_um});
    }
    return good;
}

uint16_t slitting_rail(const struct kr_geometry *geometry)
{
    for (uint16_t r = 0; r < geometry->n_rails; r++)
        if (geometry->rail[r].role == KR_LOWER)
            return r;
    return 0;
}

/* Returns the place of edge number e of the slits (0: the first slit's outer edge). An untrimmed edge is the web's
 * own. */
static int32_t slit_edge_um(const struct judgement *j, const int32_t edge_um[KR_CUTS_MAX], uint16_t e)
{
    if (e < j->planning->cuts.first_slit_edge)
        return j->planning->cuts.web_left_um;
    uint16_t k = (uint16_t)(e - j->planning->cuts.first_slit_edge);
    if (k >= j->planning->cuts.n_cuts)
        return j->planning->cuts.web_right_um;
    return edge_um[k] - j->config->geometry.rail[slitting_rail(&j->config->geometry)].cut_side_um;
}

static int32_t wanted_width_um(const struct judgement *j, uint16_t slit)
{
    int64_t width_nm = j->durable->order.width_nm[slit], millionths = width_nm * j->durable->order.compensation_ppm;
    int64_t half = millionths < 0 ? -500000 : 500000;
    return kr_um_from_nm(width_nm + (millionths + half) / 1000000);
}

static bool slits_hold(struct placement *placement, const struct judgement *j, const int32_t edge_um[KR_CUTS_MAX])
{
    bool good = true;
    for (uint16_t i = 0; i < j->durable->order.n_slits; i++) {
        int32_t left_um = slit_edge_um(j, edge_um, i), right_um = slit_edge_um(j, edge_um, (uint16_t)(i + 1));
        placement->slit_um[i] = right_um - left_um;
        int32_t off_um = placement->slit_um[i] - wanted_width_um(j, i);
        keep_worst(&j->record->worst_slit_um, off_um);
        if (magnitude(off_um) <= j->config->slit_tolerance_um)
            continue;
        good = false;
        if (j->names)
            alarm_raise(j->alarms, (struct kr_alarm){KR_ALARM_SLIT_OUT_OF_TOLERANCE, 0, (uint16_t)(i + 1), off_um,
                                                     j->config->slit_tolerance_um});
    }
    placement->slits_measured = true;
    return good;
}

bool verify_placement(struct placement *placement, const struct judgement *j)
{
    const struct kr_geometry *geometry = &j->config->geometry;
    int32_t edge_um[KR_RAILS_MAX][KR_CUTS_MAX] = {{0}};
    bool good = true;
    j->record->worst_pair_um = j->record->worst_slit_um = 0;
    for (uint16_t r = 0; r < geometry->n_rails; r++) {
        edges_of(j, r, edge_um[r]);
        good = holders_hold(placement, j, r) && good;
    }
    for (uint16_t u = 0; u < geometry->n_rails; u++)
        for (uint16_t l = 0; l < geometry->n_rails; l++)
            if (geometry->rail[u].role == KR_UPPER && geometry->rail[l].role == KR_LOWER)
                good = pairs_hold(j, u, l, edge_um) && good;
    good = slits_hold(placement, j, edge_um[slitting_rail(geometry)]) && good;
    if (good)
        placement->verified = true;
    return good;
}

void verify_again(struct placement *placement, const struct kr_station_config *config, const struct kr_durable *durable,
                  const struct planning *planning)
{
    struct kr_record record = {0}; /* a record that is not used */
    struct judgement judgement = {.config = config, .durable = durable, .planning = planning, .record = &record};
    placement->set_aside = false;
    if (verify_can_judge(config, durable, planning))
        verify_placement(placement, &judgement);
}
