#include "rig.h"

#include <stdlib.h>

/* ---- edges, pairs, slits --------------------------------------------------------------------------------------- */

/* A proven edge is claimed to be where its offset says; for another edge, nothing is claimed. */
static int32_t blade_um(const struct rig *rig, uint16_t r, uint16_t i)
{
    uint8_t edge = kr_station_durable(rig->station)->holder[r][i].edge;
    if (edge == KR_EDGE_UNPROVEN || edge == KR_EDGE_STRUCK)
        return 0;
    return sim_machine_blade_um(&rig->machine, r, i) - rig->excuse[r].blade_um[i];
}

/* The true edges of one rail without the side clearance of its cut lines: the places where the rail truly cuts, apart
 * from excused errors. */
static void true_cuts(const struct rig *rig, uint16_t r, int32_t cut_um[KR_CUTS_MAX])
{
    const struct kr_plan_rail *plan = &kr_station_plan(rig->station)->rail[r];
    const struct kr_holder_data *row = kr_station_durable(rig->station)->holder[r];
    for (uint16_t i = 0; i < rig->config.geometry.rail[r].n_holders; i++)
        if (plan->holder[i].cut != 0)
            cut_um[plan->holder[i].cut - 1] = sim_machine_holder_um(&rig->machine, r, i) + rig->excuse[r].place_um[i] +
                                              blade_um(rig, r, i) + row[i].edge_offset_um -
                                              rig->config.geometry.rail[r].cut_side_um;
}

static int32_t worse(int32_t worst_um, int32_t off_um)
{
    return abs(off_um) > worst_um ? abs(off_um) : worst_um;
}

int32_t rig_worst_edge_um(const struct rig *rig)
{
    const struct kr_cuts *cuts = &kr_station_plan(rig->station)->cuts;
    int32_t worst_um = 0;
    for (uint16_t r = 0; r < rig->config.geometry.n_rails; r++) {
        int32_t cut_um[KR_CUTS_MAX] = {0};
        true_cuts(rig, r, cut_um);
        for (uint16_t k = 0; k < cuts->n_cuts; k++)
            worst_um = worse(worst_um, cut_um[k] - cuts->cut_um[k]);
    }
    return worst_um;
}

static int32_t worst_pair_um(const struct rig *rig, uint16_t upper, uint16_t lower)
{
    int32_t up_um[KR_CUTS_MAX] = {0}, low_um[KR_CUTS_MAX] = {0}, worst_um = 0;
    true_cuts(rig, upper, up_um);
    true_cuts(rig, lower, low_um);
    for (uint16_t k = 0; k < kr_station_plan(rig->station)->cuts.n_cuts; k++)
        worst_um = worse(worst_um, up_um[k] - low_um[k]);
    return worst_um;
}

int32_t rig_worst_pair_um(const struct rig *rig)
{
    const struct kr_geometry *g = &rig->config.geometry;
    int32_t worst_um = 0;
    for (uint16_t u = 0; u < g->n_rails; u++)
        for (uint16_t l = 0; l < g->n_rails; l++)
            if (g->rail[u].role == KR_UPPER && g->rail[l].role == KR_LOWER)
                worst_um = worse(worst_um, worst_pair_um(rig, u, l));
    return worst_um;
}

static uint16_t slitting_rail(const struct rig *rig)
{
    uint16_t r = 0;
    while (r < rig->config.geometry.n_rails && rig->config.geometry.rail[r].role != KR_LOWER)
        r++;
    return r < rig->config.geometry.n_rails ? r : 0;
}

/* Every cut is off by as much as its knife, and a slit's width by as much as its two cuts. An untrimmed edge is never
 * off. */
int32_t rig_worst_slit_um(const struct rig *rig)
{
    const struct kr_cuts *cuts = &kr_station_plan(rig->station)->cuts;
    int32_t cut_um[KR_CUTS_MAX] = {0}, worst_um = 0, last_um = 0;
    uint16_t n_slits = kr_station_durable(rig->station)->order.n_slits;
    true_cuts(rig, slitting_rail(rig), cut_um);
    for (uint16_t edge = 0; edge <= n_slits; edge++) {
        int k = edge - cuts->first_slit_edge;
        int32_t off_um = k < 0 || k >= cuts->n_cuts ? 0 : cut_um[k] - cuts->cut_um[k];
        if (edge > 0)
            worst_um = worse(worst_um, off_um - last_um);
        last_um = off_um;
    }
    return worst_um;
}

/* ---- the pin --------------------------------------------------------------------------------------------------- */

void rig_sink_pin(struct rig *rig, uint16_t rail, int32_t travel)
{
    rig->machine.axis[rail].rail.carriage.pin = travel;
}

/* ---- hands ----------------------------------------------------------------------------------------------------- */

bool rig_shove(struct rig *rig, uint16_t rail, uint16_t holder, int32_t by_um)
{
    const struct kr_rail_geometry *g = &rig->config.geometry.rail[rail];
    int32_t to_um = sim_machine_holder_um(&rig->machine, rail, holder) + by_um;
    if (to_um < g->min_um || to_um > g->max_um ||
        !sim_machine_break(&rig->machine, rail, SIM_MOVED_BY_HAND, holder, by_um))
        return false;
    (void)sim_machine_break(&rig->machine, rail, SIM_MOVED_BY_HAND, holder, by_um < 0 ? 150 : -150);
    return true;
}

static void open_guards(struct rig *rig, int64_t ms)
{
    rig->in.permissives &= (uint16_t)~KR_PERMIT_GUARDS_CLOSED;
    rig_run_ms(rig, ms);
}

void rig_push_by_hand(struct rig *rig, uint16_t rail, uint16_t holder, int32_t by_um)
{
    open_guards(rig, 100);
    rig_break(rig, rail, SIM_MOVED_BY_HAND, holder, by_um);
    rig_run_ms(rig, 100);
    rig->in.permissives |= KR_PERMIT_GUARDS_CLOSED;
    rig_run_ms(rig, 100);
}

static void hands(struct rig *rig, uint16_t rail, uint16_t holder, bool present, int32_t at_um)
{
    struct sim_axis *axis = &rig->machine.axis[rail - 1];
    uint16_t permissives = rig->in.permissives;
    open_guards(rig, 200);
    struct sim_holder *hand = &axis->rail.holder[holder - 1];
    hand->present = present;
    hand->at_um = at_um;
    int16_t left = SIM_NOBODY;
    for (int16_t i = 0; i < axis->rail.n_holders; i++) {
        struct sim_holder *h = &axis->rail.holder[i];
        h->left = h->right = SIM_NOBODY;
        if (!h->present)
            continue;
        h->left = left;
        if (left != SIM_NOBODY)
            axis->rail.holder[left].right = i;
        left = i;
    }
    sim_switch_init(&axis->sw, SIM_SWITCH_OF_HOLDERS, &axis->rail, &rig->machine.config.rail[rail - 1]);
    rig_run_ms(rig, 200);
    rig->in.permissives = permissives;
    rig_run_ms(rig, 200);
}

void rig_take_off(struct rig *rig, uint16_t rail, uint16_t holder)
{
    hands(rig, rail, holder, false, 0);
}

void rig_put_on(struct rig *rig, uint16_t rail, uint16_t holder, int32_t at_um)
{
    hands(rig, rail, holder, true, at_um);
}
