/* The holders on their rail: their neighbours, moving one of them, and contact between two. */
#include "sim/rail.h"

#include <math.h>

#define FAR_UM 1e12

static void link_neighbours(struct sim_rail *rail)
{
    int16_t left = SIM_NOBODY;
    for (int16_t i = 0; i < (int16_t)rail->n_holders; i++) {
        struct sim_holder *h = &rail->holder[i];
        h->left = h->right = SIM_NOBODY;
        if (!h->present)
            continue;
        h->left = left;
        if (left != SIM_NOBODY)
            rail->holder[left].right = i;
        left = i;
    }
}

void sim_rail_init(struct sim_rail *rail, const struct sim_rail_config *config)
{
    *rail = (struct sim_rail){.n_holders = config->n_holders};
    for (int i = 0; i < config->n_holders; i++) {
        const struct sim_holder_config *h = &config->holder[i];
        rail->holder[i] = (struct sim_holder){
            .at_um = h->start_um, .body_um = h->body_um, .present = !h->absent, .seized = h->seized};
    }
    link_neighbours(rail);
    rail->carriage.at_um = config->carriage_um;
    rail->carriage.docked = SIM_NOBODY;
}

/* Returns the distance of two centres when the bodies touch. */
static double contact_um(const struct sim_holder *a, const struct sim_holder *b)
{
    return (a->body_um + b->body_um) / 2.0;
}

static double lowest_um(const struct sim_rail *rail, const struct sim_holder *h)
{
    if (h->left == SIM_NOBODY)
        return -FAR_UM;
    return rail->holder[h->left].at_um + contact_um(&rail->holder[h->left], h);
}

static double highest_um(const struct sim_rail *rail, const struct sim_holder *h)
{
    if (h->right == SIM_NOBODY)
        return FAR_UM;
    return rail->holder[h->right].at_um - contact_um(h, &rail->holder[h->right]);
}

static void see_gaps(const struct sim_rail *rail, const struct sim_holder *h, struct sim_incidents *incidents)
{
    double left_um = h->at_um - lowest_um(rail, h), right_um = highest_um(rail, h) - h->at_um;
    incidents->least_gap_um = fmin(incidents->least_gap_um, fmin(left_um, right_um));
}

double sim_rail_least_gap_um(const struct sim_rail *rail)
{
    struct sim_incidents incidents = {.least_gap_um = FAR_UM};
    for (int i = 0; i < rail->n_holders; i++)
        if (rail->holder[i].present)
            see_gaps(rail, &rail->holder[i], &incidents);
    return incidents.least_gap_um;
}

static void record(struct sim_incident *incident, struct sim_moment moment, int16_t holder, int16_t other,
                   double gap_um)
{
    if (incident->count++ > 0)
        return;
    incident->rail_index = moment.rail_index;
    incident->holder_index = (uint16_t)holder;
    incident->other_index = (uint16_t)other;
    incident->at_us = moment.now_us;
    incident->gap_um = (int32_t)floor(gap_um);
}

bool sim_rail_push(struct sim_rail *rail, int16_t holder, double to_um, struct sim_moment moment,
                   struct sim_incidents *incidents)
{
    struct sim_holder *h = &rail->holder[holder];
    double low_um = lowest_um(rail, h), high_um = highest_um(rail, h);
    if (to_um < low_um && to_um < h->at_um)
        record(&incidents->collision, moment, holder, h->left, to_um - low_um);
    else if (to_um > high_um && to_um > h->at_um)
        record(&incidents->collision, moment, holder, h->right, high_um - to_um);
    bool free = to_um >= low_um && to_um <= high_um;
    incidents->least_gap_um = fmin(incidents->least_gap_um, fmin(to_um - low_um, high_um - to_um));
    h->at_um = fmax(fmin(to_um, fmax(high_um, h->at_um)), fmin(low_um, h->at_um));
    return free;
}

void sim_rail_shift(struct sim_rail *rail, int16_t holder, double by_um, struct sim_incidents *incidents)
{
    struct sim_holder *h = &rail->holder[holder];
    double low_um = fmin(lowest_um(rail, h), h->at_um), high_um = fmax(highest_um(rail, h), h->at_um);
    h->at_um = fmax(low_um, fmin(h->at_um + by_um, high_um));
    see_gaps(rail, h, incidents);
}
