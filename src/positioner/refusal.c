/* An exception does not say which register is refused. This is found out by reading one object after the other, which
 * changes nothing in the drive. */
#include "refusal.h"

#include <stdio.h>

static bool is_refused(struct line *line, struct port *port, int object)
{
    uint16_t word[2];
    struct kr_drive_run run = {(uint16_t)port->drive.map.address[object],
                               kr_object_info((enum kr_object)object)->registers};
    return line_read(line, port, run, word) == TRANSFER_REFUSED;
}

static bool is_used(const struct port *port, int object)
{
    bool asked = object != KR_OBJECT_WATCHDOG || port->drive.watchdog == KR_WATCHDOG_READ;
    return asked && port->drive.map.address[object] != KR_NO_REGISTER;
}

static bool refuses_parameter(struct line *line, struct port *port, const char *why, char text[REASON_MAX])
{
    const struct kr_drive *drive = &port->drive;
    uint16_t word[2];
    for (uint16_t i = 0; i < drive->n_expected; i++) {
        const struct kr_expected *e = &drive->expected[i];
        if (line_read(line, port, (struct kr_drive_run){e->address, e->words}, word) != TRANSFER_REFUSED)
            continue;
        snprintf(text, REASON_MAX, "it refuses parameter \"%s\" (register %u): %s", e->name, (unsigned)e->address, why);
        return true;
    }
    return false;
}

void refusal_text(struct line *line, struct port *port, const char *why, char text[REASON_MAX])
{
    for (int o = 0; o < KR_N_OBJECTS; o++) {
        if (!is_used(port, o) || !is_refused(line, port, o))
            continue;
        snprintf(text, REASON_MAX, "it refuses registers.%s (register %d): %s",
                 kr_object_info((enum kr_object)o)->setting, (int)port->drive.map.address[o], why);
        return;
    }
    if (refuses_parameter(line, port, why, text))
        return;
    snprintf(text, REASON_MAX,
             "it refuses the request, although each register can be read alone: %s; one of them can't be "
             "written, or they can't be read together",
             why);
}
