/* kniferail trace: what the gateway recorded around a stop, in words, as tables, as a drawing, and replayed. */
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "cli.h"
#include "trace_view.h"

const char kr_trace_help[] =
    "Shows what a gateway recorded of a station, and replays it through this program's own station.\n"
    "\n"
    "  show FILE      the story in words: a line for each step of each carriage, with what it waited for, "
    "how long\n"
    "                 and against which limit; '!' marks what stopped something, and who asked for "
    "something\n"
    "  replay FILE    gives this program's station what was recorded, and compares all that it does bit for "
    "bit:\n"
    "                 the first cycle and field that differs, or that none does\n"
    "\n"
    "With show:\n"
    "  --at T             around this time alone: 14:03, 14:03:12, 2026-03-01T14:03:12\n"
    "  --around SECONDS   so long before and after it (30)\n"
    "  --rail N           of one rail\n"
    "  --format FORMAT    text; registers: CSV of every input register that changes, by replay; axes: CSV of "
    "the\n"
    "                     images exchanged with the drives, as recorded; svg: a drawing of positions over "
    "time\n"
    "\n"
    "Times are UTC. A trace can be shown and replayed by a program whose station lies in memory as that of "
    "the\n"
    "gateway did: of the same version, or of one in which nothing of it moved. A checksum finds damage; it "
    "does not\n"
    "protect from a file that was made to deceive: replay traces of your own gateways.\n"
    "\n"
    "Exit status: 0, 1 the trace can't be read, is damaged, or the replay differs, 2 wrong usage.\n";

enum format { TEXT, REGISTERS, AXES, SVG, N_FORMATS };
static const struct {
    const char *name;
    bool (*print)(const struct trace_view *view);
} formats[N_FORMATS] = {{"text", trace_print_story},
                        {"registers", trace_print_registers},
                        {"axes", trace_print_axes},
                        {"svg", trace_print_svg}};

struct arguments {
    const char *what, *file, *at, *around, *rail, *format;
};

static int refused(const char *what, const char *why)
{
    fprintf(stderr, "kniferail trace: %s: %s\n", what, why);
    return KR_EXIT_REFUSED;
}

/* ---- a time ---------------------------------------------------------------------------------------------------- */

/* Days since 1970-01-01 of a date of the Gregorian calendar. */
static int64_t days_of(int year, int month, int day)
{
    static const int before[] = {0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334};
    int64_t y = month > 2 ? year : year - 1;
    return 365LL * (year - 1970) + (y / 4 - y / 100 + y / 400) - 477 + before[month - 1] + day - 1;
}

struct moment {
    bool has_day;
    int64_t day, ms; /* since 1970; of that day */
};

static bool read_moment(const char *text, struct moment *moment)
{
    int year = 0, month = 1, day = 1, hour, minute, n = 0, m = 0;
    double second = 0;
    moment->has_day = sscanf(text, "%4d-%2d-%2dT%n", &year, &month, &day, &n) == 3 && n > 0;
    text += moment->has_day ? n : 0;
    if (sscanf(text, "%2d:%2d%n", &hour, &minute, &m) != 2)
        return false;
    text += m;
    if (*text == ':' && (sscanf(text, ":%6lf%n", &second, &m) != 1))
        return false;
    text += *text == ':' ? m : 0;
    if ((*text != 0 && strcmp(text, "Z") != 0) || month < 1 || month > 12 || day < 1 || day > 31 ||
        hour < 0 || hour > 23 || minute < 0 || minute > 59 || !(second >= 0 && second < 60))
        return false;
    moment->day = days_of(year, month, day);
    moment->ms = ((hour * 60LL + minute) * 60) * 1000 + (int64_t)(second * 1000);
    return true;
}

/* A time of day alone is of the first day of the trace on which it lies within it. */
static int64_t utc_ms_of(const struct moment *moment, const struct kr_trace_head *head, int64_t around_ms)
{
    const int64_t day_ms = 86400000;
    if (moment->has_day)
        return moment->day * day_ms + moment->ms;
    int64_t at_ms = head->first_utc_ms / day_ms * day_ms + moment->ms;
    return at_ms + around_ms < head->first_utc_ms ? at_ms + day_ms : at_ms;
}

static int take_times(const struct arguments *a, struct trace_view *view)
{
    const struct kr_trace_head *head = kr_trace_head(view->trace);
    struct moment moment;
    long seconds = 30;
    view->from_utc_ms = head->first_utc_ms;
    view->to_utc_ms = head->last_utc_ms;
    if (a->around && a->at == NULL)
        return kr_usage("trace", "--around needs --at");
    if (a->around && !kr_number("trace", "--around", a->around, 0, 86400, &seconds))
        return KR_EXIT_USAGE;
    if (a->at == NULL)
        return KR_RUN;
    if (!read_moment(a->at, &moment))
        return kr_usage("trace", "--at: '%s' is no time; as 14:03:12 or 2026-03-01T14:03", a->at);
    int64_t at_ms = utc_ms_of(&moment, head, seconds * 1000);
    if (at_ms + seconds * 1000 < head->first_utc_ms || at_ms - seconds * 1000 > head->last_utc_ms)
        return refused(a->at, "it lies outside the trace");
    view->from_utc_ms =
        at_ms - seconds * 1000 > view->from_utc_ms ? at_ms - seconds * 1000 : view->from_utc_ms;
    view->to_utc_ms = at_ms + seconds * 1000 < view->to_utc_ms ? at_ms + seconds * 1000 : view->to_utc_ms;
    return KR_RUN;
}

/* ---- show ------------------------------------------------------------------------------------------------------ */

static int take_format(const char *text, int *format)
{
    for (int i = 0; text && i < N_FORMATS; i++)
        if (strcmp(text, formats[i].name) == 0) {
            *format = i;
            return KR_RUN;
        }
    return text ? kr_usage("trace", "--format: unknown '%s'", text) : KR_RUN;
}

static int take_rail(const struct arguments *a, struct trace_view *view)
{
    long rail = 0;
    if (a->rail && !kr_number("trace", "--rail", a->rail, 1, kr_trace_head(view->trace)->n_rails, &rail))
        return KR_EXIT_USAGE;
    view->rail = (uint16_t)rail;
    return KR_RUN;
}

static int show(const struct arguments *a)
{
    char error[KR_TRACE_TEXT_MAX * 2];
    int format = TEXT, status = take_format(a->format, &format);
    if (status != KR_RUN)
        return status;
    struct kr_trace *trace = kr_trace_open(a->file, error, sizeof error);
    if (trace == NULL) {
        fprintf(stderr, "kniferail trace: %s\n", error);
        return KR_EXIT_REFUSED;
    }
    struct trace_view view = {.trace = trace, .error = error, .error_size = sizeof error};
    status = take_times(a, &view);
    if (status == KR_RUN)
        status = take_rail(a, &view);
    if (status == KR_RUN)
        status = formats[format].print(&view) ? KR_EXIT_OK : refused(a->file, error);
    kr_trace_close(trace);
    return kr_flushed(status);
}

/* ---- replay ---------------------------------------------------------------------------------------------------- */

static int tell_replay(const struct kr_trace_result *r)
{
    char time[TRACE_TIME_MAX];
    if (!r->parted) {
        printf("%llu cycles replayed bit for bit, %llu checkpoints compared as a whole\n",
               (unsigned long long)r->cycles, (unsigned long long)r->checkpoints);
        return KR_EXIT_OK;
    }
    printf("the replay differs first in cycle %llu, %s: %s, field %s: %s was recorded, %s comes of it here\n",
           (unsigned long long)r->cycle, trace_time(r->utc_ms, time), r->of, r->field, r->recorded,
           r->replayed);
    return KR_EXIT_REFUSED;
}

static int replay(const struct arguments *a)
{
    char error[KR_TRACE_TEXT_MAX * 2];
    struct kr_trace_result result;
    struct kr_trace *trace = kr_trace_open(a->file, error, sizeof error);
    if (trace == NULL) {
        fprintf(stderr, "kniferail trace: %s\n", error);
        return KR_EXIT_REFUSED;
    }
    bool done = kr_trace_replay(trace, (struct kr_trace_witness){NULL, NULL}, &result, error, sizeof error);
    kr_trace_close(trace);
    return kr_flushed(done ? tell_replay(&result) : refused(a->file, error));
}

/* ---- the command line ------------------------------------------------------------------------------------------ */

static int take_arguments(int argc, char **argv, struct arguments *a)
{
    const struct kr_option options[] = {{"at", &a->at, NULL},
                                        {"around", &a->around, NULL},
                                        {"rail", &a->rail, NULL},
                                        {"format", &a->format, NULL}};
    int first, answer = kr_read_options(argc, argv, options, sizeof options / sizeof options[0], &first);
    if (answer != KR_RUN)
        return answer;
    if (argc == first)
        return kr_usage("trace", "show or replay what?");
    a->what = argv[first];
    if (strcmp(a->what, "show") != 0 && strcmp(a->what, "replay") != 0)
        return kr_usage("trace", "unknown: '%s'", a->what);
    if (argc - first != 2)
        return kr_usage("trace", "'%s' takes one file", a->what);
    a->file = argv[first + 1];
    bool shows = strcmp(a->what, "show") == 0;
    if (!shows && (a->at || a->around || a->rail || a->format))
        return kr_usage("trace", "'%s' takes the whole trace, and no option", a->what);
    return KR_RUN;
}

int kr_cmd_trace(int argc, char **argv)
{
    struct arguments arguments = {0};
    int answer = take_arguments(argc, argv, &arguments);
    if (answer != KR_RUN)
        return answer;
    return strcmp(arguments.what, "show") == 0 ? show(&arguments) : replay(&arguments);
}
