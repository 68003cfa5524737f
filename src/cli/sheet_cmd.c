/* kniferail sheet: one page of a plan or of a running station, to pin on the machine. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "address.h"
#include "cli.h"
#include "kniferail/caution.h"
#include "kniferail/drawing.h"
#include "plan_cmd.h"

const char kr_sheet_help[] =
    "Draws one page to pin on the machine: the rails to scale; cuts, knives and slits with lane centres, "
    "targets, and of a\n"
    "station what was measured and how far it is off; where the other holders rest; who made it and when; "
    "the "
    "usual\n"
    "cautions. It shows a running station, or, with --config, a plan. Nothing moves.\n"
    "\n"
    "  --svg FILE         into this file, as SVG\n"
    "  --pdf FILE         the same as PDF\n"
    "  --paper PAPER      a4 (the default) or letter\n"
    "  --by NAME          who made it; else there is none\n"
    "Of a running station:\n"
    "  --host H           name or address of the gateway (127.0.0.1)\n"
    "  --port P           TCP port (1502)\n"
    "  --unit U           unit identifier (255: the only station, or the default one)\n"
    "Of a plan, as with 'kniferail plan':\n" PLAN_HELP "\n"
    "Exit status: 0, 1 the order is refused, the station can't be read or the file not be written, 2 wrong "
    "usage.\n";

struct arguments {
    struct kr_address_options options;
    struct kr_client_address address;
    struct plan_args plan;
    const char *svg, *pdf, *paper, *by;
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

static bool is_of_plan(const struct plan_args *p)
{
    return p->station || p->positions || p->web || p->trim || p->shift || p->compensation || p->untrimmed ||
           p->next;
}

static int check(struct arguments *a)
{
    if (a->svg == NULL && a->pdf == NULL)
        return kr_usage("sheet", "it needs --svg or --pdf");
    if ((a->plan.config == NULL) != (a->plan.widths == NULL))
        return kr_usage("sheet", "a plan needs --config and --widths");
    if (a->plan.config == NULL && is_of_plan(&a->plan))
        return kr_usage(
            "sheet", "--station, --positions and the options of an order are for a plan: it needs --config");
    return read_paper(a->paper, &a->size) && kr_address_read("sheet", &a->options, &a->address)
               ? KR_RUN
               : KR_EXIT_USAGE;
}

static int read_arguments(int argc, char **argv, struct arguments *a)
{
    const struct kr_option options[] = {
        KR_ADDRESS_OPTIONS(a->options), {"svg", &a->svg, NULL}, {"pdf", &a->pdf, NULL},
        {"paper", &a->paper, NULL},     {"by", &a->by, NULL},   PLAN_OPTIONS(a->plan),
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
    snprintf(what, sizeof what, "A plan: nothing of it was measured. All moves take %.1f s.",
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
             : verified               ? "every knife of the order measured at its place"
                                      : "the order's knives NOT verified");
    return draw(a, scene, what);
}

int kr_cmd_sheet(int argc, char **argv)
{
    static struct kr_scene scene;
    struct arguments arguments = {.options = KR_ADDRESS_DEFAULTS, .plan.command = "sheet"};
    int answer = read_arguments(argc, argv, &arguments);
    if (answer != KR_RUN)
        return answer;
    return arguments.plan.config ? of_plan(&arguments, &scene) : of_station(&arguments, &scene);
}
