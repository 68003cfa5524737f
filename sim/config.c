#include "sim/config.h"

#include <string.h>

static const struct sim_parameter parameters[] = {
#define P(name, value, least, most, meaning, source) \
    {#name, offsetof(struct sim_rail_config, name), value, least, most, meaning, source},
#include "sim/parameters.def"
};
#define N_PARAMETERS (sizeof parameters / sizeof parameters[0])

const struct sim_parameter *sim_parameter_at(size_t index)
{
    return index < N_PARAMETERS ? &parameters[index] : NULL;
}

const struct sim_parameter *sim_parameter_named(const char *name)
{
    for (size_t i = 0; i < N_PARAMETERS; i++)
        if (strcmp(parameters[i].name, name) == 0)
            return &parameters[i];
    return NULL;
}

int32_t sim_parameter_get(const struct sim_parameter *parameter, const struct sim_rail_config *rail)
{
    int32_t value;
    memcpy(&value, (const char *)rail + parameter->offset, sizeof value);
    return value;
}

void sim_parameter_set(const struct sim_parameter *parameter, struct sim_rail_config *rail, int32_t value)
{
    memcpy((char *)rail + parameter->offset, &value, sizeof value);
}

void sim_rail_defaults(struct sim_rail_config *rail)
{
    memset(rail, 0, sizeof *rail);
    for (size_t i = 0; i < N_PARAMETERS; i++)
        sim_parameter_set(&parameters[i], rail, parameters[i].value);
}

static struct sim_mistake mistake(const char *what, int rail, int holder, int64_t value, int64_t least, int64_t most)
{
    return (struct sim_mistake){what, (uint16_t)(rail + 1), (uint16_t)(holder + 1), value, least, most};
}

static struct sim_mistake check_parameters(const struct sim_rail_config *rail, int r)
{
    for (size_t i = 0; i < N_PARAMETERS; i++) {
        const struct sim_parameter *p = &parameters[i];
        int32_t value = sim_parameter_get(p, rail);
        if (value < p->least || value > p->most)
            return mistake(p->name, r, -1, value, p->least, p->most);
    }
    int64_t accel = rail->accel_max_um_per_s2 > rail->homing_accel_um_per_s2 ? rail->accel_max_um_per_s2
                                                                             : rail->homing_accel_um_per_s2;
    int64_t least = accel * (1000 / SIM_JERK_MS_MAX);
    if (rail->jerk_um_per_s3 != 0 && rail->jerk_um_per_s3 < least)
        return mistake("jerk_um_per_s3", r, -1, rail->jerk_um_per_s3, least, INT32_MAX);
    if (rail->stop_high_um <= rail->stop_low_um)
        return mistake("stop_high_um", r, -1, rail->stop_high_um, rail->stop_low_um, INT32_MAX);
    if (rail->carriage_um < rail->stop_low_um || rail->carriage_um > rail->stop_high_um)
        return mistake("carriage_um", r, -1, rail->carriage_um, rail->stop_low_um, rail->stop_high_um);
    return (struct sim_mistake){0};
}

/* If bodies overlapped from the start, there would be a collision without a cause. */
static struct sim_mistake check_holders(const struct sim_rail_config *rail, int r)
{
    const struct sim_holder_config *left = NULL;
    for (int i = 0; i < rail->n_holders; i++) {
        const struct sim_holder_config *h = &rail->holder[i];
        if (h->body_um <= 0)
            return mistake("body_um", r, i, h->body_um, 1, INT32_MAX);
        if (h->absent)
            continue;
        int64_t least = INT32_MIN;
        if (left)
            least = left->start_um + ((int64_t)left->body_um + h->body_um + 1) / 2;
        if (h->start_um < least)
            return mistake("start_um", r, i, h->start_um, least, INT32_MAX);
        left = h;
    }
    return (struct sim_mistake){0};
}

static struct sim_mistake check_references(const struct sim_rail_config *rail, int r)
{
    if (rail->n_references > SIM_REFERENCES_MAX)
        return mistake("n_references", r, -1, rail->n_references, 0, SIM_REFERENCES_MAX);
    for (int i = 0; i < rail->n_references; i++)
        if (rail->reference[i].width_um <= 0)
            return mistake("reference", r, -1, rail->reference[i].width_um, 1, INT32_MAX);
    return (struct sim_mistake){0};
}

struct sim_mistake sim_config_check(const struct sim_config *config)
{
    if (config->n_rails < 1 || config->n_rails > KR_RAILS_MAX)
        return mistake("n_rails", -1, -1, config->n_rails, 1, KR_RAILS_MAX);
    for (int r = 0; r < config->n_rails; r++) {
        const struct sim_rail_config *rail = &config->rail[r];
        if (rail->n_holders > KR_HOLDERS_MAX)
            return mistake("n_holders", r, -1, rail->n_holders, 0, KR_HOLDERS_MAX);
        struct sim_mistake m = check_parameters(rail, r);
        if (!m.what)
            m = check_holders(rail, r);
        if (!m.what)
            m = check_references(rail, r);
        if (m.what)
            return m;
    }
    return (struct sim_mistake){0};
}
