/* Makes the settings of the simulated machine, and completes them by the station's settings of the same things. */
#include <stdio.h>
#include <string.h>

#include "reading.h"

#define BEYOND_TRAVEL_UM 50000 /* distance of the hard stops, unless they are given */

static bool given(const struct rail_reading *rail, const char *name)
{
    return kr_group_at(&rail->simulated, name) != NULL;
}

/* The parameters that follow from the carriage's settings if they are not given, and the difference between the two. */
static const struct {
    const char *parameter, *setting;
    int32_t beyond_um;
} following[] = {
    {"flag_width_um", "flag_width_mm", 0},
    {"switch_offset_um", "switch_offset_mm", 0},
    {"carriage_um", "park_mm", 0},
    {"stop_low_um", "travel_least_mm", -BEYOND_TRAVEL_UM},
    {"stop_high_um", "travel_most_mm", BEYOND_TRAVEL_UM},
};

/* If a carriage goes further by the part s than its drive says, the drive counts less by s / (1 + s). */
static int32_t counted_more_ppb(const struct kr_frame *frame)
{
    const int64_t one = 1000000000;
    return (int32_t)(-frame->scale_ppb * one / (one + frame->scale_ppb));
}

static void complete_references(const struct kr_references *told, struct sim_rail_config *machine)
{
    _Static_assert(SIM_REFERENCES_MAX >= KR_REFERENCES_MAX, "the machine has room for all of them");
    machine->n_references = told->n;
    for (uint16_t i = 0; i < told->n; i++)
        machine->reference[i] = (struct sim_reference_config){told->flag[i].at_um, told->flag[i].width_um};
    machine->reference_switch_own = told->own_switch;
}

static void complete(struct rail_reading *rail)
{
    const struct kr_carriage_config *told = &rail->settings.carriage;
    struct sim_rail_config *machine = &rail->machine.rail;
    struct kr_frame straight = {.offset_um = told->frame.offset_um, .scale_ppb = told->frame.scale_ppb};
    complete_references(&told->references, machine);
    if (!given(rail, "flag_width_um"))
        machine->flag_width_um = told->flag_width_um;
    if (!given(rail, "switch_offset_um"))
        machine->switch_offset_um = told->switch_offset_um;
    if (!given(rail, "reference_switch_offset_um"))
        machine->reference_switch_offset_um = told->references.switch_offset_um;
    if (!given(rail, "scale_ppb"))
        machine->scale_ppb = counted_more_ppb(&told->frame);
    if (!given(rail, "home_offset_um"))
        machine->home_offset_um += kr_frame_position_um(&straight, machine->home_um) - machine->home_um;
    if (!given(rail, "clamp_common"))
        machine->clamp_common = told->clamping == KR_CLAMP_COMMON;
    if (!given(rail, "carriage_um"))
        machine->carriage_um = told->park_um;
    if (!given(rail, "stop_low_um"))
        machine->stop_low_um = kr_frame_place_um(&told->frame, told->travel_min_um) - BEYOND_TRAVEL_UM;
    if (!given(rail, "stop_high_um"))
        machine->stop_high_um = kr_frame_place_um(&told->frame, told->travel_max_um) + BEYOND_TRAVEL_UM;
}

/* If the places of a rail's holders are not known, the machine packs the holders at the operator side. */
static void stand(const struct station_reading *r, uint16_t rail, struct sim_rail_config *machine)
{
    const struct kr_geometry *geometry = &r->out->station.geometry;
    const struct kr_holder_data *left = NULL;
    int32_t next_um = geometry->rail[rail].min_um;
    machine->n_holders = geometry->rail[rail].n_holders;
    for (uint16_t i = 0; i < machine->n_holders; i++) {
        const struct kr_holder_data *h = &r->out->holder[rail][i];
        struct sim_holder_config *holder = &machine->holder[i];
        holder->absent = h->state == KR_HOLDER_ABSENT;
        holder->seized = h->state == KR_HOLDER_FIXED;
        holder->body_um = r->out->body_um[h->holder_size - 1];
        if (left && !holder->absent)
            next_um += kr_spacing_um(geometry, left->holder_size, h->holder_size);
        holder->start_um = h->known == KR_UNKNOWN ? next_um : h->position_um;
        if (!holder->absent)
            left = h;
    }
}

void kr_simulated_view(const struct kr_config_station *station, uint16_t rail, struct simulated_settings *settings)
{
    memset(settings, 0, sizeof *settings);
    settings->rail = station->simulated.rail[rail];
    settings->seed = station->simulated.seed;
    settings->inputs = (uint16_t)(station->simulated.inputs / KR_DI_LINE_STOPPED);
}

/* If a parameter was not given, its mistake is reported for the setting from which it follows. Returns whether it is
 * such a parameter. */
static bool tell_following(struct rail_reading *rail, const struct sim_mistake *mistake)
{
    for (size_t i = 0; i < sizeof following / sizeof following[0]; i++) {
        if (strcmp(following[i].parameter, mistake->what) != 0 || given(rail, mistake->what))
            continue;
        char why[96];
        snprintf(why, sizeof why, "the simulated machine's limit of %s, which follows from it", mistake->what);
        if (mistake->value < mistake->least)
            kr_group_at_least(&rail->carriage, following[i].setting, mistake->least - following[i].beyond_um, why);
        else
            kr_group_at_most(&rail->carriage, following[i].setting, mistake->most - following[i].beyond_um, why);
        return true;
    }
    return false;
}

static void tell(struct station_reading *r, const struct sim_mistake *mistake)
{
    if (mistake->rail > 0 && mistake->holder == 0 && tell_following(&r->rail[mistake->rail - 1], mistake))
        return;
    char path[KR_SETTING_PATH_MAX];
    kr_setting_path(r->group.home, "simulated", path);
    kr_mistake(r->errors, r->group.home, path, "rail %u, holder %u: %s is %lld; allowed: %lld to %lld",
               (unsigned)mistake->rail, (unsigned)mistake->holder, mistake->what, (long long)mistake->value,
               (long long)mistake->least, (long long)mistake->most);
}

/* Call it only for a station without mistakes: then anything that the simulator refuses is a contradiction in the
 * simulated machine's own settings. */
void kr_simulated_make(struct station_reading *r)
{
    if (r->errors->count > 0)
        return;
    struct sim_config *simulated = &r->out->simulated;
    simulated->seed = r->machine.seed;
    simulated->n_rails = r->n_rails;
    simulated->inputs = (uint16_t)(r->machine.inputs * KR_DI_LINE_STOPPED);
    for (uint16_t i = 0; i < r->n_rails; i++) {
        complete(&r->rail[i]);
        simulated->rail[i] = r->rail[i].machine.rail;
        stand(r, i, &simulated->rail[i]);
    }
    struct sim_mistake mistake = sim_config_check(simulated);
    if (!mistake.what)
        return;
    if (r->out->positioner != KR_POSITIONER_SIMULATED) {
        simulated->n_rails = 0;
        return;
    }
    tell(r, &mistake);
}
