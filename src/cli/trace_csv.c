/* Prints a trace as CSV: the registers that change, which a replay computes, and the recorded images of the axes. */
#include <stdio.h>
#include <string.h>

#include "csv.h"
#include "kniferail/client.h"
#include "kniferail/layout.h"
#include "trace_view.h"

/* ---- registers ------------------------------------------------------------------------------------------------- */

struct registers {
    const struct trace_view *view;
    struct csv_writer csv;
    bool has_before;
    struct kr_image before, now;
};

static int64_t value_of(const struct kr_image *image, enum kr_reg reg, uint16_t rail, uint16_t index)
{
    if (kr_reg_words(kr_reg_info(reg)->type) == 2)
        return kr_get_i32(image, reg, rail, index);
    return image->word[kr_reg_address(reg, rail, index)];
}

static void print_element(struct registers *r, const struct kr_trace_frame *frame, enum kr_reg reg, uint16_t rail,
                          uint16_t index)
{
    const struct kr_reg_info *info = kr_reg_info(reg);
    char time[TRACE_TIME_MAX];
    csv_put(&r->csv, trace_time(frame->utc_ms, time));
    csv_put_format(&r->csv, "%llu", (unsigned long long)frame->cycle);
    csv_put(&r->csv, info->name);
    csv_put_format(&r->csv, "%u", info->per_rail ? rail + 1u : 0u);
    csv_put_format(&r->csv, "%u", index);
    csv_put_format(&r->csv, "%u", kr_reg_address(reg, rail, index));
    csv_put_format(&r->csv, "%lld", (long long)value_of(&r->now, reg, rail, index));
    csv_end_record(&r->csv);
}

static void print_register(struct registers *r, const struct kr_trace_frame *frame, enum kr_reg reg, uint16_t rail)
{
    const struct kr_reg_info *info = kr_reg_info(reg);
    uint16_t first = kr_reg_address(reg, rail, 0), words = kr_reg_words(info->type);
    size_t bytes = (size_t)info->n * words * sizeof r->now.word[0];
    if (r->has_before && memcmp(&r->now.word[first], &r->before.word[first], bytes) == 0)
        return;
    for (uint16_t i = 0; i < info->n; i++) {
        uint16_t at = kr_reg_address(reg, rail, i);
        if (!r->has_before || memcmp(&r->now.word[at], &r->before.word[at], words * sizeof r->now.word[0]) != 0)
            print_element(r, frame, reg, rail, i);
    }
}

static void see_registers(void *arg, const struct kr_trace_frame *frame, const struct kr_station *station)
{
    struct registers *r = arg;
    const struct trace_view *view = r->view;
    if (frame->utc_ms < view->from_utc_ms || frame->utc_ms > view->to_utc_ms)
        return;
    kr_station_image(station, &r->now);
    for (enum kr_reg reg = KR_REG_NONE + 1; reg < KR_REG_COUNT; reg++) {
        const struct kr_reg_info *info = kr_reg_info(reg);
        uint16_t rails = info->per_rail ? kr_trace_head(view->trace)->n_rails : 1;
        for (uint16_t rail = 0; info->area == KR_AREA_INPUT && rail < rails; rail++)
            if (!info->per_rail || view->rail == 0 || view->rail == rail + 1)
                print_register(r, frame, reg, rail);
    }
    r->before = r->now;
    r->has_before = true;
}

static void print_names(struct csv_writer *csv, const char *const names[], size_t n)
{
    for (size_t i = 0; i < n; i++)
        csv_put(csv, names[i]);
}

void trace_tell_parting(const struct kr_trace_result *result)
{
    char time[TRACE_TIME_MAX];
    if (result->parted)
        fprintf(stderr,
                "kniferail trace: from %s on (cycle %llu) this build's station behaves differently from the recording; "
                "'kniferail trace replay' tells how\n",
                trace_time(result->utc_ms, time), (unsigned long long)result->cycle);
}

bool trace_print_registers(const struct trace_view *view)
{
    static const char *const names[] = {"time", "cycle", "register", "rail", "index", "address", "value"};
    static struct registers registers; /* static, because it is large */
    struct kr_trace_result result;
    registers = (struct registers){.view = view, .csv = {.to = stdout}};
    print_names(&registers.csv, names, sizeof names / sizeof names[0]);
    csv_end_record(&registers.csv);
    if (!kr_trace_replay(view->trace, (struct kr_trace_witness){see_registers, &registers}, &result, view->error,
                         view->error_size))
        return false;
    trace_tell_parting(&result);
    return true;
}

/* ---- axes ------------------------------------------------------------------------------------------------------ */

/* Prints a struct of an axis, whose fields are the columns. */
struct columns {
    struct csv_writer *csv;
    const char *prefix;
    const void *of; /* NULL: the names are printed */
};

static void put_field(void *arg, const struct kr_field *field)
{
    const struct columns *columns = arg;
    char text[32];
    if (columns->of == NULL) {
        csv_put_format(columns->csv, "%s%s", columns->prefix, field->name);
        return;
    }
    kr_field_text(field, columns->of, text, sizeof text);
    csv_put(columns->csv, text);
}

static void put_axis(struct csv_writer *csv, const struct kr_axis_in *in, const struct kr_axis_out *out)
{
    struct columns columns = {csv, "in.", in};
    kr_layout_each(KR_LAYOUT_AXIS_IN, put_field, &columns);
    columns = (struct columns){csv, "out.", out};
    kr_layout_each(KR_LAYOUT_AXIS_OUT, put_field, &columns);
    csv_end_record(csv);
}

static void put_cycle(struct csv_writer *csv, const struct trace_view *view, const struct kr_trace_frame *frame)
{
    char time[TRACE_TIME_MAX];
    if (frame->utc_ms < view->from_utc_ms || frame->utc_ms > view->to_utc_ms)
        return;
    for (uint16_t r = 0; r < kr_trace_head(view->trace)->n_rails; r++) {
        if (view->rail != 0 && view->rail != r + 1)
            continue;
        csv_put(csv, trace_time(frame->utc_ms, time));
        csv_put_format(csv, "%llu", (unsigned long long)frame->cycle);
        csv_put_format(csv, "%u", r + 1u);
        put_axis(csv, &frame->in->axis[r], &frame->out->axis[r]);
    }
}

bool trace_print_axes(const struct trace_view *view)
{
    static const char *const names[] = {"time", "cycle", "rail"};
    struct csv_writer csv = {.to = stdout};
    struct kr_trace_frame frame;
    enum kr_trace_next next;
    struct kr_trace_cursor *cursor = kr_trace_begin(view->trace, view->error, view->error_size);
    if (cursor == NULL)
        return false;
    print_names(&csv, names, sizeof names / sizeof names[0]);
    put_axis(&csv, NULL, NULL);
    while ((next = kr_trace_next(cursor, &frame)) == KR_TRACE_FRAME)
        put_cycle(&csv, view, &frame);
    kr_trace_end(cursor);
    if (next == KR_TRACE_DAMAGED)
        snprintf(view->error, view->error_size, "a record is damaged");
    return next == KR_TRACE_OVER;
}
