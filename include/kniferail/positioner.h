/* positioner: the interface to whatever moves the carriages of a station. That is either the simulated machine in this
 * process, or servo drives over Modbus; the station cannot tell which. exchange() never blocks. Only the thread of the
 * daemon's loop uses it. */
#ifndef KNIFERAIL_POSITIONER_H
#define KNIFERAIL_POSITIONER_H

#include "kniferail/axis.h"

struct kr_positioner {
    /* Takes out[], one image for each rail, holds these outputs for dt_us of machine time, and fills in[], one image
     * for each rail. If there is no answer yet, link, answers and age_ms say so. exchange() has no other way to
     * fail. */
    void (*exchange)(void *self, const struct kr_axis_out out[], int64_t dt_us, struct kr_axis_in in[]);
    void (*close)(void *self); /* switches the outputs off, and frees what the maker allocated */
    void *self;
    bool virtual_time; /* time passes only in exchange(), so that it may run faster than the clock */
};

struct sim_config;

/* Makes the simulated machine in this process. The config (sim/config.h) is copied. False: the config is refused or
 * there is no memory, *error says so in one line, closed with a 0, and *positioner is untouched. */
bool kr_positioner_simulated(const struct sim_config *config, struct kr_positioner *positioner, char *error,
                             size_t error_size);

/* Receives one line for each event of a link: connected, or lost and why. exchange() calls it, on its own thread. */
struct kr_positioner_note {
    void (*say)(void *arg, uint16_t rail_number, const char *line); /* the line is valid during the call */
    void *arg;
};

/* Makes the positioner for servo drives over Modbus. drive[] has one drive for each rail, checked by
 * kr_drivemap_check(); it is copied. There is one thread for each connection or serial line: exchange() only leaves the
 * newest outputs for it, and takes its newest answer. At most one transfer goes out for each exchange(), so that a
 * gateway that stands still sends nothing, and the drives' own watchdogs stop the drives. A lost link is tried again,
 * at growing intervals up to five seconds. A drive whose watchdog cannot be proven has no link. close() asks for a
 * quick stop and switches the outputs off. False: as for kr_positioner_simulated(). */
struct kr_drive;
bool kr_positioner_modbus(uint16_t n_rails, const struct kr_drive *drive, struct kr_positioner_note note,
                          struct kr_positioner *positioner, char *error, size_t error_size);

#endif
