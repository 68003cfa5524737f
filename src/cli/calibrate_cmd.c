/* kniferail calibrate: finds a rail's frame from the readings of a tape, a laser or a bar. It prints the settings for
 * the station file, which it does not write; if asked for, it sets the result at a running station. */
#include "calibrate_cmd.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "address.h"
#include "cli.h"
#include "kniferail/config.h"
#include "kniferail/quantity.h"
#include "lengths.h"
#include "picture.h"

/* ---- options --------------------------------------------------------------------------------------------------- */

struct given {
    const char *uncertainty, *uncertainty_ppm, *temperature, *coefficient, *config, *station, *rail, *model, *targets,
        *runs, *unit, *keep;
    struct kr_address_options address;
    bool json, apply, measured;
    struct kr_picture_options picture;
};

/* False: the mistake was printed. *value is unchanged if the option was not given. */
static bool decimal(const char *option, const char *text, double least, double most, double *value)
{
    char *end;
    if (!text)
        return true;
    errno = 0;
    double read = strtod(text, &end);
    if (errno != 0 || end == text || *end != '\0' || !(read >= least && read <= most)) {
        (void)kr_usage("calibrate", "%s '%s'; allowed: %g to %g", option, text, least, most);
        return false;
    }
    *value = read;
    return true;
}

static bool uncertainty(const char *text, double *mm)
{
    int64_t nm = 0;
    if (!text)
        return true;
    if (kr_length_read(text, "mm", &nm) != KR_QUANTITY_OK || nm < 0 || nm > 100000000) {
        (void)kr_usage("calibrate", "--uncertainty '%s'; allowed: 0 to 100 mm, or with its unit behind it", text);
        return false;
    }
    *mm = (double)nm / 1e6;
    return true;
}

static bool read_instrument(const struct given *g, struct calibrate_job *job)
{
    double ppm = 0, coefficient = 0;
    if (!g->temperature != !g->coefficient)
        return kr_usage("calibrate", "--temperature and --coefficient go together") == KR_RUN;
    if (!uncertainty(g->uncertainty, &job->instrument.constant_mm) ||
        !decimal("--uncertainty-ppm", g->uncertainty_ppm, 0, 10000, &ppm) ||
        !decimal("--temperature", g->temperature, CALIBRATE_CELSIUS_LEAST, CALIBRATE_CELSIUS_MOST, &job->celsius) ||
        !decimal("--coefficient", g->coefficient, CALIBRATE_COEFFICIENT_LEAST, CALIBRATE_COEFFICIENT_MOST,
                 &coefficient))
        return false;
    job->instrument.per_mm = ppm / 1e6;
    job->per_kelvin = coefficient / 1e6;
    job->is_corrected = g->temperature != NULL;
    return true;
}

static bool read_model(const struct given *g, struct calibrate_job *job)
{
    job->model = KR_N_MODELS; /* the model is chosen by the verdict */
    for (int m = 0; g->model && m < KR_N_MODELS; m++)
        if (strcmp(g->model, kr_calibration_model_word((enum kr_calibration_model)m)) == 0)
            job->model = (enum kr_calibration_model)m;
    if (g->model && job->model == KR_N_MODELS)
        (void)kr_usage("calibrate", "--model '%s'; allowed: as_is, offset, offset_and_scale, table", g->model);
    return !g->model || job->model != KR_N_MODELS;
}

/* False: the mistake was printed. */
static bool read_address(const struct given *g, struct calibrate_job *job)
{
    struct kr_address_options address = KR_ADDRESS_DEFAULTS;
    address.host = g->address.host ? g->address.host : address.host;
    address.port = g->address.port ? g->address.port : address.port;
    address.unit = g->address.unit ? g->address.unit : address.unit;
    return kr_address_read("calibrate", &address, &job->address);
}

/* Returns the exit status. */
static int measured(const struct given *g, int n_files)
{
    static struct calibrate_job job;
    long rail = 0;
    if (n_files > 0 || g->targets || g->config || g->json || g->model)
        return kr_usage("calibrate", "--measured goes only with --rail, --apply and the station's address");
    if (!g->rail)
        return kr_usage("calibrate", "--measured needs --rail");
    if (!kr_number("calibrate", "--rail", g->rail, 1, KR_RAILS_MAX, &rail) || !read_address(g, &job))
        return KR_EXIT_USAGE;
    return calibrate_measured(&job.address, (uint16_t)rail, g->apply) ? kr_flushed(KR_EXIT_OK) : KR_EXIT_REFUSED;
}

/* The same. */
static int read_station(const struct given *g, struct calibrate_job *job)
{
    long rail = 0;
    job->applies = g->apply;
    if (!g->apply)
        return g->address.host || g->address.port || g->address.unit
                   ? kr_usage("calibrate", "--host, --port and --unit need --apply or --measured")
                   : KR_RUN;
    if (g->config || g->station || g->json)
        return kr_usage("calibrate", "--apply goes neither with --config nor with --json");
    if (!g->rail)
        return kr_usage("calibrate", "--apply needs --rail");
    if (!kr_number("calibrate", "--rail", g->rail, 1, KR_RAILS_MAX, &rail) || !read_address(g, job))
        return KR_EXIT_USAGE;
    job->rail = (uint16_t)rail;
    return calibrate_frame_in_force(job) ? KR_RUN : KR_EXIT_REFUSED;
}

/* Returns KR_RUN, or the exit status. */
static int read_frame(const struct given *g, struct calibrate_job *job)
{
    static struct kr_config config;
    long rail = 0;
    if (g->apply || !g->config)
        return (g->rail && !g->apply) || g->station
                   ? kr_usage("calibrate", "--rail and --station need --config, or --rail --apply")
                   : KR_RUN;
    if (!g->rail)
        return kr_usage("calibrate", "--config needs --rail");
    if (!kr_number("calibrate", "--rail", g->rail, 1, KR_RAILS_MAX, &rail))
        return KR_EXIT_USAGE;
    if (!kr_read_config(g->config, &config))
        return KR_EXIT_REFUSED;
    int station = kr_config_station_named(&config, g->station);
    if (station < 0)
        return kr_usage("calibrate", "--station has to name one of the file's stations");
    if (rail > config.station[station].station.geometry.n_rails)
        return kr_usage("calibrate", "--rail '%s'; allowed: 1 to %u", g->rail,
                        (unsigned)config.station[station].station.geometry.n_rails);
    job->before = config.station[station].station.carriage[rail - 1].frame;
    return KR_RUN;
}

/* Readings that are typed in are in the unit of the first target, or in mm if it has none. */
static bool read_targets(struct given *g, struct calibrate_targets *t)
{
    long runs = KR_ISO_RUNS_LEAST;
    if (!g->targets)
        return !(g->runs || g->keep) || kr_usage("calibrate", "--runs and --keep need --targets") == KR_RUN;
    size_t first = strcspn(g->targets, ",");
    g->unit = first >= 2 && strncmp(g->targets + first - 2, "in", 2) == 0 ? "in" : "mm";
    if (!lengths_read("calibrate", "--targets", g->targets, KR_LENGTH_MM, t->nm, KR_CALIBRATION_TARGETS_MAX, &t->n) ||
        (g->runs && !kr_number("calibrate", "--runs", g->runs, 1, KR_CALIBRATION_RUNS_MAX, &runs)))
        return false;
    t->runs = (uint16_t)runs;
    for (uint16_t i = 1; i < t->n; i++)
        if (t->nm[i] <= t->nm[i - 1])
            return kr_usage("calibrate", "--targets: %s; each has to lie above the one before it", g->targets) ==
                   KR_RUN;
    return true;
}

static bool take_readings(const struct given *g, const struct calibrate_targets *targets, struct calibrate_job *job)
{
    if (!g->targets)
        return calibrate_read(job);
    return calibrate_type_in(job, targets, g->unit) && (!g->keep || calibrate_keep(job, g->keep));
}

/* ---- the work -------------------------------------------------------------------------------------------------- */

static int32_t um(double mm)
{
    return (int32_t)lround(1000 * mm);
}

void calibrate_bring_to_20(struct calibrate_job *job)
{
    for (size_t i = 0; job->is_corrected && i < job->n; i++)
        job->reading[i].reading_mm = kr_length_at_20_mm(job->reading[i].reading_mm, job->per_kelvin, job->celsius);
}

static void make_targets_positions(struct calibrate_job *job)
{
    for (size_t i = 0; i < job->n; i++)
        job->reading[i].target_mm = kr_frame_position_um(&job->before, um(job->reading[i].target_mm)) / 1000.0;
}

static void make_frame(struct calibrate_job *job)
{
    const struct kr_calibration *c = &job->result;
    const struct kr_calibration_fit *fit = &c->fit[job->model];
    job->frame = (struct kr_frame){.offset_um = um(fit->offset_mm), .scale_ppb = (int32_t)lround(fit->scale * 1e9)};
    if (job->model != KR_MODEL_TABLE)
        return;
    job->frame.n_points = c->n_targets;
    for (uint16_t i = 0; i < c->n_targets; i++)
        job->frame.point[i] = (struct kr_frame_point){um(c->target[i].target_mm), um(c->target[i].residual_mm)};
    job->bad_point = kr_frame_bad_point(&job->frame);
}

/* Before it is rounded to what the station file takes. */
static bool check_limits(const struct calibrate_job *job)
{
    const struct kr_calibration_fit *fit = &job->result.fit[job->model];
    double most_mm = KR_FRAME_OFFSET_MAX_UM / 1000.0, most_ppm = KR_FRAME_SCALE_MAX_PPB / 1000.0;
    if (!fit->determined)
        fprintf(stderr, "kniferail calibrate: there are too few readings for the model %s\n",
                kr_calibration_model_word(job->model));
    else if (fabs(fit->offset_mm) > most_mm)
        fprintf(stderr, "kniferail calibrate: the offset would be %.3f mm; at most %.0f mm is possible\n",
                fit->offset_mm, most_mm);
    else if (fabs(fit->scale) * 1e6 > most_ppm)
        fprintf(stderr,
                "kniferail calibrate: the scale would be %.0f ppm; at most %.0f ppm is possible: look at the drive's "
                "position_units and position_um first\n",
                fit->scale * 1e6, most_ppm);
    else
        return true;
    return false;
}

bool calibrate_work_out(struct calibrate_job *job)
{
    make_targets_positions(job);
    if (!kr_calibrate(job->reading, job->n, job->instrument, &job->result)) {
        fprintf(stderr, "kniferail calibrate: %s: there are no readings, or too many of them\n", job->path);
        return false;
    }
    if (job->model == KR_N_MODELS)
        job->model = job->result.taken;
    if (!check_limits(job))
        return false;
    make_frame(job);
    job->iso_lack = kr_iso_lacks(job->reading, job->n, &job->iso_has, &job->iso_needs);
    if (job->iso_lack == KR_ISO_LACKS_NOTHING)
        /* It can't fail, because there are five readings in each direction. */
        (void)kr_iso_evaluate(job->reading, job->n, &job->iso);
    return true;
}

static int print(const struct calibrate_job *job, bool as_json)
{
    if (!as_json) {
        calibrate_print(job);
        return kr_flushed(KR_EXIT_OK);
    }
    json_t *json = calibrate_json(job);
    bool good = json && json_dumpf(json, stdout, JSON_INDENT(2)) == 0 && printf("\n") > 0;
    json_decref(json);
    return kr_flushed(good ? KR_EXIT_OK : KR_EXIT_REFUSED);
}

int kr_cmd_calibrate(int argc, char **argv)
{
    static struct calibrate_job job;
    static struct calibrate_targets targets;
    struct given g = {0};
    const struct kr_option options[] = {{"uncertainty", &g.uncertainty, NULL},
                                        {"uncertainty-ppm", &g.uncertainty_ppm, NULL},
                                        {"temperature", &g.temperature, NULL},
                                        {"coefficient", &g.coefficient, NULL},
                                        {"config", &g.config, NULL},
                                        {"station", &g.station, NULL},
                                        {"rail", &g.rail, NULL},
                                        {"model", &g.model, NULL},
                                        {"targets", &g.targets, NULL},
                                        {"runs", &g.runs, NULL},
                                        {"keep", &g.keep, NULL},
                                        {"json", NULL, &g.json},
                                        {"apply", NULL, &g.apply},
                                        {"measured", NULL, &g.measured},
                                        KR_ADDRESS_OPTIONS(g.address),
                                        KR_PICTURE_OPTIONS(g.picture)};
    int first, answer = kr_read_options(argc, argv, options, (int)(sizeof options / sizeof options[0]), &first);
    if (answer != KR_RUN)
        return answer;
    if (g.measured)
        return measured(&g, argc - first);
    if (argc - first != (g.targets ? 0 : 1))
        return kr_usage("calibrate", "one FILE of readings is needed, or --targets to type them in");
    job.path = argv[first];
    if (!read_instrument(&g, &job) || !read_model(&g, &job) || !read_targets(&g, &targets))
        return KR_EXIT_USAGE;
    answer = read_station(&g, &job);
    if (answer == KR_RUN)
        answer = read_frame(&g, &job);
    if (answer != KR_RUN)
        return answer;
    if (!take_readings(&g, &targets, &job))
        return KR_EXIT_REFUSED;
    calibrate_bring_to_20(&job);
    if (!calibrate_work_out(&job) || !calibrate_draw(&job, &g.picture))
        return KR_EXIT_REFUSED;
    answer = print(&job, g.json);
    return answer != KR_EXIT_OK || !job.applies || calibrate_apply(&job) ? kr_flushed(answer) : KR_EXIT_REFUSED;
}
