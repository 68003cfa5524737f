#include "temperature.h"

static bool is_plausible(uint16_t temperature_ck)
{
    return temperature_ck >= KR_TEMPERATURE_LEAST_CK && temperature_ck <= KR_TEMPERATURE_MOST_CK;
}

int32_t temperature_expansion(const struct kr_carriage_config *carriage, const struct kr_station_in *in,
                              int32_t now_ppb)
{
    if (carriage->expansion_ppb == 0)
        return 0;
    return is_plausible(in->frame_temperature_ck) ? kr_expansion_ppb(carriage->expansion_ppb, in->frame_temperature_ck)
                                                  : now_ppb;
}

uint16_t temperature_counts(const struct kr_carriage_config *carriage, int32_t now_ppb)
{
    if (carriage->expansion_ppb == 0)
        return 0;
    int64_t half_ppb = now_ppb < 0 ? -carriage->expansion_ppb / 2 : carriage->expansion_ppb / 2;
    int64_t off_ck = (100LL * now_ppb + half_ppb) / carriage->expansion_ppb, at_ck = KR_TEMPERATURE_20_CK + off_ck;
    return (uint16_t)(at_ck < KR_TEMPERATURE_LEAST_CK  ? KR_TEMPERATURE_LEAST_CK
                      : at_ck > KR_TEMPERATURE_MOST_CK ? KR_TEMPERATURE_MOST_CK
                                                       : at_ck);
}

void temperature_watch(const struct kr_carriage_config *carriage, const struct kr_station_in *in, int32_t now_ppb,
                       bool heard, bool in_job, struct alarms *alarms)
{
    if (carriage->expansion_ppb != 0 && heard && !is_plausible(in->frame_temperature_ck))
        alarm_raise(alarms, (struct kr_alarm){.code = KR_ALARM_TEMPERATURE_LOST,
                                              .value = in->frame_temperature_ck,
                                              .limit = temperature_counts(carriage, now_ppb)});
    else if (!in_job)
        alarm_end(alarms, KR_ALARM_TEMPERATURE_LOST);
}
