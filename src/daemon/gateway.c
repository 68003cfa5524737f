#include "gateway.h"

#include <inttypes.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include "face_config.h"
#include "last_run.h"
#include "log.h"
#include "seed.h"
#include "supervisor.h"
#include "words.h"

/* Time limit from SIGTERM until everything stands and docked holders are released. */
#define REST_LIMIT_US 30000000
/* Time limit after that, until the book has stored it: a slow disk may need time for two commits. */
#define STORE_LIMIT_US 10000000
/* The status is told at most once in this time, so that quick changes cost nothing. */
#define TELL_STATUS_US 1000000

/* ---- the audit --------------------------------------------------------------------------------------------- */

static void face_audit(void *arg, const struct kr_audit_event *event)
{
    struct gateway *gateway = arg;
    audit_add(&gateway->committer.audit, event);
}

static void tell_own(struct gateway *gateway, const char *result, const char *what)
{
    audit_tell(&gateway->committer.audit, KR_AUDIT_GATEWAY, 0, "gateway", result, "%s", what);
}

/* ---- going down ------------------------------------------------------------------------------------------- */

static void face_closed(void *arg)
{
    struct gateway *gateway = arg;
    gateway->face_open = false;
}

static void close_handle(uv_handle_t *handle)
{
    if (!uv_is_closing(handle))
        uv_close(handle, NULL);
}

/* Closes everything that keeps the loop alive. Work in the pool is waited for. */
static void go_down(struct gateway *gateway)
{
    beat_stop(&gateway->beat);
    gateway->beating = false;
    atomic_store(&gateway->page_check.stop, true);
    planner_close(&gateway->planner);
    traces_end(&gateway->traces);
    for (uint16_t i = 0; i < gateway->config.n_stations; i++)
        gateway->host[i]->steps_left = 0; /* late answers of the pool find no face to publish to */
    kr_face_close(gateway->face, face_closed, gateway);
    close_handle((uv_handle_t *)&gateway->term);
    close_handle((uv_handle_t *)&gateway->interrupt);
    close_handle((uv_handle_t *)&gateway->hang_up);
}

static bool nothing_moves(const struct gateway *gateway)
{
    for (uint16_t i = 0; i < gateway->config.n_stations; i++)
        if (gateway->host[i]->out.moving)
            return false;
    return true;
}

static bool all_at_rest(const struct gateway *gateway)
{
    for (uint16_t i = 0; i < gateway->config.n_stations; i++)
        if (!gateway->host[i]->out.at_rest)
            return false;
    return true;
}

static void watch_shut_down(struct gateway *gateway)
{
    int64_t now_us = clock_us();
    if (!nothing_moves(gateway))
        gateway->still_us = 0;
    else if (gateway->still_us == 0)
        gateway->still_us = now_us;
    gateway->came_to_rest = all_at_rest(gateway);
    bool late = now_us - gateway->shut_down_us >= REST_LIMIT_US;
    bool unstored = gateway->still_us != 0 && now_us - gateway->still_us >= STORE_LIMIT_US;
    if (gateway->came_to_rest)
        log_line(LOG_NOTICE, "everything is at rest and stored; the gateway ends");
    else if (late)
        log_line(LOG_ERROR, "the machine is not at rest after %d s; the gateway ends nonetheless",
                 REST_LIMIT_US / 1000000);
    else if (unstored)
        log_line(LOG_ERROR, "everything is at rest, but the book does not store; the gateway ends nonetheless");
    if (gateway->came_to_rest || late || unstored)
        go_down(gateway);
}

static void on_end_signal(uv_signal_t *handle, int number)
{
    struct gateway *gateway = handle->data;
    const char *name = number == SIGTERM ? "SIGTERM" : "SIGINT";
    if (gateway->shut_down) {
        log_line(LOG_ERROR, "%s again: the gateway ends at once", name);
        go_down(gateway);
        return;
    }
    log_line(LOG_NOTICE, "%s: motion is stopped in a controlled way, then the gateway ends", name);
    tell_own(gateway, "", number == SIGTERM ? "is asked to end: SIGTERM" : "is asked to end: SIGINT");
    gateway->shut_down = true;
    gateway->shut_down_us = clock_us();
    pruner_end(&gateway->committer.pruner);
    supervisor_stopping();
}

static void on_hang_up(uv_signal_t *handle, int number)
{
    (void)number;
    gateway_reload(handle->data);
}

/* ---- the cycle -------------------------------------------------------------------------------------------- */

/* "cell A: idle; cell B: execute" */
static void write_status(struct gateway *gateway, char status[SUPERVISOR_STATUS_MAX])
{
    size_t used = 0;
    status[0] = '\0';
    for (uint16_t i = 0; i < gateway->config.n_stations && used < SUPERVISOR_STATUS_MAX; i++) {
        const struct station_host *host = gateway->host[i];
        char state[WORD_MAX];
        gateway->state_told[i] = kr_station_state(host->station);
        int n = snprintf(status + used, SUPERVISOR_STATUS_MAX - used, "%s%s: %s", i > 0 ? "; " : "",
                         host->config.station.name, word_for("UNIT_STATE", (int)gateway->state_told[i], state));
        used += n > 0 ? (size_t)n : 0;
    }
}

static bool status_differs(const struct gateway *gateway)
{
    bool differs = !gateway->status_told;
    for (uint16_t i = 0; i < gateway->config.n_stations; i++)
        differs = differs || gateway->state_told[i] != kr_station_state(gateway->host[i]->station);
    return differs;
}

static void tell_supervisor(struct gateway *gateway)
{
    char status[SUPERVISOR_STATUS_MAX];
    int64_t now_us = clock_us();
    supervisor_cycle(now_us);
    if (now_us < gateway->status_us || !status_differs(gateway))
        return;
    write_status(gateway, status);
    supervisor_status(status);
    gateway->status_told = true;
    gateway->status_us = now_us + TELL_STATUS_US;
}

static void on_beat(void *arg, uint32_t beats)
{
    struct gateway *gateway = arg;
    gateway->cycles++;
    overruns_beat(&gateway->overruns, beats, gateway->beat.late_us);
    for (uint16_t i = 0; i < gateway->config.n_stations; i++)
        station_host_cycle(gateway->host[i], gateway->cycles, gateway->overruns.count, gateway->shut_down);
    traces_cycle(&gateway->traces);
    tell_supervisor(gateway);
    if (gateway->shut_down)
        watch_shut_down(gateway);
}

static bool cycle_due(void *arg)
{
    const struct gateway *gateway = arg;
    return gateway->beating && beat_is_due(&gateway->beat);
}

static void face_log(void *arg, int priority, const char *text)
{
    (void)arg;
    log_line((enum log_priority)(priority < LOG_ERROR         ? LOG_ERROR
                                 : priority > LOG_INFORMATION ? LOG_INFORMATION
                                                              : priority),
             "%s", text);
}

/* ---- coming up -------------------------------------------------------------------------------------------- */

static bool open_book(struct gateway *gateway, char *error, size_t error_size)
{
    const char *path = gateway->config.book_path[0] != 0 ? gateway->config.book_path : NULL;
    char why[KR_BOOK_TEXT_MAX], boot[LAST_RUN_BOOT_MAX];
    gateway->book = kr_book_open(path, why, sizeof why);
    if (gateway->book == NULL) {
        snprintf(error, error_size, "book %s: %s", path != NULL ? path : "in memory", why);
        return false;
    }
    last_run_boot(boot);
    gateway->began_utc_ms = clock_utc_ms();
    if (!kr_book_session(gateway->book, gateway->began_utc_ms, boot, &gateway->session, &gateway->last_run)) {
        snprintf(error, error_size, "book %s: %s", path != NULL ? path : "in memory", kr_book_error(gateway->book));
        return false;
    }
    if (kr_book_migrated(gateway->book)[0] != '\0')
        log_line(LOG_NOTICE, "book %s: %s", path, kr_book_migrated(gateway->book));
    if (path != NULL)
        log_line(LOG_INFORMATION, "book %s: open, and sound", path);
    else
        log_line(LOG_WARNING, "no book is configured: nothing survives a restart");
    last_run_tell(&gateway->last_run, gateway->began_utc_ms);
    return true;
}

static void check_pages(uv_work_t *work)
{
    struct page_check *check = work->data;
    check->ok = kr_book_check_pages(check->path, &check->stop, &check->error);
}

/* The stations run already, because the data that they start from was found sound. If their next records can't be
 * stored, an alarm says so. */
static void pages_checked(uv_work_t *work, int status)
{
    const struct page_check *check = work->data;
    (void)status; /* it is never cancelled */
    if (!check->ok)
        log_line(LOG_ERROR, "book %s: its history: %s; `kniferail book check` tells more", check->path,
                 check->error.text);
}

static void begin_page_check(struct gateway *gateway)
{
    struct page_check *check = &gateway->page_check;
    if (gateway->config.book_path[0] == '\0')
        return;
    snprintf(check->path, sizeof check->path, "%s", gateway->config.book_path);
    check->work.data = check;
    int rc = uv_queue_work(gateway->loop, &check->work, check_pages, pages_checked);
    if (rc != 0)
        log_line(LOG_WARNING, "book %s: the history can't be checked: %s", check->path, uv_strerror(rc));
}

/* Makes sure that the book has the names for its numbers of sizes. */
static bool keep_sizes(struct gateway *gateway, const struct kr_config_station *config, uint16_t book_station,
                       char *error, size_t error_size)
{
    struct kr_book_sizes book, file = {.name = {""}};
    for (uint16_t i = 0; i < config->station.geometry.n_sizes; i++)
        memcpy(file.name[i], config->station.size_name[i], sizeof file.name[i]);
    if (!kr_book_sizes(gateway->book, book_station, &book)) {
        snprintf(error, error_size, "book: %s", kr_book_error(gateway->book));
        return false;
    }
    if (!seed_sizes_in_place(config, &book, error, error_size))
        return false;
    bool same = true;
    for (int i = 0; i < KR_SIZES_MAX; i++)
        same = same && strcmp(book.name[i], file.name[i]) == 0;
    if (same || kr_book_set_sizes(gateway->book, book_station, &file))
        return true;
    snprintf(error, error_size, "book: %s", kr_book_error(gateway->book));
    return false;
}

static bool open_station(struct gateway *gateway, uint16_t index, char *error, size_t error_size)
{
    static struct kr_durable durable; /* 12 KB; used only during the start */
    struct kr_config_station *config = &gateway->config.station[index];
    const char *name = config->station.name;
    uint16_t book_station;
    char why[400];
    kr_config_durable(config, &durable);
    enum kr_load found = kr_book_load(gateway->book, name, &book_station, &durable);
    if (found == KR_LOAD_FAILED) {
        snprintf(error, error_size, "%s: book: %s", name, kr_book_error(gateway->book));
        return false;
    }
    if (!seed_sizes_listed(config, &durable, why, sizeof why) || !seed_frames_fit(config, &durable, why, sizeof why) ||
        !keep_sizes(gateway, config, book_station, why, sizeof why)) {
        snprintf(error, error_size, "%s: %s", name, why);
        return false;
    }
    if (found == KR_LOAD_FOUND)
        seed_tell_differences(config, &durable);
    if (config->positioner == KR_POSITIONER_SIMULATED)
        seed_machine(config, &durable);
    struct station_host *host = malloc(sizeof *host);
    gateway->host[index] = host;
    if (host == NULL) {
        snprintf(error, error_size, "%s: out of memory", name);
        return false;
    }
    bool ok = station_host_open(host, &gateway->planner, index, config, gateway->config.n_stations,
                                gateway->config.speed_factor, gateway->session, &durable, why, sizeof why);
    if (!ok)
        snprintf(error, error_size, "%s: %s", name, why);
    host->file_digest = gateway->config.digest;
    host->last_run = gateway->last_run;
    host->run_began_utc_ms = gateway->began_utc_ms;
    host->record_ended_s = kr_book_record_ended_s(gateway->book, book_station);
    host->committer = &gateway->committer;
    host->traces = &gateway->traces;
    story_log_switch(&host->story, gateway->config.log == KR_LOG_STEPS);
    host->commits.book_station = book_station;
    host->log.audit = &gateway->committer.audit;
    host->log.station_number = (uint16_t)(index + 1);
    gateway->book_station[index] = book_station;
    committer_add(&gateway->committer, &host->commits);
    if (ok)
        committer_store_first(&gateway->committer, &host->commits);
    if (ok && !traces_add(&gateway->traces, &host->trace, host->station, &config->station)) {
        snprintf(error, error_size, "%s: out of memory", name);
        return false;
    }
    return ok;
}

static bool open_face(struct gateway *gateway, char *error, size_t error_size)
{
    static struct kr_face_config config; /* static, because it is large; used only during the start */
    char why[256];
    face_config_from(&gateway->config, &config);
    struct kr_face_hooks hooks = {.arg = gateway, .cycle_due = cycle_due, .log = face_log, .audit = face_audit};
    gateway->face = kr_face_open(gateway->loop, &config, &hooks, why, sizeof why);
    if (gateway->face == NULL) {
        snprintf(error, error_size, "Modbus/TCP: %s", why);
        return false;
    }
    gateway->face_open = true;
    gateway->committer.audit.face = gateway->face;
    for (uint16_t i = 0; i < gateway->config.n_stations; i++) {
        gateway->host[i]->face = gateway->face;
        station_host_publish(gateway->host[i]);
    }
    return true;
}

static bool open_signal(struct gateway *gateway, uv_signal_t *handle, int number, uv_signal_cb callback)
{
    handle->data = gateway;
    return uv_signal_init(gateway->loop, handle) == 0 && uv_signal_start(handle, callback, number) == 0;
}

/* If a client disconnects or a file reaches its size limit, only one call fails; the process must not be ended by a
 * signal. */
static bool open_signals(struct gateway *gateway, char *error, size_t error_size)
{
    signal(SIGPIPE, SIG_IGN);
    signal(SIGXFSZ, SIG_IGN);
    if (open_signal(gateway, &gateway->term, SIGTERM, on_end_signal) &&
        open_signal(gateway, &gateway->interrupt, SIGINT, on_end_signal) &&
        open_signal(gateway, &gateway->hang_up, SIGHUP, on_hang_up))
        return true;
    snprintf(error, error_size, "signals can't be caught");
    return false;
}

/* Raises the limit of open files as far as the system allows; the face refuses to begin with less than it needs. */
static bool raise_limits(const struct kr_config *config, char *error, size_t error_size)
{
    struct rlimit limit;
    rlim_t needed = kr_face_descriptors(config->face.limits.connections, config->face.n_listen);
    if (getrlimit(RLIMIT_NOFILE, &limit) != 0 || limit.rlim_cur >= needed)
        return true;
    rlim_t had = limit.rlim_cur;
    limit.rlim_cur = limit.rlim_max < needed ? limit.rlim_max : needed;
    if (limit.rlim_cur == needed && setrlimit(RLIMIT_NOFILE, &limit) == 0)
        return true;
    snprintf(error, error_size, "%u connections need %lu open files; the limit is %lu (LimitNOFILE, ulimit -n)",
             config->face.limits.connections, (unsigned long)needed, (unsigned long)had);
    return false;
}

static bool open_audit(struct gateway *gateway, char *error, size_t error_size)
{
    char began[sizeof gateway->config.path + 96];
    int64_t next_id;
    if (!kr_book_audit_next(gateway->book, &next_id)) {
        snprintf(error, error_size, "book: %s", kr_book_error(gateway->book));
        return false;
    }
    audit_open(&gateway->committer.audit, gateway->config.book_path[0] != '\0', next_id);
    gateway->committer.audit.book_station = gateway->book_station;
    snprintf(began, sizeof began, "starts: kniferaild %s, session %u, station file %08" PRIx32, KR_VERSION,
             gateway->session, gateway->config.digest);
    tell_own(gateway, "", began);
    return true;
}

bool gateway_open(struct gateway *gateway, uv_loop_t *loop, const struct args *args, const struct kr_config *config,
                  char *error, size_t error_size)
{
    memset(gateway, 0, sizeof *gateway);
    gateway->loop = loop;
    gateway->args = *args;
    gateway->config = *config;
    if (!raise_limits(config, error, error_size) || !open_book(gateway, error, error_size))
        return false;
    if (!planner_open(&gateway->planner, loop)) {
        snprintf(error, error_size, "there is no memory or no thread for the planner");
        return false;
    }
    committer_open(&gateway->committer, loop, gateway->book, gateway->last_run.sign_utc_s * 1000);
    pruner_set(&gateway->committer.pruner, &gateway->config);
    if (!open_audit(gateway, error, error_size))
        return false;
    traces_open(&gateway->traces, loop, config->book_path[0] != 0 ? config->book_path : NULL);
    for (uint16_t i = 0; i < config->n_stations; i++)
        if (!open_station(gateway, i, error, error_size))
            return false;
    kr_book_all_loaded(gateway->book);
    if (!open_face(gateway, error, error_size) || !open_signals(gateway, error, error_size))
        return false;
    gateway->beating = beat_start(&gateway->beat, loop, config->period_ms * 1000LL, on_beat, gateway);
    begin_page_check(gateway);
    if (gateway->beating)
        supervisor_ready();
    else
        snprintf(error, error_size, "the cycle's timer can't be set");
    return gateway->beating;
}

/* This is the last transaction of a run. A run without it was killed, or lost its power. */
static void store_end(const struct gateway *gateway)
{
    enum kr_run_end end = gateway->came_to_rest ? KR_RUN_ASKED
                          : gateway->shut_down  ? KR_RUN_HURRIED
                                                : KR_RUN_NOT_STARTED;
    if (gateway->session != 0 && !kr_book_end_run(gateway->book, clock_utc_ms(), end))
        log_line(LOG_WARNING, "book: the end of this run can't be stored: %s", kr_book_error(gateway->book));
}

void gateway_close(struct gateway *gateway)
{
    planner_close(&gateway->planner);
    if (gateway->committer.audit.kept) {
        tell_own(gateway, gateway->came_to_rest ? "at rest, and stored" : "not at rest", "ends");
        committer_close(&gateway->committer);
    }
    store_end(gateway);
    for (uint16_t i = 0; i < KR_STATIONS_MAX; i++) {
        if (gateway->host[i] != NULL)
            station_host_close(gateway->host[i]);
        free(gateway->host[i]);
    }
    kr_book_close(gateway->book);
}
