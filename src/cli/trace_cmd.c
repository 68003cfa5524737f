/* kniferail trace: shows what the gateway has recorded around a stop, as text, tables or a drawing, and replays it. */
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "cli.h"
#include "progress.h"
#include "trace_view.h"

enum format { TEXT, REGISTERS, AXES, SVG, N_FORMATS };
static const struct {
    const char *name;
    bool (*print)(const struct trace_view *view);
} formats[N_FORMATS] = {{"text", trace_print_story},
                        {"registers", trace_print_registers},
                        {"axes", trace_print_axes},
                        {"svg", trace_print_svg}};

struct arguments {
    const char *file, *at, *around, *rail, *format;
};

static int refused(const char *what, const char *why)
{
    fprintf(stderr, "kniferail trace: %s: %s\n", what, why);
    return KR_EXIT_REFUSED;
}

/* ---- a time ---------------------------------------------------------------------------------------------------- */

/* Returns the days from 1970-01-01 to a date of the Gregorian calendar. */
static int64_t days_of(int year, int month, int day)
{
    static const int before[] = {0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334};
    int64_t y = month > 2 ? year : year - 1;
    return 365LL * (year - 1970) + (y / 4 - y / 100 + y / 400) - 477 + before[month - 1] + day - 1;
}

struct moment {
    bool has_day;
    int64_t day, ms; /* day: since 1970; ms: of that day */
};

static bool take_digits(const char **text, int most, int *value)
{
    int n = 0;
    for (*value = 0; n < most && **text >= '0' && **text <= '9'; n++)
        *value = *value * 10 + (*(*text)++ - '0');
    return n > 0;
}

static bool take_mark(const char **text, char mark)
{
    bool is = **text == mark;
    *text += is;
    return is;
}

/* Also true if there is no day, unless one has begun. */
static bool take_day(const char **text, struct moment *moment)
{
    const char *at = *text;
    int year = 0, month = 0, day = 0;
    moment->has_day = take_digits(&at, 4, &year) && take_mark(&at, '-');
    if (!moment->has_day)
        return true;
    if (!take_digits(&at, 2, &month) || !take_mark(&at, '-') || !take_digits(&at, 2, &day) || !take_mark(&at, 'T') ||
        month < 1 || month > 12 || day < 1 || day > 31)
        return false;
    moment->day = days_of(year, month, day);
    *text = at;
    return true;
}

/* Reads seconds, with up to three digits after the point, or none. */
static bool take_seconds(const char **text, int64_t *ms)
{
    int second = 0, part = 0;
    *ms = 0;
    if (!take_mark(text, ':'))
        return true;
    if (!take_digits(text, 2, &second) || second > 59)
        return false;
    if (take_mark(text, '.'))
        for (int worth = 100; worth > 0 && **text >= '0' && **text <= '9'; worth /= 10)
            part += worth * (*(*text)++ - '0');
    *ms = second * INT64_C(1000) + part;
    return true;
}

static bool read_moment(const char *text, struct moment *moment)
{
    int hour = 0, minute = 0;
    int64_t ms;
    if (!take_day(&text, moment) || !take_digits(&text, 2, &hour) || !take_mark(&text, ':') ||
        !take_digits(&text, 2, &minute) || !take_seconds(&text, &ms) || hour > 23 || minute > 59)
        return false;
    moment->ms = (hour * INT64_C(60) + minute) * 60 * 1000 + ms;
    return *text == 0 || strcmp(text, "Z") == 0;
}

/* A time without a day belongs to the first day of the trace that contains it. */
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
    struct moment moment = {0};
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
        return kr_usage("trace", "--at: '%s' is not a time; write it as 14:03:12 or 2026-03-01T14:03", a->at);
    int64_t at_ms = utc_ms_of(&moment, head, seconds * 1000);
    if (at_ms + seconds * 1000 < head->first_utc_ms || at_ms - seconds * 1000 > head->last_utc_ms)
        return refused(a->at, "this time is outside of the trace");
    view->from_utc_ms = at_ms - seconds * 1000 > view->from_utc_ms ? at_ms - seconds * 1000 : view->from_utc_ms;
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
    return text ? kr_usage("trace", "--format: '%s' is unknown", text) : KR_RUN;
}

static int take_rail(const struct arguments *a, struct trace_view *view)
{
    long rail = 0;
    if (a->rail && !kr_number("trace", "--rail", a->rail, 1, kr_trace_head(view->trace)->n_rails, &rail))
        return KR_EXIT_USAGE;
    view->rail = (uint16_t)rail;
    return KR_RUN;
}

static int show_file(const struct arguments *a, int format)
{
    char error[KR_TRACE_TEXT_MAX * 2];
    struct kr_trace *trace = kr_trace_open(a->file, error, sizeof error);
    if (trace == NULL) {
        fprintf(stderr, "kniferail trace: %s\n", error);
        return KR_EXIT_REFUSED;
    }
    struct trace_view view = {.trace = trace, .error = error, .error_size = sizeof error};
    int status = take_times(a, &view);
    if (status == KR_RUN)
        status = take_rail(a, &view);
    if (status == KR_RUN)
        status = formats[format].print(&view) ? KR_EXIT_OK : refused(a->file, error);
    kr_trace_close(trace);
    return kr_flushed(status);
}

static int take_file(int argc, char **argv, int first, const char **file)
{
    if (argc - first != 1)
        return kr_usage("trace", "exactly one file is needed");
    *file = argv[first];
    return KR_RUN;
}

static int show(int argc, char **argv)
{
    struct arguments a = {0};
    const struct kr_option options[] = {
        {"at", &a.at, NULL}, {"around", &a.around, NULL}, {"rail", &a.rail, NULL}, {"format", &a.format, NULL}};
    int first, format = TEXT;
    int answer = kr_read_options(argc, argv, options, sizeof options / sizeof options[0], &first);
    if (answer == KR_RUN)
        answer = take_file(argc, argv, first, &a.file);
    if (answer == KR_RUN)
        answer = take_format(a.format, &format);
    return answer == KR_RUN ? show_file(&a, format) : answer;
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
    printf("the replay differs first in cycle %llu, %s: %s, field %s: %s was recorded, the replay gives %s\n",
           (unsigned long long)r->cycle, trace_time(r->utc_ms, time), r->of, r->field, r->recorded, r->replayed);
    return KR_EXIT_REFUSED;
}

static void count_cycle(void *arg, const struct kr_trace_frame *frame, const struct kr_station *station)
{
    uint64_t *cycles = arg;
    (void)frame;
    (void)station;
    if (++*cycles % 100 == 0)
        kr_progress_step(*cycles, "cycles");
}

static int replay(int argc, char **argv)
{
    char error[KR_TRACE_TEXT_MAX * 2];
    const char *file = NULL;
    struct kr_trace_result result;
    int first, answer = kr_read_options(argc, argv, NULL, 0, &first);
    if (answer == KR_RUN)
        answer = take_file(argc, argv, first, &file);
    if (answer != KR_RUN)
        return answer;
    struct kr_trace *trace = kr_trace_open(file, error, sizeof error);
    if (trace == NULL) {
        fprintf(stderr, "kniferail trace: %s\n", error);
        return KR_EXIT_REFUSED;
    }
    uint64_t cycles = 0;
    kr_progress_begin("trace", "replaying");
    bool done = kr_trace_replay(trace, (struct kr_trace_witness){count_cycle, &cycles}, &result, error, sizeof error);
    kr_progress_hide();
    kr_trace_close(trace);
    return kr_flushed(done ? tell_replay(&result) : refused(file, error));
}

/* ---- the words ------------------------------------------------------------------------------------------------- */

/* Each subcommand gets "trace" as argv[0], and the arguments after its word. */
static const struct {
    const char *name;
    int (*run)(int argc, char **argv);
} words[] = {{"list", trace_list}, {"save", trace_save}, {"show", show}, {"replay", replay}};

int kr_cmd_trace(int argc, char **argv)
{
    int first, answer = argc > 1 && argv[1][0] == '-' ? kr_read_options(argc, argv, NULL, 0, &first) : KR_RUN;
    if (answer != KR_RUN)
        return answer;
    if (argc < 2)
        return kr_usage("trace", "the first argument has to be list, save, show or replay");
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strcmp(argv[1], words[i].name) == 0) {
            argv[1] = argv[0];
            return words[i].run(argc - 1, argv + 1);
        }
    return kr_usage("trace", "'%s' is unknown", argv[1]);
}
