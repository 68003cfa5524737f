/* One exchange with one drive, by libmodbus: as few transfers as the drive's map allows. */
#include <errno.h>
#include <string.h>

#include "line.h"

#define RUN_MAX 64 /* more registers than all objects together have */

static enum transfer outcome(int done, int wanted)
{
    if (done == wanted)
        return TRANSFER_DONE;
    if (errno >= MODBUS_ENOBASE + MODBUS_EXCEPTION_ILLEGAL_FUNCTION &&
        errno < MODBUS_ENOBASE + MODBUS_EXCEPTION_MAX)
        return TRANSFER_REFUSED;
    if (errno == ETIMEDOUT || errno >= MODBUS_ENOBASE)
        return TRANSFER_UNANSWERED;
    return TRANSFER_BROKEN;
}

static void fill(const struct port *port, const struct kr_drive_objects *objects, struct kr_drive_run run,
                 uint16_t words[RUN_MAX])
{
    for (uint16_t i = 0; i < run.n; i++)
        (void)kr_drivemap_get(&port->drive.map, objects, KR_OBJECT_OUT, (uint16_t)(run.address + i),
                              &words[i]);
}

static void take(const struct port *port, struct kr_drive_objects *objects, struct kr_drive_run run,
                 const uint16_t words[RUN_MAX])
{
    for (uint16_t i = 0; i < run.n; i++)
        (void)kr_drivemap_set(&port->drive.map, objects, KR_OBJECT_IN, (uint16_t)(run.address + i), words[i]);
}

static enum transfer write_and_read(struct line *line, const struct port *port,
                                    struct kr_drive_objects *objects, struct kr_drive_run to,
                                    struct kr_drive_run from)
{
    uint16_t out[RUN_MAX], in[RUN_MAX];
    fill(port, objects, to, out);
    enum transfer t = outcome(
        modbus_write_and_read_registers(line->modbus, to.address, to.n, out, from.address, from.n, in),
        from.n);
    if (t == TRANSFER_DONE)
        take(port, objects, from, in);
    return t;
}

static enum transfer write_then_read(struct line *line, const struct port *port,
                                     struct kr_drive_objects *objects, const struct kr_drive_run to[],
                                     uint16_t n_to, const struct kr_drive_run from[], uint16_t n_from)
{
    uint16_t words[RUN_MAX];
    enum transfer t = TRANSFER_DONE;
    for (uint16_t i = 0; i < n_to && t == TRANSFER_DONE; i++) {
        fill(port, objects, to[i], words);
        t = outcome(modbus_write_registers(line->modbus, to[i].address, to[i].n, words), to[i].n);
    }
    for (uint16_t i = 0; i < n_from && t == TRANSFER_DONE; i++) {
        t = outcome(modbus_read_registers(line->modbus, from[i].address, from[i].n, words), from[i].n);
        if (t == TRANSFER_DONE)
            take(port, objects, from[i], words);
    }
    return t;
}

static enum transfer once(struct line *line, const struct port *port, bool writes,
                          struct kr_drive_objects *objects)
{
    struct kr_drive_run to[KR_DRIVE_RUNS_MAX], from[KR_DRIVE_RUNS_MAX];
    uint16_t n_to = writes ? kr_drivemap_runs(&port->drive.map, KR_OBJECT_OUT, to) : 0;
    uint16_t n_from = kr_drivemap_runs(&port->drive.map, KR_OBJECT_IN, from);
    if (port->drive.function_23 && n_to == 1 && n_from == 1)
        return write_and_read(line, port, objects, to[0], from[0]);
    return write_then_read(line, port, objects, to, n_to, from, n_from);
}

/* A transfer on a serial line may be hit by noise: levels can be sent again without harm. Over TCP a missing answer
 * may still come, and would then be taken for the next one's: the connection is given up instead. */
static bool try_again(struct line *line, enum transfer t, int tries)
{
    if (t != TRANSFER_UNANSWERED || !line->link.serial || tries > line->link.retries)
        return false;
    (void)modbus_flush(line->modbus); /* whatever is still in the line */
    return true;
}

enum transfer line_exchange(struct line *line, struct port *port, const struct kr_axis_out *out,
                            struct kr_axis_in *in)
{
    struct kr_drive_objects objects;
    enum transfer t;
    int tries = 0;
    memset(&objects, 0, sizeof objects);
    if (modbus_set_slave(line->modbus, port->drive.link.unit_id) != 0)
        return TRANSFER_BROKEN;
    kr_drivemap_write_out(&port->drive.map, out, &objects);
    do
        t = once(line, port, out->serial != 0, &objects);
    while (try_again(line, t, ++tries));
    if (t == TRANSFER_DONE)
        kr_drivemap_read_in(&port->drive.map, &objects, in);
    return t;
}

enum transfer line_read_watchdog(struct line *line, struct port *port, uint16_t *value)
{
    enum transfer t;
    int tries = 0;
    if (modbus_set_slave(line->modbus, port->drive.link.unit_id) != 0)
        return TRANSFER_BROKEN;
    do
        t = outcome(
            modbus_read_registers(line->modbus, port->drive.map.address[KR_OBJECT_WATCHDOG], 1, value), 1);
    while (try_again(line, t, ++tries));
    return t;
}
