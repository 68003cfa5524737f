/* kniferail plan: what its files share. Private to src/cli. */
#ifndef KNIFERAIL_CLI_PLAN_CMD_H
#define KNIFERAIL_CLI_PLAN_CMD_H

#include <jansson.h>
#include <stdio.h>

#include "kniferail/config.h"
#include "kniferail/scene.h"

/* What the command was asked, and what came of it. */
struct plan_job {
    const struct kr_config_station *station;
    enum kr_length_unit length_unit;
    struct kr_scene_style style; /* of what is drawn as text */
    struct kr_plan_request request;
    struct kr_result result;
    struct kr_plan plan; /* if the result is KR_OK */
};

/* What the options say; NULL: not given. */
struct plan_args {
    const char *command; /* whose options they are, for messages */
    const char *config, *station, *positions, *widths, *web, *trim, *shift, *compensation, *untrimmed, *next;
};

/* The options that set `plan`, to stand in a command's list, and what a command's help says of them. */
#define PLAN_OPTIONS(plan) \
    {"config", &(plan).config, NULL}, {"station", &(plan).station, NULL}, \
        {"positions", &(plan).positions, NULL}, {"widths", &(plan).widths, NULL}, \
        {"web-width", &(plan).web, NULL}, {"trim", &(plan).trim, NULL}, {"shift", &(plan).shift, NULL}, \
        {"compensation", &(plan).compensation, NULL}, {"untrimmed", &(plan).untrimmed, NULL}, \
    { \
        "next-widths", &(plan).next, NULL \
    }

/* Reads what the options name, and plans. KR_EXIT_OK: job->result says whether the order can be; else an exit status,
 * after telling why. */
int plan_make(const struct plan_args *args, struct plan_job *job);

/* "upper", "lower"; of several with one role "upper2" and so on. */
const char *plan_rail_name(const struct kr_geometry *geometry, uint16_t rail);

/* Fills request.rail from the file at path, if there is one, and from what the config (its path is for messages) says
 * of the rest: holders where they first stand, carriages parked. False after telling why. */
bool plan_read_positions(const char *path, const char *config, struct plan_job *job);

void plan_scene(const struct plan_job *job, struct kr_scene *scene);    /* if the result is KR_OK */
struct kr_told plan_told(const struct plan_job *job, bool scans_first); /* likewise */
void plan_tell_refusal(const struct plan_job *job, FILE *to);
void plan_print_text(const struct plan_job *job);
json_t *plan_json(const struct plan_job *job); /* NULL: out of memory */

#endif
