/* Reads a fault script, a small libconfig file:
 *
 *     faults = (
 *       { fault = "pin-stuck-out"; rail = 1; phase = "docking"; nth = 2; for_ms = 3000; },
 *       { fault = "moved-by-hand"; rail = 2; holder = 4; value = 12000; after_ms = 60000; }
 *     );
 *
 * Holder 0 is the holder that is docked when the fault begins. Without phase, after_ms counts from the start. Without
 * for_ms, a fault stays. `kniferail-sim --faults` lists faults and phases. */
#ifndef KNIFERAIL_SIM_SCRIPT_READ_H
#define KNIFERAIL_SIM_SCRIPT_READ_H

#include "sim/script.h"

/* False: *script is unchanged, and error has one line with file, line, setting, value and what is allowed. */
bool sim_script_read(const char *path, const struct sim_config *config, struct sim_script *script, char *error,
                     size_t size);
/* Does the same with a text; name stands for the file in error. */
bool sim_script_parse(const char *text, const char *name, const struct sim_config *config, struct sim_script *script,
                      char *error, size_t size);

#endif
