#include "outputs.h"

#include <string.h>

void outputs_fill(const struct port *port, const struct kr_drive_objects *objects, struct kr_drive_run run,
                  uint16_t words[RUN_MAX])
{
    for (uint16_t i = 0; i < run.n; i++)
        (void)kr_drivemap_get(&port->drive.map, objects, KR_OBJECT_OUT, (uint16_t)(run.address + i), &words[i]);
}

bool outputs_are_a_stop(const struct kr_axis_out *out)
{
    return out->controlword & KR_CW_HALT || !(out->controlword & KR_CW_NO_QUICK_STOP) ||
           !(out->controlword & KR_CW_ENABLE_OPERATION);
}

bool outputs_stop_wanted(struct line *line, const struct port *port, struct kr_axis_out *out)
{
    if (port->said.serial == 0 || outputs_are_a_stop(&port->said))
        return false;
    pthread_mutex_lock(&line->lock);
    struct kr_axis_out newest = port->box.out;
    pthread_mutex_unlock(&line->lock);
    if (newest.serial == 0 || !outputs_are_a_stop(&newest))
        return false;
    *out = newest;
    return true;
}

struct kr_drive_run outputs_stop(const struct port *port, const struct kr_axis_out *out, uint16_t words[RUN_MAX])
{
    struct kr_drive_run run[KR_DRIVE_RUNS_MAX];
    struct kr_drive_objects objects;
    uint16_t n = kr_drivemap_runs(&port->drive.map, KR_OBJECT_OUT, run);
    memset(&objects, 0, sizeof objects);
    kr_drivemap_write_out(&port->drive.map, out, &objects);
    outputs_fill(port, &objects, run[n - 1], words);
    return run[n - 1];
}
