/* The story of a trace in words. */
#include <stdio.h>
#include <time.h>

#include "trace_view.h"

const char *trace_time(int64_t utc_ms, char text[TRACE_TIME_MAX])
{
    time_t seconds = (time_t)(utc_ms / 1000);
    struct tm utc;
    char day[24];
    gmtime_r(&seconds, &utc);
    strftime(day, sizeof day, "%Y-%m-%dT%H:%M:%S", &utc);
    snprintf(text, TRACE_TIME_MAX, "%s.%03dZ", day, (int)(utc_ms % 1000));
    return text;
}

static bool in_view(const struct trace_view *view, int64_t utc_ms, uint16_t rail)
{
    return utc_ms >= view->from_utc_ms && utc_ms <= view->to_utc_ms &&
           (view->rail == 0 || rail == 0 || rail == view->rail);
}

static void print_line(void *arg, int64_t utc_ms, uint16_t rail, bool important, const char *line)
{
    const struct trace_view *view = arg;
    char time[TRACE_TIME_MAX], of[16] = "      ";
    if (!in_view(view, utc_ms, rail))
        return;
    if (rail != 0)
        snprintf(of, sizeof of, "rail %u", rail);
    printf("%s %s %s %s\n", trace_time(utc_ms, time), important ? "!" : " ", of, line);
}

static void print_head(const struct kr_trace_head *head)
{
    char from[TRACE_TIME_MAX], to[TRACE_TIME_MAX];
    printf("station %s, %s to %s, %u cycles\n", head->station, trace_time(head->first_utc_ms, from),
           trace_time(head->last_utc_ms, to), (unsigned)head->cycles);
    printf("kept because: %s\n", head->reason);
    printf("recorded by version %s\n\n", head->program);
}

bool trace_print_story(const struct trace_view *view)
{
    const struct kr_trace_head *head = kr_trace_head(view->trace);
    struct kr_story story;
    struct kr_trace_frame frame;
    struct trace_view of_lines = *view;
    enum kr_trace_next next;
    struct kr_trace_cursor *cursor = kr_trace_begin(view->trace, view->error, view->error_size);
    if (cursor == NULL)
        return false;
    print_head(head);
    kr_story_begin(&story, head->n_rails, (enum kr_length_unit)head->length_unit,
                   (struct kr_story_teller){print_line, &of_lines});
    while ((next = kr_trace_next(cursor, &frame)) == KR_TRACE_FRAME)
        kr_story_cycle(&story, frame.utc_ms, frame.in, frame.steps);
    kr_story_end(&story);
    kr_trace_end(cursor);
    if (next == KR_TRACE_DAMAGED)
        snprintf(view->error, view->error_size, "a record is damaged");
    return next == KR_TRACE_OVER;
}
