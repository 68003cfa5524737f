#include "proof.h"

#include <string.h>

#include "durable.h"

/* FNV-1a, 32 bits. */
static uint32_t digest(uint32_t sum, const void *of, size_t n)
{
    const unsigned char *byte = of;
    for (size_t i = 0; i < n; i++)
        sum = (sum ^ byte[i]) * 16777619u;
    return sum;
}

/* Places are measured from these settings, and by them. One that differs lets what was proven fall: no harm is done. */
static uint32_t settings_of(const struct kr_station_config *config, uint16_t r)
{
    uint32_t sum = digest(2166136261u, &config->geometry, sizeof config->geometry);
    sum = digest(sum, &config->carriage[r], sizeof config->carriage[r]);
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
    bool proves =
        may_start && config->brakes_hold && are_counted(durable, n_rails) && !is_stored(durable, n_rails);
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
        if (durable->proof[r] != settings_of(config, r) || durable->access_count[r] == 0 ||
            durable->docking[r] != 0 || durable->clamp_open[r] || durable->datum_doubted[r] ||
            !durable->rests[r])
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

void proof_plan(struct planning *planning, const struct kr_station_config *config,
                const struct kr_durable *durable)
{
    if (planning->valid || !planning->cuts_valid)
        return;
    memset(&planning->plan, 0, sizeof planning->plan);
    planning->plan.cuts = planning->cuts;
    for (uint16_t r = 0; r < config->geometry.n_rails; r++)
        for (uint16_t h = 0; h < config->geometry.rail[r].n_holders; h++) {
            const struct kr_holder_data *data = &durable->holder[r][h];
            bool cuts = data->cut != 0 && data->cut <= planning->cuts.n_cuts;
            int32_t edge_um =
                cuts ? planning->cuts.cut_um[data->cut - 1] + config->geometry.rail[r].cut_side_um : 0;
            planning->plan.rail[r].holder[h] = (struct kr_plan_holder){
                .cut = cuts ? data->cut : 0,
                .target_um = cuts ? edge_um - data->edge_offset_um : data->position_um,
            };
        }
    planning->valid = true;
    planning->order_generation++;
}
