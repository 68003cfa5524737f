/* Shared by the files of the command `kniferail plan`. Private to src/cli. */
#ifndef KNIFERAIL_CLI_PLAN_CMD_H
#define KNIFERAIL_CLI_PLAN_CMD_H

#include <jansson.h>
#include <stdio.h>

#include "kniferail/config.h"
#include "kniferail/scene.h"

/* The input of the command, and its result. */
struct plan_job {
    const struct kr_config_station *station;
    enum kr_length_unit length_unit;
    struct kr_scene_style style; /* of a drawing as text */
    struct kr_plan_request request;
    struct kr_result result;
    struct kr_plan plan; /* valid if the result is KR_OK */
};

/* The values of the options; NULL: not given. */
struct plan_args {
    const char *command; /* the command that has these options, for messages */
    const char *config, *station, *positions, *widths, *web, *trim, *shift, *compensation, *untrimmed, *next;
};

/* The options that fill in `plan`, for a command's list of options. */
#define PLAN_OPTIONS(plan) \
    {"config", &(plan).config, NULL}, {"station", &(plan).station, NULL}, {"positions", &(plan).positions, NULL}, \
        {"widths", &(plan).widths, NULL}, {"web-width", &(plan).web, NULL}, {"trim", &(plan).trim, NULL}, \
        {"shift", &(plan).shift, NULL}, {"compensation", &(plan).compensation, NULL}, \
        {"untrimmed", &(plan).untrimmed, NULL}, \
    { \
        "next-widths", &(plan).next, NULL \
    }

/* Reads the files and values that the options name, and makes the plan. KR_EXIT_OK: job->result says whether the order
 * is possible. Otherwise returns an exit status; the reason was printed. */
int plan_make(const struct plan_args *args, struct plan_job *job);

/* Returns "upper" or "lower"; if several rails have the same role, "upper2" and so on. */
const char *plan_rail_name(const struct kr_geometry *geometry, uint16_t rail);

/* Fills in request.rail from the file at path, if there is one. For all that the file does not say, takes the config
 * (its path is for messages): holders stand at their first positions, and carriages are parked. False: the reason was
 * printed. */
bool plan_read_positions(const char *path, const char *config, struct plan_job *job);

/* These two must be called only if the result is KR_OK. */
void plan_scene(const struct plan_job *job, struct kr_scene *scene);
struct kr_told plan_told(const struct plan_job *job, bool scans_first);
void plan_tell_refusal(const struct plan_job *job, FILE *to);
void plan_print_text(const struct plan_job *job);
json_t *plan_json(const struct plan_job *job); /* NULL: there is no memory */

#endif
