/* Compares what was measured with what was ordered: every cutting holder with its target, every pair of upper and lower
 * knife with its window, every slit with its width. */
#include "state.h"

int32_t order_tolerance_um(const struct kr_station *s)
{
    int32_t own_um = s->durable.in_force ? s->durable.order.tolerance_um : 0;
    return own_um ? own_um : s->config.geometry.tolerance_um;
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

bool verify_can_judge(const struct kr_station *s)
{
    if (!s->plan_valid || !s->cuts_valid)
        return false;
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        for (uint16_t i = 0; i < s->config.geometry.rail[r].n_holders; i++)
            if (s->plan.rail[r].holder[i].cut != 0 && s->durable.holder[r][i].known != KR_MEASURED)
                return false;
    return true;
}

/* The measured cutting edge of each cut of one rail. */
static void edges_of(const struct kr_station *s, uint16_t rail, int32_t edge_um[KR_CUTS_MAX])
{
    const struct kr_plan_rail *plan = &s->plan.rail[rail];
    for (uint16_t i = 0; i < s->config.geometry.rail[rail].n_holders; i++) {
        const struct kr_holder_data *holder = &s->durable.holder[rail][i];
        if (plan->holder[i].cut != 0)
            edge_um[plan->holder[i].cut - 1] = holder->position_um + holder->edge_offset_um;
    }
}

/* It was moved to its target and isn't there: it slipped as it was released. */
static void count_slip(struct kr_station *s, uint16_t rail, uint16_t i)
{
    uint16_t *slips = &s->slips[rail][i], notice = s->config.carriage[rail].slips_notice;
    if (*slips < UINT16_MAX)
        ++*slips;
    if (notice && *slips == notice)
        alarm_raise(s, (struct kr_alarm){KR_ALARM_MANY_SLIPS, (uint16_t)(rail + 1), (uint16_t)(i + 1), notice,
                                         notice});
}

static bool holders_hold(struct kr_station *s, uint16_t rail, bool raise)
{
    struct kr_record_rail *record = &s->record.rail[rail];
    int32_t tolerance_um = order_tolerance_um(s);
    bool good = true;
    record->worst_holder = 0;
    record->worst_um = 0;
    for (uint16_t i = 0; i < s->config.geometry.rail[rail].n_holders; i++) {
        const struct kr_plan_holder *holder = &s->plan.rail[rail].holder[i];
        if (holder->cut == 0)
            continue;
        int32_t off_um = s->durable.holder[rail][i].position_um - holder->target_um;
        if (record->worst_holder == 0 || magnitude(off_um) > magnitude(record->worst_um)) {
            record->worst_holder = (uint16_t)(i + 1);
            record->worst_um = off_um;
        }
        if (magnitude(off_um) <= tolerance_um)
            continue;
        good = false;
        if (!raise && holder->moved &&
            s->job.kind == KR_JOB_CHANGEOVER) /* each placement is once judged quietly */
            count_slip(s, rail, i);
        if (raise)
            alarm_raise(s, (struct kr_alarm){KR_ALARM_OUT_OF_TOLERANCE, (uint16_t)(rail + 1),
                                             (uint16_t)(i + 1), off_um, tolerance_um});
    }
    return good;
}

static bool pairs_hold(struct kr_station *s, uint16_t upper, uint16_t lower,
                       int32_t edge_um[KR_RAILS_MAX][KR_CUTS_MAX], bool raise)
{
    const struct kr_rail_geometry *rail = s->config.geometry.rail;
    int32_t clearance_um = rail[upper].cut_side_um - rail[lower].cut_side_um;
    bool good = true;
    for (uint16_t k = 0; k < s->cuts.n_cuts; k++) {
        int32_t off_um = edge_um[upper][k] - edge_um[lower][k] - clearance_um;
        keep_worst(&s->record.worst_pair_um, off_um);
        if (magnitude(off_um) <= s->config.pair_window_um)
            continue;
        good = false;
        if (raise)
            alarm_raise(s, (struct kr_alarm){KR_ALARM_PAIR_OUT_OF_WINDOW, (uint16_t)(upper + 1),
                                             (uint16_t)(k + 1), off_um, s->config.pair_window_um});
    }
    return good;
}

/* The lower rail's edge makes the slit on a shear machine; without one the upper's does. */
uint16_t slitting_rail(const struct kr_station *s)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++)
        if (s->config.geometry.rail[r].role == KR_LOWER)
            return r;
    return 0;
}

/* Where edge number e of the slits (0: the first slit's outer edge) is; an untrimmed one is the web's own. */
static int32_t slit_edge_um(const struct kr_station *s, const int32_t edge_um[KR_CUTS_MAX], uint16_t e)
{
    if (e < s->cuts.first_slit_edge)
        return s->cuts.web_left_um;
    uint16_t k = (uint16_t)(e - s->cuts.first_slit_edge);
    if (k >= s->cuts.n_cuts)
        return s->cuts.web_right_um;
    return edge_um[k] - s->config.geometry.rail[slitting_rail(s)].cut_side_um;
}

static int32_t wanted_width_um(const struct kr_station *s, uint16_t slit)
{
    int64_t width_nm = s->durable.order.width_nm[slit],
            millionths = width_nm * s->durable.order.compensation_ppm;
    int64_t half = millionths < 0 ? -500000 : 500000;
    return kr_um_from_nm(width_nm + (millionths + half) / 1000000);
}

static bool slits_hold(struct kr_station *s, const int32_t edge_um[KR_CUTS_MAX], bool raise)
{
    bool good = true;
    for (uint16_t i = 0; i < s->durable.order.n_slits; i++) {
        int32_t left_um = slit_edge_um(s, edge_um, i), right_um = slit_edge_um(s, edge_um, (uint16_t)(i + 1));
        s->slit_measured_um[i] = right_um - left_um;
        int32_t off_um = s->slit_measured_um[i] - wanted_width_um(s, i);
        keep_worst(&s->record.worst_slit_um, off_um);
        if (magnitude(off_um) <= s->config.slit_tolerance_um)
            continue;
        good = false;
        if (raise)
            alarm_raise(s, (struct kr_alarm){KR_ALARM_SLIT_OUT_OF_TOLERANCE, 0, (uint16_t)(i + 1), off_um,
                                             s->config.slit_tolerance_um});
    }
    s->slits_measured = true;
    return good;
}

bool verify_placement(struct kr_station *s, bool raise_alarms)
{
    const struct kr_geometry *geometry = &s->config.geometry;
    int32_t edge_um[KR_RAILS_MAX][KR_CUTS_MAX] = {{0}};
    bool good = true;
    s->record.worst_pair_um = s->record.worst_slit_um = 0;
    for (uint16_t r = 0; r < geometry->n_rails; r++) {
        edges_of(s, r, edge_um[r]);
        good = holders_hold(s, r, raise_alarms) && good;
    }
    for (uint16_t u = 0; u < geometry->n_rails; u++)
        for (uint16_t l = 0; l < geometry->n_rails; l++)
            if (geometry->rail[u].role == KR_UPPER && geometry->rail[l].role == KR_LOWER)
                good = pairs_hold(s, u, l, edge_um, raise_alarms) && good;
    return slits_hold(s, edge_um[slitting_rail(s)], raise_alarms) && good;
}
