/* kniferail sheet: draws one page of a plan, of a running station, or of a changeover in the book, to pin on the
 * machine. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "address.h"
#include "book_ask.h"
#include "cli.h"
#include "kniferail/caution.h"
#include "kniferail/drawing.h"
#include "plan_cmd.h"
#include "progress.h"
#include "sheet_record.h"

#define LAST "last"

struct arguments {
    struct kr_address_options options;
    struct kr_client_address address;
    struct plan_args plan;
    const char *svg, *pdf, *paper, *by, *changeover, *book;
    enum kr_paper size;
};

static bool read_paper(const char *text, enum kr_paper *paper)
{
    static const char *const words[] = {
#define X(name, word) word,
        KR_PAPERS(X)
#undef X
    };
    for (int i = 0; i < (int)(sizeof words / sizeof words[0]); i++) {
        if (text != NULL && strcmp(text, words[i]) != 0)
            continue;
        *paper = (enum kr_paper)i;
        return true;
    }
    kr_usage("sheet", "--paper: '%s'; allowed: a4, letter", text);
    return false;
}

static bool has_order(const struct plan_args *p)
{
    return p->positions || p->widths || p->web || p->trim || p->shift || p->compensation || p->untrimmed || p->next;
}

static bool has_address(const struct kr_address_options *o)
{
    return o->host || o->port || o->unit;
}

static void take_defaults(struct kr_address_options *o)
{
    const struct kr_address_options defaults = KR_ADDRESS_DEFAULTS;
    o->host = o->host ? o->host : defaults.host;
    o->port = o->port ? o->port : defaults.port;
    o->unit = o->unit ? o->unit : defaults.unit;
}

/* The options decide what the sheet shows: with --changeover a changeover, with --config alone a plan, with neither a
 * station. */
static int check_source(const struct arguments *a)
{
    if (a->changeover != NULL && (a->plan.config == NULL) == (a->book == NULL))
        return kr_usage("sheet", "a changeover needs either --config or --book");
    if (a->changeover != NULL && (has_order(&a->plan) || has_address(&a->options)))
        return kr_usage("sheet", "--changeover goes neither with an order nor with an address");
    if (a->changeover != NULL && strcmp(a->changeover, LAST) != 0 && !kr_history_time_is_good(a->changeover))
        return kr_usage("sheet",
                        "--changeover: '%s' is not a time; write it as 2026-03-01 or 2026-03-01T06:30, or last",
                        a->changeover);
    if (a->changeover != NULL)
        return KR_RUN;
    if (a->book != NULL)
        return kr_usage("sheet", "--book goes only with --changeover");
    if ((a->plan.config == NULL) != (a->plan.widths == NULL))
        return kr_usage("sheet", "a plan needs --config and --widths");
    if (a->plan.config == NULL && (has_order(&a->plan) || a->plan.station != NULL))
        return kr_usage("sheet",
                        "--station, --positions and the options of an order go only with --config, which makes a plan");
    return KR_RUN;
}

static int check(struct arguments *a)
{
    if (a->svg == NULL && a->pdf == NULL)
        return kr_usage("sheet", "--svg or --pdf is needed");
    int answer = check_source(a);
    if (answer != KR_RUN)
        return answer;
    take_defaults(&a->options);
    return read_paper(a->paper, &a->size) && kr_address_read("sheet", &a->options, &a->address) ? KR_RUN
                                                                                                : KR_EXIT_USAGE;
}

static int read_arguments(int argc, char **argv, struct arguments *a)
{
    const struct kr_option options[] = {
        KR_ADDRESS_OPTIONS(a->options), {"svg", &a->svg, NULL}, {"pdf", &a->pdf, NULL},
        {"paper", &a->paper, NULL},     {"by", &a->by, NULL},   {"changeover", &a->changeover, NULL},
        {"book", &a->book, NULL},       PLAN_OPTIONS(a->plan),
    };
    int answer = kr_read_only_options(argc, argv, options, sizeof options / sizeof options[0]);
    return answer == KR_RUN ? check(a) : answer;
}

static int draw(const struct arguments *a, const struct kr_scene *scene, const char *what)
{
    const char *const path[] = {[KR_DRAWING_SVG] = a->svg, [KR_DRAWING_PDF] = a->pdf};
    char now[40], who[100], error[KR_DRAWING_ERROR_MAX];
    time_t seconds = time(NULL);
    struct tm utc;
    strftime(now, sizeof now, "Made %Y-%m-%d %H:%M:%S UTC", gmtime_r(&seconds, &utc));
    snprintf(who, sizeof who, "%s%.90s", a->by ? "by " : "", a->by ? a->by : "");
    const struct kr_sheet_words words = {.what = what, .when = now, .who = who, .caution = kr_caution};
    for (int form = 0; form <= KR_DRAWING_PDF; form++) {
        if (path[form] == NULL ||
            kr_drawing_sheet(scene, &words, a->size, (enum kr_drawing_form)form, path[form], error))
            continue;
        fprintf(stderr, "kniferail sheet: %s\n", error);
        return KR_EXIT_REFUSED;
    }
    return KR_EXIT_OK;
}

static int of_plan(const struct arguments *a, struct kr_scene *scene)
{
    static struct plan_job job;
    char what[100];
    int status = plan_make(&a->plan, &job);
    if (status != KR_EXIT_OK)
        return status;
    if (job.result.code != KR_OK) {
        plan_tell_refusal(&job, stderr);
        return KR_EXIT_REFUSED;
    }
    plan_scene(&job, scene);
    snprintf(what, sizeof what, "This is a plan: nothing of it was measured. All moves take %.1f s.",
             (double)job.plan.time_us / 1e6);
    return draw(a, scene, what);
}

static int of_station(const struct arguments *a, struct kr_scene *scene)
{
    static struct kr_client client;
    char what[160];
    if (!kr_client_open(&client, &a->address) || !kr_client_station(&client)) {
        fprintf(stderr, "kniferail sheet: %s\n", client.error);
        kr_client_close(&client);
        return KR_EXIT_REFUSED;
    }
    kr_client_close(&client);
    const struct kr_image *image = &client.image;
    const struct kr_named_number *state = kr_named("UNIT_STATE", kr_get_u16(image, KR_REG_UNIT_STATE, 0, 0));
    bool verified = kr_get_u16(image, KR_REG_STATUS, 0, 0) & KR_STATUS_VERIFIED;
    kr_scene_of_image(scene, image);
    snprintf(what, sizeof what, "The station as it was read: unit %s, %s.", state ? state->name : "?",
             scene->order_number == 0 ? "no order in force"
             : verified               ? "every knife of the order was measured at its place"
                                      : "the order's knives are NOT verified");
    return draw(a, scene, what);
}

/* "2026-03-01T06:30:00.125Z" as people read it. */
static void tell_changeover(const struct kr_history_changeover *h, char *text, size_t size)
{
    const struct kr_record *record = &h->changeover.record;
    const struct kr_named_number *job = kr_named("COMMAND_JOB", record->job);
    const char *by = h->changeover.started_by;
    snprintf(text, size, "From the book: %s of order %u, %s. It ended %.10s %.8s UTC%s%s.%s",
             record->job == KR_JOB_CHANGEOVER ? "changeover"
             : job                            ? job->name
                                              : "?",
             (unsigned)record->order_number, kr_number_word("RECORD_RESULT", record->outcome), h->ended_at,
             h->ended_at + 11, by[0] ? "; started from " : "", by, h->has_web ? "" : " No cut lines were kept.");
}

static int of_changeover(const struct arguments *a, struct kr_scene *scene)
{
    static struct kr_history_changeover changeover;
    struct book_ask ask = {.command = "sheet", .config = a->plan.config, .book = a->book, .station = a->plan.station};
    char what[240];
    int answer = book_ask_read(&ask);
    if (answer != KR_RUN)
        return answer;
    struct kr_history *history = book_ask_open(&ask);
    if (history == NULL)
        return KR_EXIT_REFUSED;
    answer = KR_EXIT_REFUSED;
    bool read = kr_history_changeover(history, strcmp(a->changeover, LAST) == 0 ? NULL : a->changeover, &changeover);
    kr_progress_hide();
    if (read) {
        sheet_record_scene(&changeover, kr_history_station(history), ask.length_unit, scene);
        tell_changeover(&changeover, what, sizeof what);
        answer = draw(a, scene, what);
    } else {
        fprintf(stderr, "kniferail sheet: %s: %s\n", ask.book, kr_history_error(history));
    }
    kr_history_close(history);
    return answer;
}

int kr_cmd_sheet(int argc, char **argv)
{
    static struct kr_scene scene;
    struct arguments arguments = {.plan.command = "sheet"};
    int answer = read_arguments(argc, argv, &arguments);
    if (answer != KR_RUN)
        return answer;
    if (arguments.changeover != NULL)
        return of_changeover(&arguments, &scene);
    return arguments.plan.config ? of_plan(&arguments, &scene) : of_station(&arguments, &scene);
}
