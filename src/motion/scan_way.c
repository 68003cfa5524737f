/* The way of a scan: which switches the carriage has, where the way begins and ends, and whether a scan goes both
 * ways. */
#include "scan_way.h"

/* ---- the switches ---------------------------------------------------------------------------------------------- */

enum kr_switch_of scan_references_switch(const struct kr_carriage_config *carriage)
{
    return carriage->references.own_switch ? KR_SWITCH_OF_REFERENCES : KR_SWITCH_OF_HOLDERS;
}

bool scan_has_two_switches(const struct kr_carriage_config *carriage)
{
    return carriage->references.n > 0 && carriage->references.own_switch;
}

uint16_t scan_switches(const struct kr_carriage_config *carriage)
{
    return scan_has_two_switches(carriage) ? KR_SWITCHES : KR_SWITCHES - 1;
}

int32_t scan_switch_offset_um(const struct kr_carriage_config *carriage, enum kr_switch_of of)
{
    return of == KR_SWITCH_OF_HOLDERS ? carriage->switch_offset_um : carriage->references.switch_offset_um;
}

int32_t scan_position_um(const struct kr_carriage_config *carriage, enum kr_switch_of of, int32_t place_um)
{
    return kr_switch_position_um(&carriage->frame, place_um, scan_switch_offset_um(carriage, of));
}

/* ---- the way of a scan ----------------------------------------------------------------------------------------- */

void kr_scan_range(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage, int32_t *from_um,
                   int32_t *to_um)
{
    int64_t v = carriage->scan_speed_um_per_s;
    int64_t run_up_um = v * v / (2LL * rail->empty.a_um_per_s2) + 1;
    /* Half a flag, and the same for the switch's hysteresis. */
    int64_t clear_um = run_up_um + carriage->flag_width_um;
    int32_t low_um = scan_position_um(carriage, KR_SWITCH_OF_HOLDERS, rail->min_um);
    int32_t high_um = scan_position_um(carriage, KR_SWITCH_OF_HOLDERS, rail->max_um);
    enum kr_switch_of of = scan_references_switch(carriage);
    for (uint16_t i = 0; i < carriage->references.n; i++) {
        const struct kr_reference *flag = &carriage->references.flag[i];
        int32_t left_um = scan_position_um(carriage, of, flag->at_um - flag->width_um / 2);
        int32_t right_um = scan_position_um(carriage, of, flag->at_um + flag->width_um / 2);
        low_um = left_um < low_um ? left_um : low_um;
        high_um = right_um > high_um ? right_um : high_um;
    }
    *from_um = (int32_t)(low_um - clear_um);
    *to_um = (int32_t)(high_um + clear_um);
}

static bool reaches(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage,
                    int32_t *position_um, int32_t *limit_um)
{
    int32_t needed_um[5];
    needed_um[0] = kr_frame_position_um(&carriage->frame, rail->min_um - rail->overtravel_um);
    needed_um[1] = kr_frame_position_um(&carriage->frame, rail->max_um + rail->overtravel_um);
    needed_um[2] = kr_frame_position_um(&carriage->frame, carriage->park_um);
    kr_scan_range(rail, carriage, &needed_um[3], &needed_um[4]);
    for (size_t i = 0; i < sizeof needed_um / sizeof needed_um[0]; i++) {
        *position_um = needed_um[i];
        *limit_um = needed_um[i] < carriage->travel_min_um ? carriage->travel_min_um : carriage->travel_max_um;
        if (needed_um[i] < carriage->travel_min_um || needed_um[i] > carriage->travel_max_um)
            return false;
    }
    return true;
}

bool kr_carriage_reaches(const struct kr_rail_geometry *rail, const struct kr_carriage_config *carriage,
                         int32_t *position_um, int32_t *limit_um)
{
    static const uint16_t temperature_ck[] = {KR_TEMPERATURE_20_CK, KR_TEMPERATURE_LEAST_CK, KR_TEMPERATURE_MOST_CK};
    int n = carriage->expansion_ppb == 0 ? 1 : 3;
    for (int i = 0; i < n; i++) {
        struct kr_frame_correction correction = {.expansion_ppb =
                                                     kr_expansion_ppb(carriage->expansion_ppb, temperature_ck[i])};
        struct kr_carriage_config is;
        kr_carriage_correct(carriage, &correction, &is);
        if (!reaches(rail, &is, position_um, limit_um))
            return false;
    }
    return true;
}

bool kr_scan_goes_both_ways(const struct kr_carriage_config *carriage, bool reduced)
{
    /* the bias belongs to the holders' switch; another switch has another bias */
    return carriage->scan_ways == KR_SCAN_BOTH_WAYS || carriage->scan_bias_um == 0 || reduced ||
           scan_has_two_switches(carriage);
}
