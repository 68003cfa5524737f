#include "report_data.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int64_t number_of(const struct kr_history_row *row, const char *name)
{
    for (int i = 0; i < row->n; i++)
        if (strcmp(row->name[i], name) == 0)
            return row->cell[i].kind == KR_CELL_REAL ? (int64_t)row->cell[i].real : row->cell[i].number;
    return 0;
}

static double real_of(const struct kr_history_row *row, const char *name)
{
    for (int i = 0; i < row->n; i++)
        if (strcmp(row->name[i], name) == 0)
            return row->cell[i].kind == KR_CELL_REAL ? row->cell[i].real : (double)row->cell[i].number;
    return 0;
}

/* Makes room for one more entry. Returns its place, or NULL and sets `failed`. */
static void *grown(struct report_data *data, void *array, size_t n, int which, size_t size)
{
    size_t *room = &data->room[which];
    if (n < *room)
        return array;
    size_t more = *room ? 2 * *room : 256;
    void *larger = realloc(array, more * size);
    if (larger == NULL)
        data->failed = true;
    else
        *room = more;
    return larger;
}

#define GROW(data, array, n, which) \
    do { \
        void *larger = grown((data), (data)->array, (n), (which), sizeof(data)->array[0]); \
        if (larger == NULL) \
            return false; \
        (data)->array = larger; \
    } while (0)

static bool add_changeover(void *arg, const struct kr_history_row *row)
{
    struct report_data *data = arg;
    if (row->is_heading)
        return true;
    GROW(data, changeover, data->n_changeovers, 0);
    GROW(data, ended_at, data->n_changeovers, 1);
    struct kr_report_changeover *c = &data->changeover[data->n_changeovers];
    *c = (struct kr_report_changeover){.ended_ms = number_of(row, "ended_ms"),
                                       .outcome = (uint16_t)number_of(row, "outcome"),
                                       .planned_ms = (int32_t)number_of(row, "planned_ms"),
                                       .actual_ms = (int32_t)number_of(row, "actual_ms"),
                                       .total_ms = (int32_t)number_of(row, "total_ms")};
#define X(name, word, text) c->spent_ms[KR_SPENT_##name] = (int32_t)number_of(row, #word "_ms");
    KR_SPENT(X)
#undef X
    for (int i = 0; i < KR_N_SPENT; i++)
        c->is_told = c->is_told || c->spent_ms[i] != 0;
    strncpy(data->ended_at[data->n_changeovers], row->cell[0].text, KR_BOOK_TIME_MAX - 1);
    data->ended_at[data->n_changeovers++][KR_BOOK_TIME_MAX - 1] = '\0';
    return true;
}

static bool add_alarm(void *arg, const struct kr_history_row *row)
{
    struct report_data *data = arg;
    if (row->is_heading)
        return true;
    GROW(data, alarm, data->n_alarms, 2);
    data->alarm[data->n_alarms++] = (struct kr_report_alarm){.at_ms = number_of(row, "at_ms"),
                                                             .raised = number_of(row, "raised") != 0,
                                                             .code = (uint16_t)number_of(row, "code"),
                                                             .rail = (uint16_t)number_of(row, "rail"),
                                                             .item = (uint16_t)number_of(row, "item")};
    return true;
}

static bool add_error(void *arg, const struct kr_history_row *row)
{
    struct report_data *data = arg;
    if (row->is_heading)
        return true;
    GROW(data, error, data->n_errors, 3);
    data->error[data->n_errors++] = (struct report_error){.rail = (uint16_t)number_of(row, "rail"),
                                                          .holder = (uint16_t)number_of(row, "holder"),
                                                          .since_grind = number_of(row, "since_regrind") != 0,
                                                          .um = real_of(row, "error_um"),
                                                          .day = real_of(row, "day")};
    return true;
}

static bool add_reference(void *arg, const struct kr_history_row *row)
{
    struct report_data *data = arg;
    if (row->is_heading)
        return true;
    GROW(data, reference, data->n_references, 4);
    struct report_reference *r = &data->reference[data->n_references++];
    *r = (struct report_reference){.rail = (uint16_t)number_of(row, "rail"), .um = real_of(row, "reference_um")};
    snprintf(r->at, sizeof r->at, "%.*s", KR_BOOK_TIME_MAX - 1, row->cell[0].text);
    return true;
}

static bool add_timing(void *arg, const struct kr_history_row *row)
{
    struct report_data *data = arg;
    if (row->is_heading)
        return true;
    GROW(data, timing, data->n_timings, 5);
    double ways = real_of(row, "ways");
    data->timing[data->n_timings++] =
        (struct report_timing){.rail = (uint16_t)number_of(row, "rail"),
                               .step = {[REPORT_DOCK] = {real_of(row, "docks"), real_of(row, "dock_ms")},
                                        [REPORT_UNDOCK] = {real_of(row, "undocks"), real_of(row, "undock_ms")},
                                        [REPORT_SETPOINT] = {ways, real_of(row, "setpoint_ms")},
                                        [REPORT_ROUNDING] = {ways, real_of(row, "rounding_ms")}}};
    return true;
}

static bool take_planned(void *arg, const struct kr_history_row *row)
{
    static const char *const names[N_REPORT_STEPS] = {"dock_us", "undock_us", "setpoint_us", "rounding_us"};
    struct report_data *data = arg;
    int64_t rail = number_of(row, "rail");
    if (row->is_heading || rail < 1 || rail > KR_RAILS_MAX)
        return true;
    struct report_planned *planned = &data->planned[rail - 1];
    planned->origin = (uint16_t)number_of(row, "times_origin");
    for (int step = 0; step < N_REPORT_STEPS; step++)
        planned->ms[step] = real_of(row, names[step]) / 1000;
    return true;
}

bool report_data_read(struct report_data *data, struct kr_history *history, const struct kr_history_part *part)
{
    *data = (struct report_data){0};
    return kr_history_read(history, KR_HISTORY_SPENT, part, add_changeover, data) && !data->failed &&
           kr_history_read(history, KR_HISTORY_ALARM_TIMES, part, add_alarm, data) && !data->failed &&
           kr_history_read(history, KR_HISTORY_ERRORS, part, add_error, data) && !data->failed &&
           kr_history_read(history, KR_HISTORY_REFERENCES, part, add_reference, data) && !data->failed &&
           kr_history_read(history, KR_HISTORY_TIMING, part, add_timing, data) && !data->failed &&
           kr_history_read(history, KR_HISTORY_FRAMES, part, take_planned, data);
}

void report_data_free(struct report_data *data)
{
    free(data->changeover);
    free(data->ended_at);
    free(data->alarm);
    free(data->error);
    free(data->reference);
    free(data->timing);
    *data = (struct report_data){0};
}
