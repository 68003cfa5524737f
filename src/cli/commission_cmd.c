/* kniferail commission: leads through the commissioning of a running station, a step at a time. */
#include <stdio.h>
#include <string.h>

#include "address.h"
#include "cli.h"
#include "commission.h"
#include "kniferail/caution.h"

static struct commission commission; /* large */

struct arguments {
    const char *config, *station, *session, *again, *only, *rail, *rehearsal, *simulator;
    long rail_number; /* only the steps of this rail are walked; 0: the steps of all rails */
    bool list;
    struct kr_address_options options;
    struct kr_client_address address;
};

/* ---- the command line ------------------------------------------------------------------------------------------ */

static bool find_station(struct commission *c, const struct arguments *a)
{
    int index = kr_config_station_named(&c->config, a->station);
    if (index < 0) {
        (void)kr_usage("commission",
                       a->station ? "the file has no station of that name: '%s'"
                                  : "the file has several stations: --station NAME is needed",
                       a->station);
        return false;
    }
    c->station = &c->config.station[index];
    if (c->station->positioner == KR_POSITIONER_MODBUS)
        return true;
    fprintf(stderr,
            "kniferail commission: station %s has no drives: its positioner is the simulated machine, of which nothing "
            "is to be commissioned\n",
            c->station->station.name);
    return false;
}

/* Names the session's file: it lies beside the book and has the station's name. Characters other than letters and
 * digits become hyphens. */
static bool session_beside_book(struct commission *c)
{
    const char *slash = strrchr(c->config.book_path, '/');
    int folder = slash ? (int)(slash - c->config.book_path) + 1 : 0;
    if (c->config.book_path[0] == '\0')
        return false;
    int n = snprintf(c->path, sizeof c->path, "%.*scommission-", folder, c->config.book_path);
    for (const char *at = c->station->station.name; *at != '\0' && n + 6 < (int)sizeof c->path; at++) {
        bool fits = strchr("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_", *at) != NULL;
        c->path[n++] = (char)(fits ? *at : '-');
    }
    snprintf(c->path + n, sizeof c->path - (size_t)n, ".json");
    return true;
}

static bool find_session(struct commission *c, const struct arguments *a)
{
    if (a->session != NULL && strlen(a->session) >= sizeof c->path - 16) {
        (void)kr_usage("commission", "--session: the name is too long");
        return false;
    }
    if (a->session != NULL) {
        snprintf(c->path, sizeof c->path, "%s", a->session);
    } else if (!session_beside_book(c)) {
        (void)kr_usage(
            "commission",
            "the station file names no book beside which the session could be kept: --session FILE is needed");
        return false;
    }
    size_t n = strlen(c->path), tail = strlen(".json");
    snprintf(c->stem, sizeof c->stem, "%s", c->path);
    if (n > tail && strcmp(c->path + n - tail, ".json") == 0)
        c->stem[n - tail] = '\0';
    return true;
}

static const struct kr_step *step_named(const char *name)
{
    for (size_t i = 0; kr_step(i) != NULL; i++) {
        const char *of = kr_step(i)->name;
        size_t k = 0;
        while (of[k] != '\0' && (of[k] | 0x20) == (name[k] | 0x20))
            k++;
        if (of[k] == '\0' && name[k] == '\0')
            return kr_step(i);
    }
    return NULL;
}

static int read_arguments(int argc, char **argv, struct arguments *a)
{
    const struct kr_option options[] = {{"config", &a->config, NULL},       {"station", &a->station, NULL},
                                        {"session", &a->session, NULL},     {"again", &a->again, NULL},
                                        {"only", &a->only, NULL},           {"rail", &a->rail, NULL},
                                        {"rehearsal", &a->rehearsal, NULL}, {"simulator", &a->simulator, NULL},
                                        {"list", NULL, &a->list},           KR_ADDRESS_OPTIONS(a->options)};
    int answer = kr_read_only_options(argc, argv, options, sizeof options / sizeof options[0]);
    if (answer != KR_RUN)
        return answer;
    if (a->config == NULL)
        return kr_usage("commission", "--config FILE is needed");
    if (a->only != NULL && step_named(a->only) == NULL)
        return kr_usage("commission", "--only: there is no step '%s'; --list shows them", a->only);
    if (a->again != NULL && step_named(a->again) == NULL)
        return kr_usage("commission", "--again: there is no step '%s'; --list shows them", a->again);
    if (a->rail != NULL && !kr_number("commission", "--rail", a->rail, 1, KR_RAILS_MAX, &a->rail_number))
        return KR_EXIT_USAGE;
    return kr_address_read("commission", &a->options, &a->address) ? KR_RUN : KR_EXIT_USAGE;
}

/* ---- the station ----------------------------------------------------------------------------------------------- */

/* Tells whether the running gateway has this station file. */
static bool is_the_files(struct commission *c)
{
    const struct kr_image *image = &c->client.image;
    char name[64];
    uint32_t runs = (uint32_t)kr_get_i32(image, KR_REG_FILE_DIGEST, 0, 0);
    kr_get_text(image, KR_REG_STATION_NAME, name, sizeof name);
    if (strcmp(name, c->station->station.name) != 0) {
        fprintf(stderr, "kniferail commission: station %s answers, and the file's is %s (--unit has the identifier)\n",
                name, c->station->station.name);
        return false;
    }
    if (runs == c->config.digest)
        return true;
    fprintf(stderr,
            "kniferail commission: the gateway runs another station file (digest %08X) than %s (%08X): reload it, or "
            "restart the gateway where a changed setting needs that\n",
            (unsigned)runs, c->config.path, (unsigned)c->config.digest);
    return false;
}

static bool open_station(struct commission *c, const struct arguments *a)
{
    struct kr_client_address address = a->address;
    if (address.unit_id == 255)
        address.unit_id = c->station->unit_id;
    c->address = address;
    if (kr_client_open(&c->client, &address))
        return is_the_files(c);
    fprintf(stderr, "kniferail commission: %s\n", c->client.error);
    return false;
}

/* ---- the way --------------------------------------------------------------------------------------------------- */

static void say_findings(const struct kr_step_verdict *verdict)
{
    for (uint16_t i = 0; i < verdict->n_findings; i++) {
        const struct kr_finding *f = &verdict->finding[i];
        if (f->setting[0] != '\0')
            commission_say("  %s\n  Change %s to: %s.", f->seen, f->setting, f->change);
        else
            commission_say("  %s\n  To do: %s.", f->seen, f->change);
    }
}

static void say_verdict(const struct kr_step_verdict *verdict)
{
    for (uint16_t i = 0; i < verdict->n_figures; i++)
        commission_say("  %s: %s", verdict->figure[i].name, verdict->figure[i].value);
    commission_say("%s", kr_step_passes(verdict) ? "PASSED" : "NOT PASSED");
    say_findings(verdict);
    if (verdict->lost > 0)
        commission_say("%u further figures or findings had no room: the record is not whole, and does not pass.",
                       verdict->lost);
}

static void say_heading(const struct commission *c, const struct kr_step *step, uint16_t rail_number)
{
    char what[KR_STEP_WHAT_MAX];
    if (rail_number > 0)
        commission_say("\n== %s, rail %u", step->title, rail_number);
    else
        commission_say("\n== %s", step->title);
    if (step->caution[0] != '\0')
        commission_say("CAUTION. %s", step->caution);
    commission_say("%s", commission_what(c, step, what));
}

static bool walk(struct commission *c, size_t id, uint16_t rail, struct kr_step_verdict *verdict)
{
    static bool (*const walks[])(struct commission *, uint16_t, struct kr_step_verdict *) = {
#define STEP(name, scope, title, caution, what, settings) commission_walk_##name,
#include "kniferail/commission.def"
    };
    return walks[id](c, rail, verdict);
}

/* The cautions are read on each day, and whenever another person leads. */
static bool cautions_are_due(const struct commission *c, const struct kr_step *step, char *why, size_t size)
{
    char now[32];
    const json_t *record = commission_record(c, step, 0);
    const char *when = json_string_value(json_object_get(record, "when"));
    const char *who = json_string_value(json_object_get(record, "who"));
    if (step != kr_step(KR_STEP_CAUTIONS) || when == NULL || who == NULL)
        return false;
    commission_time_text(now);
    if (strcmp(who, c->who) == 0 && strncmp(when, now, strlen("2026-03-02")) == 0)
        return false;
    snprintf(why, size,
             "the cautions were last read on %.10s, when %.100s led; they are read again on each day and whenever "
             "another person leads",
             when, who);
    return true;
}

static bool is_doubtful(const struct commission *c, const struct kr_step *step, uint16_t rail_number, char *why,
                        size_t size)
{
    return commission_doubtful(c, step, rail_number, why, size) || cautions_are_due(c, step, why, size);
}

/* Tells whether the step has to be walked, and prints why. again: it is walked even if it has passed. */
static bool is_due(struct commission *c, const struct kr_step *step, uint16_t rail_number, bool again)
{
    char why[256];
    if (again || !commission_passed(c, step, rail_number))
        return true;
    if (!is_doubtful(c, step, rail_number, why, sizeof why))
        return false;
    commission_say("\n%s is doubtful: %s.", step->title, why);
    return true;
}

/* Without new values, since the station does not answer any more, the old ones stay. */
static void take_book(struct commission *c, json_t *now)
{
    if (now == NULL)
        return;
    json_decref(c->book);
    c->book = now;
}

/* Puts the walked step down. Its record has the values of the book on which the verdict stands: those from before the
 * walk, so that what somebody else changed meanwhile makes the step doubtful; but where the step itself has changed
 * some, those that it has left. */
static bool keep_step(struct commission *c, const struct kr_step *step, uint16_t rail_number,
                      const struct kr_step_verdict *verdict)
{
    json_t *now = commission_book_read(c);
    if (c->edited)
        take_book(c, now);
    bool kept = commission_record_add(c, step, rail_number, verdict);
    if (!c->edited)
        take_book(c, now);
    return kept && commission_write_protocol(c) && now != NULL;
}

static void begin_step(struct commission *c, struct kr_step_verdict *verdict)
{
    memset(verdict, 0, sizeof *verdict);
    verdict->length_unit = c->station->station.format.length_unit;
    json_decref(c->carried);
    c->carried = NULL;
    c->edited = c->worked = false;
    memset(c->release, 0, sizeof c->release);
}

/* Offers the guided release wherever a step that has started a job ends with a pin that is not proven out. Then what
 * came of all that were offered in the step belongs to its verdict. Returns false if the person left, or the station
 * does not answer. */
static bool release_pins(struct commission *c)
{
    for (uint16_t r = 0; c->worked && r < c->station->station.geometry.n_rails; r++) {
        bool in;
        if (!commission_pin_may_be_in(c, r, &in) || (in && !commission_offer_release(c, r)))
            return false;
    }
    return true;
}

static void judge_releases(const struct commission *c, struct kr_step_verdict *verdict)
{
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        if (c->release[r].rail_number != 0)
            kr_judge_release(&c->release[r], verdict);
}

static uint16_t rails_of(const struct commission *c, const struct kr_step *step)
{
    return step->scope == KR_STEP_RAIL ? c->station->station.geometry.n_rails : 1;
}

/* ---- what comes first ------------------------------------------------------------------------------------------- */

/* One way through the steps. */
struct pass {
    const struct arguments *a;
    bool again[KR_RAILS_MAX + 1]; /* for which rails (0: the station) the step of --again is still to be walked again */
    uint32_t before;              /* number of steps that were walked when it began */
    bool start_over;              /* it has ended early: another one begins */
};

/* A step that has not passed, or is doubtful, for a rail. */
struct gap {
    uint16_t rail_number; /* 0: it is a step of the station */
    char text[400];
};

static bool is_gap(const struct commission *c, size_t id, uint16_t rail_number, struct gap *gap)
{
    char why[256], rail[24] = "";
    const struct kr_step *step = kr_step(id);
    gap->rail_number = rail_number;
    if (rail_number > 0)
        snprintf(rail, sizeof rail, " of rail %u", rail_number);
    if (!commission_passed(c, step, rail_number))
        snprintf(gap->text, sizeof gap->text, "step %s%s %s", step->name, rail,
                 commission_record(c, step, rail_number) == NULL ? "was not walked" : "did not pass");
    else if (is_doubtful(c, step, rail_number, why, sizeof why))
        snprintf(gap->text, sizeof gap->text, "step %s%s is doubtful: %s", step->name, rail, why);
    else
        return false;
    return true;
}

/* Finds a step that comes first and has not passed. SILENCE is named before any other one, because where it is missing
 * nothing stops a fast carriage whose link is lost. */
static bool find_gap(const struct commission *c, size_t id, uint16_t rail_number, struct gap *gap)
{
    for (int silence = 1; silence >= 0; silence--)
        for (size_t first = 0; first < id; first++) {
            if (!kr_step_comes_first((enum kr_step_id)first, (enum kr_step_id)id) ||
                (silence && (first != KR_STEP_SILENCE || !kr_step_needs_silence((enum kr_step_id)id))))
                continue;
            for (uint16_t r = 0; r < rails_of(c, kr_step(first)); r++) {
                uint16_t number = kr_step(first)->scope == KR_STEP_RAIL ? (uint16_t)(r + 1) : 0;
                if ((rail_number == 0 || number == 0 || number == rail_number) && is_gap(c, first, number, gap))
                    return true;
            }
        }
    return false;
}

/* Says why a step is not begun. What a step of this pass has brought back is walked first, in another pass, where this
 * call walks that rail. */
static void refuse(struct commission *c, size_t id, const struct gap *gap, struct pass *pass)
{
    long only_rail = pass->a->rail_number;
    bool may_walk = only_rail == 0 || gap->rail_number == 0 || gap->rail_number == only_rail;
    pass->start_over = may_walk && c->n_walked != pass->before;
    if (pass->start_over)
        commission_say("\nStep %s waits, because a step that comes before it has to be walked again: %s.",
                       kr_step(id)->name, gap->text);
    else
        commission_say("\nStep %s is not begun, because carriages may move in it that have not been tried yet: %s.",
                       kr_step(id)->name, gap->text);
}

/* Tells whether the step may be begun. A single one may be walked out of its turn, if a person says so, and then the
 * protocol says it, too. */
static bool may_begin(struct commission *c, size_t id, uint16_t rail_number, struct pass *pass,
                      struct kr_step_verdict *verdict)
{
    struct gap gap;
    bool yes = false;
    if (!find_gap(c, id, rail_number, &gap))
        return true;
    if (pass->a->only == NULL) {
        refuse(c, id, &gap, pass);
        return false;
    }
    if (!commission_ask_yes(
            c, &yes,
            "Step %s comes later in the sequence: %s. Carriages may move in it that have not been tried "
            "yet. Is step %s to be walked all the same?",
            kr_step(id)->name, gap.text, kr_step(id)->name) ||
        !yes)
        return false;
    kr_figure_add(verdict, "walked all the same", "%.120s typed yes: %.250s", c->who, gap.text);
    return true;
}

/* ---- the way, step by step -------------------------------------------------------------------------------------- */

/* Walks a step. Returns false if the pass ends here; then the program ends, too, unless the pass is to start over. */
static bool walk_step(struct commission *c, size_t id, uint16_t rail_number, struct pass *pass)
{
    static struct kr_step_verdict verdict;
    const struct arguments *a = pass->a;
    const struct kr_step *step = kr_step(id);
    bool other = a->rail_number != 0 && rail_number != 0 && rail_number != a->rail_number;
    other = other || (a->only != NULL && step != step_named(a->only));
    bool again = a->again != NULL && step == step_named(a->again) && pass->again[rail_number];
    if (other || (a->only == NULL && !is_due(c, step, rail_number, again)))
        return true;
    begin_step(c, &verdict);
    if (!may_begin(c, id, rail_number, pass, &verdict))
        return false;
    c->n_walked++;
    pass->again[rail_number] = pass->again[rail_number] && !again;
    say_heading(c, step, rail_number);
    if (!walk(c, id, (uint16_t)(rail_number > 0 ? rail_number - 1 : 0), &verdict))
        return false;
    say_verdict(&verdict);
    bool passed = kr_step_passes(&verdict), goes_on = release_pins(c);
    judge_releases(c, &verdict);
    if (passed && !kr_step_passes(&verdict))
        commission_say("NOT PASSED: a pin is not proven out.");
    c->failed = !keep_step(c, step, rail_number, &verdict) || c->failed;
    return goes_on && !c->failed && kr_step_passes(&verdict);
}

static bool walk_once(struct commission *c, struct pass *pass)
{
    pass->before = c->n_walked;
    pass->start_over = false;
    for (size_t id = 0; kr_step(id) != NULL; id++)
        for (uint16_t r = 0; r < rails_of(c, kr_step(id)); r++)
            if (!walk_step(c, id, (uint16_t)(kr_step(id)->scope == KR_STEP_RAIL ? r + 1 : 0), pass))
                return false;
    return true;
}

/* A step may change what earlier ones stand on: they are walked again, until no step is left. */
static bool walk_all(struct commission *c, const struct arguments *a)
{
    struct pass pass = {.a = a};
    for (size_t rail_number = 0; rail_number <= KR_RAILS_MAX; rail_number++)
        pass.again[rail_number] = true;
    do {
        if (!walk_once(c, &pass) && !pass.start_over)
            return false;
    } while (a->only == NULL && c->n_walked != pass.before);
    return true;
}

/* Whoever looks for the reason why outputs, direction or homing did not pass may have exchanged a wire, a sensor or the
 * drive. What was tried before that is tried again then. */
static bool ask_touched(struct commission *c, const struct arguments *a)
{
    static const enum kr_step_id steps[] = {KR_STEP_OUTPUTS, KR_STEP_DIRECTION, KR_STEP_HOME};
    for (size_t i = 0; i < 3 * (size_t)c->station->station.geometry.n_rails; i++) {
        const struct kr_step *step = kr_step(steps[i % 3]);
        uint16_t rail_number = (uint16_t)(i / 3 + 1);
        char why[160], when[32];
        bool yes;
        if (commission_record(c, step, rail_number) == NULL || commission_passed(c, step, rail_number) ||
            (a->rail_number != 0 && rail_number != a->rail_number) || (a->only != NULL && step != step_named(a->only)))
            continue;
        if (!commission_ask_yes(
                c, &yes, "Step %s of rail %u did not pass. Was wiring, a sensor or the drive touched since then?",
                step->name, rail_number))
            return false;
        if (!yes)
            continue;
        commission_time_text(when);
        snprintf(why, sizeof why, "wiring, a sensor or the drive was touched before %s, after %s had not passed", when,
                 step->name);
        if (!commission_doubt_rail(c, KR_STEP_INPUTS, rail_number, why)) {
            c->failed = true;
            return false;
        }
    }
    return true;
}

static void list(struct commission *c)
{
    char why[256];
    for (size_t id = 0; kr_step(id) != NULL; id++)
        for (uint16_t r = 0; r < rails_of(c, kr_step(id)); r++) {
            const struct kr_step *step = kr_step(id);
            uint16_t rail_number = step->scope == KR_STEP_RAIL ? (uint16_t)(r + 1) : 0;
            const json_t *record = commission_record(c, step, rail_number);
            const char *state = record == NULL                             ? "open"
                                : !commission_passed(c, step, rail_number) ? "not passed"
                                                                           : "passed";
            printf("%-12s %-30s ", step->name, step->title);
            if (rail_number > 0)
                printf("rail %u  %s", rail_number, state);
            else
                printf("        %s", state);
            if (record != NULL)
                printf(" %s", json_string_value(json_object_get(record, "when")));
            if (record != NULL && commission_doubtful(c, step, rail_number, why, sizeof why))
                printf("; doubtful: %s", why);
            printf("\n");
        }
}

/* The list needs no station. If it runs, a changed value of its book is told as well. */
static void list_all(struct commission *c, const struct arguments *a)
{
    if (open_station(c, a))
        c->book = commission_book_read(c);
    list(c);
    if (c->book == NULL)
        printf("The values of the station's book were not read: changes of these values are not shown here.\n");
    kr_client_close(&c->client);
}

static int lead(struct commission *c, const struct arguments *a)
{
    commission_catch_signals();
    printf("%s\n", kr_caution);
    commission_say("Answers are typed in and ended with Enter; \"leave\" ends the program, and the next call goes on "
                   "where it was left. Session: %s; protocol: %s.md.",
                   c->path, c->stem);
    if (!commission_ask_text(c, c->who, "Who leads the commissioning? Type the name."))
        return KR_EXIT_OK;
    c->book = commission_book_read(c);
    bool whole = c->book != NULL && ask_touched(c, a) && walk_all(c, a);
    commission_rest(c);
    if (whole)
        commission_say("\n%s has passed. The protocol is in %s.md, to be signed.",
                       a->rail_number ? "Every step of this rail" : "Every step", c->stem);
    else if (c->left && !c->failed)
        commission_say("\nThe program was left; the steps that were walked are kept in %s.", c->path);
    return whole || (c->left && !c->failed) ? KR_EXIT_OK : KR_EXIT_REFUSED;
}

static int run(struct commission *c, const struct arguments *a)
{
    if (!commission_session_open(c))
        return KR_EXIT_REFUSED;
    if (a->list) {
        list_all(c, a);
        return KR_EXIT_OK;
    }
    if (!open_station(c, a))
        return KR_EXIT_REFUSED;
    int status = lead(c, a);
    kr_client_close(&c->client);
    return status;
}

int kr_cmd_commission(int argc, char **argv)
{
    struct commission *c = &commission;
    struct arguments arguments = {.options = KR_ADDRESS_DEFAULTS};
    int answer = read_arguments(argc, argv, &arguments);
    if (answer != KR_RUN)
        return answer;
    if (!kr_read_config(arguments.config, &c->config) || !find_station(c, &arguments))
        return KR_EXIT_REFUSED;
    c->rehearsal = arguments.rehearsal;
    c->simulator = arguments.simulator;
    if (!find_session(c, &arguments))
        return KR_EXIT_USAGE;
    int status = run(c, &arguments);
    commission_session_close(c);
    return kr_flushed(status);
}
