/* kniferail plan: what its files share, and how lengths are read from the command line. Private to src/cli. */
#ifndef KNIFERAIL_CLI_PLAN_CMD_H
#define KNIFERAIL_CLI_PLAN_CMD_H

#include <jansson.h>

#include "kniferail/config.h"

/* What the command was asked, and what came of it. */
struct plan_job {
    const struct kr_config_station *station;
    enum kr_length_unit length_unit;
    struct kr_plan_request request;
    struct kr_result result;
    struct kr_plan plan; /* if the result is KR_OK */
};

/* Reads a length: "25.4", "3 5/8", "3 5/8 in", "92.075 mm"; without a unit it is in the station's. Exact, rounded once
 * to a nanometre. False: it is none. */
bool plan_read_length(const char *text, enum kr_length_unit unit, int64_t *nm);

/* Reads lengths with commas between them. False, after telling why, if they are not all good or more than most. */
bool plan_read_lengths(const char *command, const char *option, const char *text, enum kr_length_unit unit,
                       int64_t nm[], int most, uint16_t *n);

/* "upper", "lower"; of several with one role "upper2" and so on. */
const char *plan_rail_name(const struct kr_geometry *geometry, uint16_t rail);

/* Fills request.rail from the file at path, if there is one, and from what the config (its path is for messages) says of
 * the rest: holders where they first stand, carriages parked. False after telling why. */
bool plan_read_positions(const char *path, const char *config, struct plan_job *job);

void plan_print_text(const struct plan_job *job);
json_t *plan_json(const struct plan_job *job); /* NULL: out of memory */

#endif
