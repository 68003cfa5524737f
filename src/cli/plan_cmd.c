/* kniferail plan: shows what the gateway would do with an order, from a config and a file of positions. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli.h"
#include "lengths.h"
#include "picture.h"
#include "plan_cmd.h"
#include "terminal.h"

struct options {
    struct plan_args plan;
    struct kr_picture_options picture;
    const char *characters;
    bool json;
};

static int read_args(int argc, char **argv, struct options *a)
{
    const struct kr_option options[] = {
        PLAN_OPTIONS(a->plan),
        {"json", NULL, &a->json},
        {"characters", &a->characters, NULL},
        KR_PICTURE_OPTIONS(a->picture),
    };
    int answer = kr_read_only_options(argc, argv, options, sizeof options / sizeof options[0]);
    if (answer == KR_RUN && (a->plan.config == NULL || a->plan.widths == NULL))
        return kr_usage(argv[0], "--config and --widths are needed");
    return answer;
}

static const struct kr_config_station *read_station(const struct plan_args *a)
{
    static struct kr_config config;
    if (!kr_read_config(a->config, &config))
        return NULL;
    int index = kr_config_station_named(&config, a->station);
    if (index >= 0)
        return &config.station[index];
    kr_usage(a->command,
             a->station ? "--station: '%s' is not in %s" : "%s%s has several stations: --station has to name one",
             a->station ? a->station : "", a->config);
    return NULL;
}

/* Reads an option that may be missing. */
static bool read_length(const char *command, const char *option, const char *text, enum kr_length_unit unit,
                        int64_t *nm)
{
    return text == NULL || length_read(command, option, text, unit, nm);
}

static bool read_edges(const char *command, const char *text, uint16_t *flags)
{
    if (text == NULL)
        return true;
    if (strcmp(text, "operator") == 0)
        *flags = KR_UNTRIMMED_OPERATOR;
    else if (strcmp(text, "drive") == 0)
        *flags = KR_UNTRIMMED_DRIVE;
    else if (strcmp(text, "both") == 0)
        *flags = KR_UNTRIMMED_OPERATOR | KR_UNTRIMMED_DRIVE;
    else
        kr_usage(command, "--untrimmed: '%s'; allowed: operator, drive, both", text);
    return *flags != 0;
}

/* Makes a web that is exactly as wide as the slits and their trims. */
static void fit_web(const struct kr_geometry *g, bool trim_given, struct kr_order *o)
{
    int64_t trim_nm = trim_given ? o->trim_nm : g->trim_min_nm, sum_nm = 0;
    for (uint16_t i = 0; i < o->n_slits; i++)
        sum_nm += o->width_nm[i];
    sum_nm += sum_nm / 1000000 * o->compensation_ppm + sum_nm % 1000000 * o->compensation_ppm / 1000000;
    int edges = 2 - ((o->edge_flags & KR_UNTRIMMED_OPERATOR) != 0) - ((o->edge_flags & KR_UNTRIMMED_DRIVE) != 0);
    o->web_width_nm = sum_nm + edges * trim_nm;
}

static bool read_order(const struct plan_args *a, const char *option, const char *widths, const struct plan_job *job,
                       struct kr_order *o)
{
    long ppm = 0;
    memset(o, 0, sizeof *o);
    if (!lengths_read(a->command, option, widths, job->length_unit, o->width_nm, KR_SLITS_MAX, &o->n_slits) ||
        !read_length(a->command, "--web-width", a->web, job->length_unit, &o->web_width_nm) ||
        !read_length(a->command, "--trim", a->trim, job->length_unit, &o->trim_nm) ||
        !read_length(a->command, "--shift", a->shift, job->length_unit, &o->shift_nm) ||
        !read_edges(a->command, a->untrimmed, &o->edge_flags))
        return false;
    if (a->compensation != NULL && !kr_number(a->command, "--compensation", a->compensation, -1000000, 1000000, &ppm))
        return false;
    o->compensation_ppm = (int32_t)ppm;
    o->alignment = a->trim != NULL ? KR_FROM_OPERATOR_EDGE : KR_CENTRED;
    if (a->web == NULL)
        fit_web(&job->request.geometry, a->trim != NULL, o);
    return true;
}

static bool read_job(const struct plan_args *a, struct plan_job *job)
{
    job->station = read_station(a);
    if (job->station == NULL)
        return false;
    job->length_unit = job->station->station.format.length_unit;
    job->request.geometry = job->station->station.geometry;
    job->request.deadband_um = job->station->station.deadband_um;
    job->request.next_known = a->next != NULL;
    return plan_read_positions(a->positions, a->config, job) &&
           read_order(a, "--widths", a->widths, job, &job->request.order) &&
           (a->next == NULL || read_order(a, "--next-widths", a->next, job, &job->request.next));
}

/* The next order is judged independently, from where the holders stand, because the order in between has no influence
 * on whether its knives find their places. */
static bool next_is_possible(const char *command, const struct plan_job *job, void *workspace)
{
    static struct kr_plan_request next;
    static struct kr_plan plan;
    char sentence[KR_SENTENCE_MAX];
    next = job->request;
    next.order = next.next;
    next.next_known = false;
    struct kr_result result = kr_plan_make(&next, workspace, &plan);
    if (result.code == KR_OK)
        return true;
    kr_result_text(&result, job->length_unit, sentence, sizeof sentence);
    fprintf(stderr, "kniferail %s: --next-widths: refused: %s\n", command, sentence);
    return false;
}

/* A drawing that goes to a file is not printed, too. */
static bool draw(const struct options *a, const struct plan_job *job)
{
    static struct kr_scene scene;
    char subtitle[160];
    plan_scene(job, &scene);
    snprintf(subtitle, sizeof subtitle, "A plan: %u cuts; all moves take %.1f s.", job->plan.cuts.n_cuts,
             (double)job->plan.time_us / 1e6);
    return kr_picture_write("plan", &a->picture, &scene, subtitle);
}

static bool print(const struct options *a, const struct plan_job *job)
{
    if (!a->json) {
        plan_print_text(job);
        return true;
    }
    json_t *json = plan_json(job);
    bool good = json != NULL && json_dumpf(json, stdout, JSON_INDENT(1) | JSON_REAL_PRECISION(15)) == 0;
    json_decref(json);
    putchar('\n');
    return good;
}

int plan_make(const struct plan_args *args, struct plan_job *job)
{
    if (!read_job(args, job))
        return KR_EXIT_USAGE;
    void *workspace = malloc(kr_plan_workspace_size());
    if (workspace == NULL) {
        fprintf(stderr, "kniferail %s: out of memory\n", args->command);
        return KR_EXIT_USAGE;
    }
    job->result = kr_plan_make(&job->request, workspace, &job->plan);
    bool possible =
        !job->request.next_known || job->result.code != KR_OK || next_is_possible(args->command, job, workspace);
    free(workspace);
    return possible ? KR_EXIT_OK : KR_EXIT_REFUSED;
}

int kr_cmd_plan(int argc, char **argv)
{
    static struct plan_job job;
    struct options options = {.plan.command = "plan"};
    int answer = read_args(argc, argv, &options);
    if (answer != KR_RUN)
        return answer;
    if (!kr_terminal_style("plan", options.characters, &job.style))
        return KR_EXIT_USAGE;
    if ((answer = plan_make(&options.plan, &job)) != KR_EXIT_OK)
        return answer;
    if (kr_picture_wanted(&options.picture) && job.result.code == KR_OK)
        return draw(&options, &job) ? KR_EXIT_OK : KR_EXIT_REFUSED;
    if (!print(&options, &job)) {
        fprintf(stderr, "kniferail plan: the output could not be made\n");
        return KR_EXIT_USAGE;
    }
    return kr_flushed(job.result.code == KR_OK ? KR_EXIT_OK : KR_EXIT_REFUSED);
}
