/* positioner: one narrow interface to whatever moves the carriages of a station. Behind it is the simulated machine in
 * this process, or servo drives over Modbus; the station cannot tell which. exchange() never blocks. Used from the
 * thread of the daemon's loop. */
#ifndef KNIFERAIL_POSITIONER_H
#define KNIFERAIL_POSITIONER_H

#include "kniferail/axis.h"

struct kr_positioner {
    /* Gives out[], one image for each rail, holds these outputs for dt_us of machine time, and fills in[], one image
     * for each rail. A positioner that has no answer yet says so in link, answers and age_ms. There is no other way to
     * fail. */
    void (*exchange)(void *self, const struct kr_axis_out out[], int64_t dt_us, struct kr_axis_in in[]);
    void (*close)(void *self); /* switches the outputs off, and frees what the maker allocated */
    void *self;
    bool virtual_time; /* time passes only in exchange(), so that it may run faster than the clock */
};

struct sim_config;

/* Makes the simulated machine, in this process. The config (sim/config.h) is copied. False if the config is refused or
 * there is no memory: *error says so in one line, closed with a 0, and *positioner is untouched. */
bool kr_positioner_simulated(const struct sim_config *config, struct kr_positioner *positioner, char *error,
                             size_t error_size);

/* Receives what happens to the links, one line each time: connected, or lost and why. It is called from exchange(), on
 * the thread of exchange(). */
struct kr_positioner_note {
    void (*say)(void *arg, uint16_t rail_number, const char *line); /* the line lives during the call */
    void *arg;
};

/* Makes the positioner for servo drives over Modbus. drive[] has one drive for each rail, checked (kr_drivemap_check);
 * it is copied. There is one thread for each connection or serial line: exchange() only leaves the newest outputs
 * there, and takes the newest answer. At most one transfer goes out for each exchange(), so that a gateway that stands
 * still falls silent, and the drives' own watchdogs stop the drives. A lost link is tried again, at longer and longer
 * intervals up to five seconds. A drive whose watchdog cannot be proven has no link. close() asks for a quick stop and
 * switches the outputs off. False as above. */
struct kr_drive;
bool kr_positioner_modbus(uint16_t n_rails, const struct kr_drive *drive, struct kr_positioner_note note,
                          struct kr_positioner *positioner, char *error, size_t error_size);

#endif
