#include "proof.h"

#include <string.h>

#include "durable.h"

/* FNV-1a, 32 bits, over the bytes of the number, the lowest first. It takes field by field, because the padding of a
 * struct may have any value. */
static void add(uint32_t *sum, int64_t number)
{
    for (int i = 0; i < 8; i++)
        *sum = (*sum ^ (uint8_t)((uint64_t)number >> 8 * i)) * 16777619u;
}

static void add_frame(uint32_t *sum, const struct kr_frame *frame)
{
    add(sum, frame->offset_um);
    add(sum, frame->scale_ppb);
    add(sum, frame->n_points);
    for (uint16_t i = 0; i < frame->n_points; i++) {
        add(sum, frame->point[i].at_um);
        add(sum, frame->point[i].error_um);
    }
}

static void add_references(uint32_t *sum, const struct kr_references *references)
{
    add(sum, references->n);
    for (uint16_t i = 0; i < references->n; i++) {
        add(sum, references->flag[i].at_um);
        add(sum, references->flag[i].width_um);
    }
    if (references->own_switch) {
        add(sum, 1);
        add(sum, references->switch_offset_um);
    }
}

static void add_carriage(uint32_t *sum, const struct kr_carriage_config *carriage)
{
    add_frame(sum, &carriage->frame);
    add_references(sum, &carriage->references);
    add(sum, carriage->clamping);
    add(sum, carriage->travel_min_um);
    add(sum, carriage->travel_max_um);
    add(sum, carriage->park_um);
    add(sum, carriage->park_window_um);
    add(sum, carriage->switch_offset_um);
    add(sum, carriage->scan_bias_um);
    add(sum, carriage->flag_width_um);
}

static void add_rail(uint32_t *sum, const struct kr_rail_geometry *rail)
{
    add(sum, rail->role);
    add(sum, rail->n_holders);
    add(sum, rail->min_um);
    add(sum, rail->max_um);
    add(sum, rail->cut_side_um);
}

/* Positions depend on these settings. If one of them differs, the proof is lost, which does no harm. */
static uint32_t settings_of(const struct kr_station_config *config, uint16_t r)
{
    uint32_t sum = 2166136261u;
    add(&sum, config->geometry.n_rails);
    for (uint16_t i = 0; i < config->geometry.n_rails; i++)
        add_rail(&sum, &config->geometry.rail[i]);
    for (uint16_t i = 0; i < config->geometry.n_sizes; i++)
        add(&sum, config->geometry.size_spacing_um[i]);
    add(&sum, config->geometry.web_centre_um);
    add(&sum, config->geometry.tolerance_um);
    add_carriage(&sum, &config->carriage[r]);
    return sum != 0 ? sum : 1;
}

static bool is_stored(const struct kr_durable *durable, uint16_t n_rails)
{
    for (uint16_t r = 0; r < n_rails; r++)
        if (durable->proof[r] == 0)
            return false;
    return true;
}

static bool are_counted(const struct kr_durable *durable, uint16_t n_rails)
{
    for (uint16_t r = 0; r < n_rails; r++)
        if (durable->access_count[r] == 0)
            return false;
    return true;
}

void proof_step(struct kr_durable *durable, const struct kr_station_config *config, const struct hands *hands,
                const struct kr_plan *plan, bool may_start, bool may_return)
{
    uint16_t n_rails = config->geometry.n_rails;
    bool proves = may_start && config->brakes_hold && are_counted(durable, n_rails) && !is_stored(durable, n_rails);
    for (uint16_t r = 0; r < n_rails; r++)
        if (proves)
            durable_prove(durable, r, settings_of(config, r), hands->rail[r].inputs, &plan->rail[r]);
        else if (!may_return && durable->proof[r] != 0)
            durable_disprove(durable, r);
}

static bool may_count_again(const struct kr_durable *durable, const struct kr_station_config *config)
{
    if (!config->brakes_hold || !durable->in_force)
        return false;
    for (uint16_t r = 0; r < config->geometry.n_rails; r++)
        if (durable->proof[r] != settings_of(config, r) || durable->access_count[r] == 0 || durable->docking[r] != 0 ||
            durable->clamp_open[r] || durable->datum_doubted[r] || !durable->rests[r])
            return false;
    return true;
}

bool proof_begin(struct kr_durable *durable, const struct kr_station_config *config, struct hands *hands)
{
    bool may = may_count_again(durable, config);
    for (uint16_t r = 0; r < config->geometry.n_rails; r++)
        if (may)
            hands_begin_aside(hands, r, durable->proof_inputs[r]);
        else
            durable_only_remember(durable, r);
    return may;
}

void proof_plan(struct planning *planning, const struct kr_station_config *config, const struct kr_durable *durable)
{
    if (planning->valid || !planning->cuts_valid)
        return;
    memset(&planning->plan, 0, sizeof planning->plan);
    planning->plan.cuts = planning->cuts;
    for (uint16_t r = 0; r < config->geometry.n_rails; r++)
        for (uint16_t h = 0; h < config->geometry.rail[r].n_holders; h++) {
            const struct kr_holder_data *data = &durable->holder[r][h];
            bool cuts = data->cut != 0 && data->cut <= planning->cuts.n_cuts;
            int32_t edge_um = cuts ? planning->cuts.cut_um[data->cut - 1] + config->geometry.rail[r].cut_side_um : 0;
            planning->plan.rail[r].holder[h] = (struct kr_plan_holder){
                .cut = cuts ? data->cut : 0,
                .target_um = cuts ? kr_holder_um(edge_um, data->edge_offset_um) : data->position_um,
            };
        }
    planning->valid = true;
    planning->order_generation++;
}
