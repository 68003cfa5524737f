#include "traces.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "clock.h"
#include "log.h"

/* Serial numbers of a station's files in one second; TRACES_FILES of these files are kept. */
#define SERIAL_MOST 99

void traces_open(struct traces *traces, uv_loop_t *loop, const char *book_path)
{
    *traces = (struct traces){.loop = loop};
    traces->work.data = traces;
    if (book_path != NULL &&
        (size_t)snprintf(traces->folder, sizeof traces->folder, "%s.traces", book_path) >= sizeof traces->folder)
        traces->folder[0] = 0;
}

/* All pages of the memory are touched now, so that the cycle never has to wait for one. A compiler may combine malloc()
 * and filling with zeros into one call, which touches nothing. */
bool traces_add(struct traces *traces, struct station_trace *trace, const struct kr_station *station,
                const struct kr_station_config *config)
{
    const struct kr_geometry *geometry = &config->geometry;
    trace->memory = malloc(KR_TRACE_BYTES);
    if (trace->memory == NULL)
        return false;
    memset(trace->memory, 0xFF, KR_TRACE_BYTES);
    trace->station = station;
    trace->last_us = -TRACES_APART_US;
    trace->head.length_unit = (uint16_t)config->format.length_unit;
    trace->head.n_rails = geometry->n_rails;
    for (uint16_t r = 0; r < geometry->n_rails; r++)
        trace->head.n_holders[r] = geometry->rail[r].n_holders;
    snprintf(trace->head.station, sizeof trace->head.station, "%s", config->name);
    kr_trace_ring_init(&trace->ring, trace->memory);
    kr_trace_ring_begin(&trace->ring, station, clock_utc_ms());
    kr_station_steps(station, &trace->seen);
    traces->station[traces->n_stations++] = trace;
    trace->number = traces->n_stations;
    return true;
}

void traces_free(struct station_trace *trace)
{
    free(trace->memory);
    trace->memory = NULL;
}

void traces_reconfigured(struct station_trace *trace)
{
    kr_trace_ring_begin(&trace->ring, trace->station, clock_utc_ms());
}

/* ---- the folder: in the pool ----------------------------------------------------------------------------------- */

static void prefix_of(const struct station_trace *trace, char text[KR_NAME_MAX + 8])
{
    int n = snprintf(text, KR_NAME_MAX + 8, "%u-", trace->number);
    for (const char *c = trace->head.station; *c != 0; c++) {
        bool plain = (*c >= 'a' && *c <= 'z') || (*c >= 'A' && *c <= 'Z') || (*c >= '0' && *c <= '9');
        /* A name may contain characters that the name of a file can't. */
        text[n++] = (char)(plain ? *c : '_');
    }
    text[n++] = '-';
    text[n] = 0;
}

/* Returns how many files the station has, and the oldest one. Its name sorts first, because the names contain the
 * time. */
static int count_files(const char *folder, const char *prefix, char oldest[256])
{
    DIR *dir = opendir(folder);
    int n = 0;
    oldest[0] = 0;
    for (struct dirent *entry; dir != NULL && (entry = readdir(dir)) != NULL;) {
        if (strncmp(entry->d_name, prefix, strlen(prefix)) != 0)
            continue;
        n++;
        if (oldest[0] == 0 || strcmp(entry->d_name, oldest) < 0)
            snprintf(oldest, 256, "%s", entry->d_name);
    }
    if (dir != NULL)
        closedir(dir);
    return n;
}

/* Makes room for one more file. A file that a killed gateway has left incomplete counts as any other, and is deleted as
 * any other. */
static void make_room(const struct traces *traces)
{
    char prefix[KR_NAME_MAX + 8], oldest[256], path[sizeof traces->folder + 260];
    prefix_of(traces->busy_with, prefix);
    while (count_files(traces->folder, prefix, oldest) >= TRACES_FILES) {
        snprintf(path, sizeof path, "%s/%s", traces->folder, oldest);
        if (unlink(path) != 0)
            return;
    }
}

/* There may be several files in one second: the serial number after the time continues from the highest one that
 * exists, so no file is overwritten, and the names still sort by age. */
static void choose_path(struct traces *traces)
{
    unsigned serial = SERIAL_MOST;
    do {
        serial--;
        snprintf(traces->path, sizeof traces->path, "%s-%02u.trace", traces->stem, serial);
    } while (serial > 0 && access(traces->path, F_OK) != 0);
    snprintf(traces->path, sizeof traces->path, "%s-%02u.trace", traces->stem, serial + 1);
}

static void write_file(uv_work_t *work)
{
    struct traces *traces = work->data;
    traces->ok = kr_trace_make_folder(traces->folder, traces->error, sizeof traces->error);
    if (!traces->ok)
        return;
    choose_path(traces);
    make_room(traces);
    traces->ok = kr_trace_write(traces->path, &traces->head, &traces->frozen, traces->error, sizeof traces->error);
}

/* ---- beginning and ending -------------------------------------------------------------------------------------- */

static void next_file(struct traces *traces);

static void file_written(uv_work_t *work, int status)
{
    struct traces *traces = work->data;
    struct station_trace *trace = traces->busy_with;
    (void)status; /* it is never cancelled */
    kr_trace_ring_thaw(&trace->ring);
    traces->busy_with = NULL;
    if (traces->ok)
        log_line(LOG_NOTICE, "%s: trace kept: %s: %s", trace->head.station, traces->path, traces->head.reason);
    else
        log_line(LOG_ERROR, "%s: the trace of '%s' could not be kept: %s", trace->head.station, traces->head.reason,
                 traces->error);
    next_file(traces);
}

static void name_file(struct traces *traces, const struct station_trace *trace)
{
    char prefix[KR_NAME_MAX + 8], stamp[32];
    time_t now = (time_t)(clock_utc_ms() / 1000);
    struct tm utc;
    prefix_of(trace, prefix);
    gmtime_r(&now, &utc);
    strftime(stamp, sizeof stamp, "%Y%m%dT%H%M%SZ", &utc);
    snprintf(traces->stem, sizeof traces->stem, "%s/%s%s", traces->folder, prefix, stamp);
}

static void begin_file(struct traces *traces, struct station_trace *trace)
{
    trace->wanted = false;
    trace->last_us = trace->now_us;
    if (!kr_trace_ring_freeze(&trace->ring, trace->station, clock_utc_ms(), &traces->frozen)) {
        log_line(LOG_ERROR, "%s: the trace of '%s' could not be kept: nothing is recorded", trace->head.station,
                 trace->head.reason);
        return;
    }
    traces->copied = true;
    traces->head = trace->head;
    traces->busy_with = trace;
    name_file(traces, trace);
    int rc = uv_queue_work(traces->loop, &traces->work, write_file, file_written);
    if (rc == 0)
        return;
    log_line(LOG_ERROR, "%s: the trace can't be written: %s", trace->head.station, uv_strerror(rc));
    kr_trace_ring_thaw(&trace->ring);
    traces->busy_with = NULL;
}

/* At most one file is begun, since the next one waits for it. */
static void next_file(struct traces *traces)
{
    for (uint16_t i = 0; i < traces->n_stations && traces->busy_with == NULL; i++) {
        struct station_trace *trace = traces->station[i];
        if (trace->wanted && (traces->ending || trace->now_us >= trace->due_us))
            begin_file(traces, trace);
    }
}

void traces_end(struct traces *traces)
{
    traces->ending = true;
    next_file(traces);
}

/* ---- what a file is wanted for --------------------------------------------------------------------------------- */

static int64_t later_of(int64_t a_us, int64_t b_us)
{
    return a_us > b_us ? a_us : b_us;
}

/* The first cause is kept, because it explains the later ones. */
static void want_after(struct station_trace *trace, const char *reason)
{
    if (trace->wanted)
        return;
    snprintf(trace->head.reason, sizeof trace->head.reason, "%s", reason);
    trace->wanted = true;
    trace->after_us = trace->now_us + TRACES_AFTER_US;
    trace->due_us = later_of(trace->after_us, trace->last_us + TRACES_APART_US);
}

/* A request by a person does not have to wait for the time between two files. It only waits until the time after an
 * earlier cause is recorded. */
static void want_now(struct station_trace *trace, const char *reason)
{
    if (!trace->wanted) {
        snprintf(trace->head.reason, sizeof trace->head.reason, "%s", reason);
        trace->after_us = trace->now_us;
    }
    trace->wanted = true;
    trace->due_us = later_of(trace->after_us, trace->now_us);
}

static bool stood(const struct kr_station_steps *steps, const struct kr_alarm *alarm)
{
    for (uint16_t i = 0; i < steps->n_alarms; i++)
        if (steps->alarm[i].code == alarm->code && steps->alarm[i].rail == alarm->rail)
            return true;
    return false;
}

static void look_at_alarms(struct station_trace *trace, const struct kr_station_steps *now)
{
    char text[KR_TRACE_REASON_MAX - 16], reason[KR_TRACE_REASON_MAX];
    for (uint16_t i = 0; i < now->n_alarms; i++) {
        const struct kr_alarm_info *info = kr_alarm_info(now->alarm[i].code);
        if (info == NULL || info->reaction == KR_REACT_NONE || stood(&trace->seen, &now->alarm[i]))
            continue;
        kr_alarm_text(&now->alarm[i], (enum kr_length_unit)trace->head.length_unit, text, sizeof text);
        snprintf(reason, sizeof reason, "alarm %u: %s", now->alarm[i].code, text);
        want_after(trace, reason);
    }
}

/* A unit at rest goes from Aborting to Aborted within one cycle. */
static bool aborts(const struct kr_station_steps *steps)
{
    return steps->unit_state == KR_STATE_ABORTING || steps->unit_state == KR_STATE_ABORTED;
}

static void look_at_causes(struct station_trace *trace, const struct kr_station_steps *now)
{
    look_at_alarms(trace, now);
    if (aborts(now) && !aborts(&trace->seen))
        want_after(trace, "the unit aborts");
}

static void look_at_edit(const struct traces *traces, struct station_trace *trace, const struct kr_station_steps *now)
{
    const struct kr_edit *edit = &kr_station_durable(trace->station)->edit;
    char reason[KR_TRACE_REASON_MAX];
    bool judged = now->edit_number != trace->seen.edit_number || now->edit_code != trace->seen.edit_code;
    if (!judged || edit->kind != KR_EDIT_TRACE || edit->result.code != KR_OK)
        return;
    snprintf(reason, sizeof reason, "asked for by %s", edit->origin);
    if (traces->folder[0] != 0)
        want_now(trace, reason);
    else
        log_line(LOG_ERROR, "%s: the trace %s could not be kept: no book is configured", trace->head.station, reason);
}

void traces_step(struct traces *traces, struct station_trace *trace, const struct kr_station_in *in,
                 const struct kr_station_out *out)
{
    kr_trace_ring_step(&trace->ring, trace->station, in, out, clock_utc_ms());
    const struct kr_station_steps *now = &trace->ring.last.steps;
    trace->now_us += in->dt_us;
    if (traces->folder[0] != 0)
        look_at_causes(trace, now);
    look_at_edit(traces, trace, now);
    next_file(traces);
    trace->seen = *now;
}

void traces_cycle(struct traces *traces)
{
    bool done = traces->copied;
    traces->copied = false;
    for (uint16_t i = 0; i < traces->n_stations && !done; i++) {
        struct station_trace *trace = traces->station[i];
        done = kr_trace_ring_renew(&trace->ring, trace->station, clock_utc_ms());
    }
}
