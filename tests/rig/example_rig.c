#include "example_rig.h"

#include <check.h>
#include <string.h>

#include "kniferail/config.h"

void example_defaults(struct rig *rig, const char *path)
{
    static struct kr_config config;
    static struct kr_config_errors errors;
    if (!kr_config_read(path, &config, &errors))
        ck_abort_msg("%s: %s", path, errors.count ? errors.message[0] : "not read");
    const struct kr_config_station *station = &config.station[0];
    memset(rig, 0, sizeof *rig);
    rig->config = station->station;
    rig->sim_config = station->simulated;
    kr_config_durable(station, &rig->book);
    rig->session = 1;
    rig->period_us = rig->config.period_us;
    rig->plan_cycles = 2;
    rig->book_cycles = 1;
    rig->claim_um = 20;
}
