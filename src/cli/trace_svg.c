/* Draws a trace: for each rail, the places of its carriage and its holders over time, and the alarms. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "trace_view.h"

#define WIDTH  1200 /* of the part that shows time, in pixels */
#define HEIGHT 260  /* of one rail's part */
#define LEFT   90
#define TOP    60
#define GAP    50
#define MARKS  200 /* alarms at most: what is beyond is in the story */

/* Each column of pixels shows the newest sample within it. */
struct column {
    bool seen, linked;
    int32_t carriage_um;
    bool docked;
    int32_t holder_um[KR_HOLDERS_MAX];
};

struct drawing {
    const struct trace_view *view;
    struct column column[KR_RAILS_MAX][WIDTH];
    int32_t low_um[KR_RAILS_MAX], high_um[KR_RAILS_MAX];
    bool any[KR_RAILS_MAX];
    uint16_t n_marks;
    struct {
        int x;
        uint16_t code;
    } mark[MARKS];
    struct kr_station_steps before;
};

/* ---- gathering ------------------------------------------------------------------------------------------------- */

static int x_of(const struct trace_view *view, int64_t utc_ms)
{
    int64_t span_ms = view->to_utc_ms - view->from_utc_ms;
    int64_t x = span_ms > 0 ? (utc_ms - view->from_utc_ms) * (WIDTH - 1) / span_ms : 0;
    return (int)x;
}

static void reach(struct drawing *d, uint16_t rail, int32_t at_um)
{
    if (!d->any[rail] || at_um < d->low_um[rail])
        d->low_um[rail] = at_um;
    if (!d->any[rail] || at_um > d->high_um[rail])
        d->high_um[rail] = at_um;
    d->any[rail] = true;
}

static void see_rail(struct drawing *d, uint16_t rail, int x, const struct kr_trace_frame *frame,
                     const struct kr_durable *durable)
{
    struct column *column = &d->column[rail][x];
    const struct kr_axis_in *axis = &frame->in->axis[rail];
    column->seen = true;
    column->linked = axis->link;
    column->carriage_um = axis->position_um;
    column->docked = (frame->out->axis[rail].outputs & KR_DO_PIN_IN) != 0;
    if (axis->link)
        reach(d, rail, axis->position_um);
    for (uint16_t h = 0; h < kr_trace_head(d->view->trace)->n_holders[rail]; h++) {
        column->holder_um[h] = durable->holder[rail][h].position_um;
        if (durable->holder[rail][h].state != KR_HOLDER_ABSENT)
            reach(d, rail, column->holder_um[h]);
    }
}

static bool stood(const struct kr_station_steps *steps, const struct kr_alarm *alarm)
{
    for (uint16_t i = 0; i < steps->n_alarms; i++)
        if (steps->alarm[i].code == alarm->code && steps->alarm[i].rail == alarm->rail)
            return true;
    return false;
}

static void see_alarms(struct drawing *d, int x, const struct kr_station_steps *steps)
{
    for (uint16_t i = 0; i < steps->n_alarms && d->n_marks < MARKS; i++)
        if (!stood(&d->before, &steps->alarm[i])) {
            d->mark[d->n_marks].x = x;
            d->mark[d->n_marks++].code = steps->alarm[i].code;
        }
    d->before = *steps;
}

static void see(void *arg, const struct kr_trace_frame *frame, const struct kr_station *station)
{
    struct drawing *d = arg;
    const struct trace_view *view = d->view;
    if (frame->utc_ms < view->from_utc_ms || frame->utc_ms > view->to_utc_ms)
        return;
    int x = x_of(view, frame->utc_ms);
    for (uint16_t r = 0; r < kr_trace_head(view->trace)->n_rails; r++)
        see_rail(d, r, x, frame, kr_station_durable(station));
    see_alarms(d, x, frame->steps);
}

/* ---- drawing --------------------------------------------------------------------------------------------------- */

static double y_of(const struct drawing *d, uint16_t rail, int32_t at_um)
{
    double span_um = (double)d->high_um[rail] - d->low_um[rail];
    double part = span_um > 0 ? ((double)at_um - d->low_um[rail]) / span_um : 0.5;
    return HEIGHT - part * HEIGHT;
}

/* Draws one line from left to right, with gaps where the place is not known. holder: its index; -1: the carriage. */
static void print_path(const struct drawing *d, uint16_t rail, int holder, bool docked_only, const char *style)
{
    bool drawn = false;
    printf("<path %s d=\"", style);
    for (int x = 0; x < WIDTH; x++) {
        const struct column *c = &d->column[rail][x];
        if (!c->seen)
            continue;
        if (holder < 0 && (!c->linked || (docked_only && !c->docked))) {
            drawn = false;
            continue;
        }
        printf("%s%d %.1f", drawn ? "L" : "M", x, y_of(d, rail, holder < 0 ? c->carriage_um : c->holder_um[holder]));
        drawn = true;
    }
    printf("\"/>\n");
}

static void print_scale(const struct drawing *d, uint16_t rail, enum kr_length_unit unit)
{
    char text[32];
    for (int i = 0; i <= 4; i++) {
        double at_um = d->low_um[rail] + ((double)d->high_um[rail] - d->low_um[rail]) * i / 4;
        double y = HEIGHT - HEIGHT * i / 4.0;
        kr_length_text((int32_t)at_um, unit, text, sizeof text);
        printf("<line x1=\"0\" x2=\"%d\" y1=\"%.1f\" y2=\"%.1f\" class=\"g\"/><text x=\"-6\" y=\"%.1f\" "
               "text-anchor=\"end\">%s</text>\n",
               WIDTH, y, y, y + 4, text);
    }
}

static void print_rail(const struct drawing *d, uint16_t rail, int top)
{
    const struct kr_trace_head *head = kr_trace_head(d->view->trace);
    printf("<g transform=\"translate(%d %d)\">\n<text x=\"0\" y=\"-8\">rail %u</text>\n", LEFT, top, rail + 1u);
    print_scale(d, rail, (enum kr_length_unit)head->length_unit);
    for (uint16_t h = 0; h < head->n_holders[rail]; h++)
        print_path(d, rail, h, false, "class=\"h\"");
    print_path(d, rail, -1, false, "class=\"c\"");
    print_path(d, rail, -1, true, "class=\"d\"");
    for (uint16_t i = 0; i < d->n_marks; i++)
        printf("<line x1=\"%d\" x2=\"%d\" y1=\"0\" y2=\"%d\" class=\"a\"/><text x=\"%d\" y=\"12\">%u</text>\n",
               d->mark[i].x, d->mark[i].x, HEIGHT, d->mark[i].x + 3, d->mark[i].code);
    printf("</g>\n");
}

/* A name comes from a station file, and may contain characters that have a meaning in a drawing. */
static void print_escaped(const char *text)
{
    for (; *text != 0; text++)
        if (*text == '&' || *text == '<' || *text == '>')
            printf("&#%d;", *text);
        else
            putchar(*text);
}

static void print_drawing(const struct drawing *d)
{
    const struct kr_trace_head *head = kr_trace_head(d->view->trace);
    char from[TRACE_TIME_MAX], to[TRACE_TIME_MAX];
    int height = TOP + head->n_rails * (HEIGHT + GAP);
    printf("<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%d\" height=\"%d\" font-family=\"sans-serif\" "
           "font-size=\"11\">\n<style>path{fill:none}.h{stroke:#999}.c{stroke:#06c}.d{stroke:#06c;stroke-width:3}.g{"
           "stroke:#ddd}.a{stroke:#c00}</style>\n<rect width=\"100%%\" height=\"100%%\" fill=\"#fff\"/>\n<text "
           "x=\"%d\" y=\"20\">station ",
           LEFT + WIDTH + 20, height, LEFT);
    print_escaped(head->station);
    printf(", %s to %s; blue: the carriage, thick while the pin is driven in; grey: holders; red: an alarm's "
           "code</text>\n",
           trace_time(d->view->from_utc_ms, from), trace_time(d->view->to_utc_ms, to));
    for (uint16_t r = 0; r < head->n_rails; r++)
        if (d->any[r] && (d->view->rail == 0 || d->view->rail == r + 1))
            print_rail(d, r, TOP + r * (HEIGHT + GAP));
    printf("</svg>\n");
}

bool trace_print_svg(const struct trace_view *view)
{
    struct kr_trace_result result;
    struct drawing *drawing = calloc(1, sizeof *drawing);
    if (drawing == NULL) {
        snprintf(view->error, view->error_size, "out of memory");
        return false;
    }
    drawing->view = view;
    bool good =
        kr_trace_replay(view->trace, (struct kr_trace_witness){see, drawing}, &result, view->error, view->error_size);
    if (good) {
        trace_tell_parting(&result);
        print_drawing(drawing);
    }
    free(drawing);
    return good;
}
