#include "report_tables.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "kniferail/alarm.h"

#define MINUTE_MS 60000.0

static void put(struct kr_history_row *row, const char *name, struct kr_cell cell)
{
    row->name[row->n] = name;
    row->cell[row->n++] = cell;
}

static struct kr_cell number(size_t n)
{
    return (struct kr_cell){.kind = KR_CELL_NUMBER, .number = (int64_t)n};
}

static struct kr_cell real(double value)
{
    return (struct kr_cell){.kind = KR_CELL_REAL, .real = value};
}

static struct kr_cell real_if(bool is, double value)
{
    return is ? real(value) : (struct kr_cell){.kind = KR_CELL_NONE};
}

static struct kr_cell minutes(int64_t ms)
{
    return real((double)ms / MINUTE_MS);
}

static struct kr_cell text(const char *words)
{
    return (struct kr_cell){.kind = KR_CELL_TEXT, .text = words};
}

/* ---- changeovers ----------------------------------------------------------------------------------------------- */

static bool add_sum(const char *period, const struct kr_report_sum *sum, struct history_table *out)
{
    struct kr_history_row row = {0};
    put(&row, "period", text(period));
    put(&row, "changeovers", number(sum->n));
    put(&row, "verified", number(sum->verified));
    put(&row, "planned_min", minutes(sum->planned_ms));
    put(&row, "actual_min", minutes(sum->actual_ms));
    put(&row, "actual_to_planned", real_if(sum->ratio.n > 0, sum->ratio.mean));
    put(&row, "total_min", minutes(sum->total_ms));
    put(&row, "mean_min", real_if(sum->n > 0, (double)sum->total_ms / MINUTE_MS / (double)sum->n));
    put(&row, "longest_min", minutes(sum->longest_ms));
#define X(name, word, text) put(&row, #word "_min", minutes(sum->spent_ms[KR_SPENT_##name]));
    KR_SPENT(X)
#undef X
    put(&row, "uncounted_min", minutes(sum->total_ms - sum->told_ms));
    return history_table_add(out, &row);
}

/* Returns how many changeovers, from `first` on, have the same beginning of their time. */
static size_t alike_from(const struct report_data *data, size_t first, size_t alike)
{
    size_t n = 1;
    while (first + n < data->n_changeovers && strncmp(data->ended_at[first], data->ended_at[first + n], alike) == 0)
        n++;
    return n;
}

bool report_add_changeovers(const struct report_data *data, size_t alike, struct history_table *out)
{
    double *room = calloc(data->n_changeovers + 1, sizeof room[0]);
    bool ok = room != NULL;
    for (size_t i = 0, n; ok && i < data->n_changeovers; i += n) {
        char period[KR_BOOK_TIME_MAX];
        n = alike_from(data, i, alike);
        snprintf(period, sizeof period, "%.*s", (int)alike, data->ended_at[i]);
        struct kr_report_sum sum = kr_report_sum_of(&data->changeover[i], n, room);
        ok = add_sum(period, &sum, out);
    }
    if (ok) {
        struct kr_report_sum all = kr_report_sum_of(data->changeover, data->n_changeovers, room);
        ok = add_sum("all", &all, out);
    }
    free(room);
    return ok;
}

/* ---- shifts ---------------------------------------------------------------------------------------------------- */

static bool add_shift(const struct kr_report_shift *shift, int32_t end_min, struct history_table *out)
{
    struct kr_history_row row = {0};
    char words[32];
    snprintf(words, sizeof words, "%02d:%02d-%02d:%02d", (int)(shift->begin_min / 60), (int)(shift->begin_min % 60),
             (int)(end_min / 60), (int)(end_min % 60));
    put(&row, "shift", text(words));
    put(&row, "changeovers", number(shift->changeovers));
    put(&row, "shifts_with_setup", number(shift->times));
    put(&row, "setup_min", minutes(shift->setup_ms));
    put(&row, "mean_min", real_if(shift->times > 0, (double)shift->setup_ms / MINUTE_MS / (double)shift->times));
    put(&row, "most_min", minutes(shift->most_ms));
    return history_table_add(out, &row);
}

/* Uses the time zone of this computer (TZ), including summer time. */
static int64_t local_of(int64_t utc_ms)
{
    time_t utc_s = (time_t)(utc_ms / 1000);
    struct tm local, utc;
    if (localtime_r(&utc_s, &local) == NULL || gmtime_r(&utc_s, &utc) == NULL)
        return utc_ms;
    int64_t minutes_apart = (local.tm_hour - utc.tm_hour) * 60 + local.tm_min - utc.tm_min;
    if (local.tm_yday != utc.tm_yday) /* they differ by one day at most, even at New Year */
        minutes_apart += local.tm_year > utc.tm_year || (local.tm_year == utc.tm_year && local.tm_yday > utc.tm_yday)
                             ? 24 * 60
                             : -24 * 60;
    return utc_ms + minutes_apart * 60000;
}

bool report_add_shifts(const struct report_data *data, struct kr_report_shift shift[], size_t n_shifts,
                       struct history_table *out)
{
    struct kr_report_changeover *local = calloc(data->n_changeovers + 1, sizeof local[0]);
    bool ok = local != NULL;
    for (size_t i = 0; ok && i < data->n_changeovers; i++) {
        local[i] = data->changeover[i];
        local[i].ended_ms = local_of(local[i].ended_ms);
    }
    if (ok)
        kr_report_share_out(local, data->n_changeovers, shift, n_shifts);
    for (size_t s = 0; ok && s < n_shifts; s++)
        ok = add_shift(&shift[s], shift[(s + 1) % n_shifts].begin_min, out);
    free(local);
    return ok;
}

/* ---- alarms ---------------------------------------------------------------------------------------------------- */

static bool add_cause(const struct kr_report_cause *cause, struct history_table *out)
{
    struct kr_history_row row = {0};
    const struct kr_alarm_info *info = kr_alarm_info(cause->code);
    put(&row, "code", number(cause->code));
    put(&row, "alarm", text(info ? info->name : "unknown"));
    put(&row, "reaction", text(info ? kr_reaction_word(info->reaction) : ""));
    put(&row, "raised", number(cause->raised));
    put(&row, "stood_min", minutes(cause->stood_ms));
    put(&row, "most_on_rail", number(cause->rail));
    put(&row, "item", number(cause->item));
    put(&row, "times_there", number(cause->times_there));
    return history_table_add(out, &row);
}

bool report_add_alarms(const struct report_data *data, struct history_table *out)
{
    static struct kr_report_cause cause[KR_REPORT_CAUSES_MAX];
    size_t n = kr_report_causes(data->alarm, data->n_alarms, cause);
    bool ok = true;
    for (size_t i = 0; ok && i < n; i++)
        ok = add_cause(&cause[i], out);
    return ok;
}

/* ---- references ------------------------------------------------------------------------------------------------ */

static bool add_reference(const struct report_reference *first, const double um[], size_t n, size_t alike,
                          struct history_table *out)
{
    struct kr_history_row row = {0};
    struct kr_spread spread = kr_spread_of(um, n);
    char period[KR_BOOK_TIME_MAX];
    snprintf(period, sizeof period, "%.*s", (int)alike, first->at);
    put(&row, "rail", number(first->rail));
    put(&row, "period", text(period));
    put(&row, "changeovers", number(n));
    put(&row, "mean_um", real(spread.mean));
    put(&row, "least_um", real(spread.least));
    put(&row, "most_um", real(spread.most));
    put(&row, "last_um", real(um[n - 1]));
    return history_table_add(out, &row);
}

bool report_add_references(const struct report_data *data, size_t alike, struct history_table *out)
{
    const struct report_reference *r = data->reference;
    double *um = calloc(data->n_references + 1, sizeof um[0]);
    bool ok = um != NULL;
    for (size_t i = 0, n; ok && i < data->n_references; i += n) {
        for (n = 0;
             i + n < data->n_references && r[i + n].rail == r[i].rail && strncmp(r[i + n].at, r[i].at, alike) == 0; n++)
            um[n] = r[i + n].um;
        ok = add_reference(&r[i], um, n, alike, out);
    }
    free(um);
    return ok;
}

/* ---- times ----------------------------------------------------------------------------------------------------- */

static const char *const step_settings[N_REPORT_STEPS] = {"dock_ms", "undock_ms", "setpoint_ms", "rounding_ms"};

/* The book counts; a book that has none yet will be filled from the station file. */
static struct report_planned planned_of(const struct report_data *data, uint16_t rail,
                                        const struct kr_station_config *station)
{
    if (rail < 1 || rail > KR_RAILS_MAX)
        return (struct report_planned){0};
    if (data->planned[rail - 1].origin != KR_FRAME_FROM_NONE || station == NULL || rail > station->geometry.n_rails)
        return data->planned[rail - 1];
    const struct kr_rail_geometry *g = &station->geometry.rail[rail - 1];
    return (struct report_planned){
        .origin = KR_FRAME_FROM_FILE,
        .ms = {g->dock_us / 1000.0, g->undock_us / 1000.0, g->setpoint_us / 1000.0, g->rounding_us / 1000.0}};
}

static bool add_step(const struct kr_report_each *each, uint16_t rail, int step, const struct report_planned *planned,
                     struct history_table *out)
{
    struct kr_history_row row = {0};
    bool is_planned = planned->origin != KR_FRAME_FROM_NONE;
    put(&row, "rail", number(rail));
    put(&row, "setting", text(step_settings[step]));
    put(&row, "times", number((size_t)each->n));
    put(&row, "changeovers", number(each->changeovers));
    put(&row, "planned_ms", real_if(is_planned, planned->ms[step]));
    put(&row, "planned_by", text(is_planned ? kr_number_word("FRAME_ORIGIN", planned->origin) : ""));
    put(&row, "took_ms", real_if(each->is_known, each->each_ms));
    put(&row, "uncertainty_ms", real_if(each->has_uncertainty, each->uncertainty_ms));
    return history_table_add(out, &row);
}

bool report_add_timing(const struct report_data *data, const struct kr_station_config *planned,
                       struct history_table *out)
{
    const struct report_timing *t = data->timing;
    struct kr_report_count *count = calloc(data->n_timings + 1, sizeof count[0]);
    bool ok = count != NULL;
    for (size_t i = 0, n; ok && i < data->n_timings; i += n) {
        for (n = 0; i + n < data->n_timings && t[i + n].rail == t[i].rail;)
            n++;
        struct report_planned of_rail = planned_of(data, t[i].rail, planned);
        for (int step = 0; ok && step < N_REPORT_STEPS; step++) {
            for (size_t k = 0; k < n; k++)
                count[k] = t[i + k].step[step];
            struct kr_report_each each = kr_report_each_of(count, n);
            ok = add_step(&each, t[i].rail, step, &of_rail, out);
        }
    }
    free(count);
    return ok;
}

/* A least-squares value of few travels may be a little below 0. */
static double took_ms(const struct history_table *times, size_t row)
{
    double ms = history_table_cell(times, row, history_table_column(times, "took_ms"))->real;
    return ms > 0 ? ms : 0;
}

static bool all_took(const struct history_table *times, size_t row)
{
    for (size_t step = 0; step < N_REPORT_STEPS; step++)
        if (history_table_cell(times, row + step, history_table_column(times, "took_ms"))->kind != KR_CELL_REAL)
            return false;
    return true;
}

void report_print_acceptance(const struct history_table *times)
{
    for (size_t row = 0; row + N_REPORT_STEPS <= times->n_rows; row += N_REPORT_STEPS) {
        unsigned rail = (unsigned)history_table_cell(times, row, history_table_column(times, "rail"))->number;
        if (all_took(times, row))
            printf("to plan with what rail %u took: kniferail set times %u %.1f %.1f %.1f %.1f\n", rail, rail,
                   took_ms(times, row), took_ms(times, row + 1), took_ms(times, row + 2), took_ms(times, row + 3));
    }
}

/* ---- holders --------------------------------------------------------------------------------------------------- */

static void put_capability(struct kr_history_row *row, const struct kr_placement *p)
{
    put(row, "cp", real_if(p->has_capability, p->cp));
    put(row, "cp_low", real_if(p->has_capability, p->cp_95.low));
    put(row, "cp_high", real_if(p->has_capability, p->cp_95.high));
    put(row, "cpk", real_if(p->has_capability, p->cpk));
    put(row, "cpk_low", real_if(p->has_capability, p->cpk_95.low));
    put(row, "cpk_high", real_if(p->has_capability, p->cpk_95.high));
}

static const char *trend_word(enum kr_report_trend trend)
{
    static const char *const words[] = {
        [KR_TREND_NONE] = "", [KR_TREND_DRIFTS] = "drifts", [KR_TREND_SCATTERS] = "scatters"};
    return words[trend];
}

static bool add_holder(const struct report_error *first, const struct kr_placement *p, size_t n_holders,
                       struct history_table *out)
{
    struct kr_history_row row = {0};
    put(&row, "rail", number(first->rail));
    put(&row, "holder", number(first->holder));
    put(&row, "placements", number(p->spread.n));
    put(&row, "mean_um", real(p->spread.mean));
    put(&row, "sd_um", real_if(p->spread.n >= 2, p->spread.sd));
    put_capability(&row, p);
    put(&row, "since_grind", number(p->n_since));
    put(&row, "drift_um", real_if(p->has_drift, p->drift));
    put(&row, "drift_sd_um", real_if(p->has_drift, p->drift_sd));
    put(&row, "caution",
        /* These two columns are the last, because the text format prints them below a row that has them. */
        text(p->few ? "few" : ""));
    put(&row, "trend", text(trend_word(kr_placement_trend(p, n_holders))));
    return history_table_add(out, &row);
}

static size_t errors_of_one(const struct report_data *data, size_t first)
{
    size_t n = 1;
    while (first + n < data->n_errors && data->error[first + n].rail == data->error[first].rail &&
           data->error[first + n].holder == data->error[first].holder)
        n++;
    return n;
}

static size_t holders_of(const struct report_data *data)
{
    size_t n_holders = 0;
    for (size_t i = 0; i < data->n_errors; i += errors_of_one(data, i))
        n_holders++;
    return n_holders;
}

bool report_add_holders(const struct report_data *data, double tolerance_um, struct history_table *out)
{
    size_t n_holders = holders_of(data);
    double *um = calloc(data->n_errors + 1, sizeof um[0]), *day = calloc(data->n_errors + 1, sizeof day[0]);
    bool ok = um != NULL && day != NULL;
    for (size_t i = 0, n; ok && i < data->n_errors; i += n) {
        size_t n_since = 0;
        n = errors_of_one(data, i);
        for (size_t k = 0; k < n; k++) {
            um[k] = data->error[i + k].um;
            day[k] = data->error[i + k].day;
            n_since += data->error[i + k].since_grind;
        }
        struct kr_placement placement = kr_placement_of(um, day, n, n_since, tolerance_um);
        ok = add_holder(&data->error[i], &placement, n_holders, out);
    }
    free(um);
    free(day);
    return ok;
}
