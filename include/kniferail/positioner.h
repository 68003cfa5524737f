/* positioner: one narrow interface to whatever moves the carriages of a station. The station can't tell what is
 * behind it. Behind it: the simulated machine in process; a servo drive over Modbus. exchange() never blocks.
 * Used from the daemon's loop thread. */
#ifndef KNIFERAIL_POSITIONER_H
#define KNIFERAIL_POSITIONER_H

#include "kniferail/axis.h"

struct kr_positioner {
    /* Gives out[], one for each rail, holds them for dt_us of machine time, and fills in[], one for each rail. A
     * positioner that has no answer yet says so in link, answers and age_ms; there is no other way to fail. */
    void (*exchange)(void *self, const struct kr_axis_out out[], int64_t dt_us, struct kr_axis_in in[]);
    void (*close)(void *self); /* frees what the maker allocated; the outputs go off first */
    void *self;
    bool virtual_time; /* time passes in exchange() only, so that it may run faster than the clock */
};

struct sim_config;

/* The simulated machine, in this process. The config (sim/config.h) is copied. False, with *error in one line, closed
 * with a 0: the config is refused, or there is no memory; *positioner is untouched then. */
bool kr_positioner_simulated(const struct sim_config *config, struct kr_positioner *positioner, char *error,
                             size_t error_size);

/* Tells what happens to the links, one line each time: connected, lost and why. Called from exchange(), on its
 * thread. */
struct kr_positioner_note {
    void (*say)(void *arg, uint16_t rail_number, const char *line); /* the line lives during the call */
    void *arg;
};

/* Servo drives over Modbus, one of an array for each rail, checked (kr_drivemap_check) and copied. One thread for
 * each connection or serial line: exchange() only leaves the newest outputs there and takes the newest answer. At
 * most one transfer goes out for each exchange(), so that a gateway that stands still falls silent, and the drives'
 * own watchdogs stop them. A lost link is tried again, at longer and longer intervals up to five seconds. A drive
 * whose watchdog can't be proven has no link. close() asks for a quick stop and takes the outputs off. False as
 * above. */
struct kr_drive;
bool kr_positioner_modbus(uint16_t n_rails, const struct kr_drive *drive, struct kr_positioner_note note,
                          struct kr_positioner *positioner, char *error, size_t error_size);

#endif
