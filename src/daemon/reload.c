/* SIGHUP: the file is read again in the thread pool, then what may change is taken, and the log says what was and what
 * was not. */
#include <string.h>

#include "face_config.h"
#include "gateway.h"
#include "log.h"

static void not_taken(const char *what, const char *why)
{
    log_line(LOG_WARNING, "reload: not taken: %s: %s", what, why);
}

static const char needs_restart[] = "it needs a restart";

/* ---- the daemon's own settings ---------------------------------------------------------------------------- */

static bool listens_alike(const struct kr_config_face *a, const struct kr_config_face *b)
{
    if (a->n_listen != b->n_listen)
        return false;
    for (uint16_t i = 0; i < a->n_listen; i++)
        if (strcmp(a->listen[i].address, b->listen[i].address) != 0 || a->listen[i].port != b->listen[i].port)
            return false;
    return true;
}

static const char *default_station(const struct kr_config *config)
{
    uint16_t index = config->face.default_station;
    return index < config->n_stations ? config->station[index].station.name : "";
}

static void take_daemon(const struct kr_config *now, const struct kr_config *config)
{
    if (config->period_ms != now->period_ms)
        not_taken("period_ms", needs_restart);
    if (config->speed_factor != now->speed_factor)
        not_taken("speed_factor", needs_restart);
    if (strcmp(config->book_path, now->book_path) != 0)
        not_taken("book", needs_restart);
    if (!listens_alike(&config->face, &now->face))
        not_taken("face.listen", needs_restart);
    if (config->face.limits.connections != now->face.limits.connections)
        not_taken("face.connections", needs_restart);
    if (config->face.limits.queued_answers != now->face.limits.queued_answers)
        not_taken("face.queued_answers", needs_restart);
    if (strcmp(default_station(config), default_station(now)) != 0)
        not_taken("face.default_station", needs_restart);
    if (strcmp(config->face.user_application, now->face.user_application) != 0)
        not_taken("face.user_application", needs_restart);
}

static void take_face(struct gateway *gateway, const struct kr_config *config)
{
    static struct kr_face_config face; /* large; one reload at a time */
    char why[256];
    face_config_from(config, &face);
    if (kr_face_reload(gateway->face, &face, why, sizeof why))
        log_line(LOG_NOTICE, "reload: taken: who may read, control and maintain; limits of connections");
    else
        not_taken("face", why);
}

/* ---- stations --------------------------------------------------------------------------------------------- */

/* The config's reader leaves every byte of a struct defined, so that what is equal compares equal, and a setting that
 * is added to a struct is compared without anybody thinking of it. */
static bool same(const void *a, const void *b, size_t size)
{
    return memcmp(a, b, size) == 0;
}

/* What the machine simulated in this process, the book and the face were set up for. */
static const char *rebuilt(const struct kr_config_station *a, const struct kr_config_station *b)
{
    const struct kr_geometry *ga = &a->station.geometry, *gb = &b->station.geometry;
    if (a->unit_id != b->unit_id)
        return "unit_id";
    if (a->station.format.length_unit != b->station.format.length_unit)
        return "length_unit";
    if (a->station.format.low_word_first != b->station.format.low_word_first)
        return "word_order";
    if (ga->n_rails != gb->n_rails)
        return "number of rails";
    if (a->positioner != b->positioner || a->has_drives != b->has_drives ||
        !same(a->drive, b->drive, sizeof a->drive))
        return "positioner or drives";
    for (uint16_t r = 0; r < ga->n_rails; r++)
        if (ga->rail[r].n_holders != gb->rail[r].n_holders || ga->rail[r].role != gb->rail[r].role)
            return "holders or roles of the rails";
    return NULL;
}

/* The tolerances lie in the geometry for the planner's sake; they are limits, not geometry. */
static bool geometry_changed(const struct kr_station_config *a, const struct kr_station_config *b)
{
    struct kr_geometry ga, gb;
    memcpy(&ga, &a->geometry, sizeof ga); /* an assignment may leave bytes between the fields behind */
    memcpy(&gb, &b->geometry, sizeof gb);
    ga.tolerance_um = gb.tolerance_um;
    ga.tolerance_max_um = gb.tolerance_max_um;
    return !same(&ga, &gb, sizeof ga) || !same(a->carriage, b->carriage, sizeof a->carriage);
}

/* Where its holders stand is the book's to say from the second start on, and no setting of the machine. */
static bool other_machine(const struct sim_config *now, const struct sim_config *config)
{
    struct sim_config wanted;
    memcpy(&wanted, config, sizeof wanted);
    for (uint16_t r = 0; r < wanted.n_rails; r++)
        for (uint16_t h = 0; h < wanted.rail[r].n_holders; h++) {
            wanted.rail[r].holder[h].start_um = now->rail[r].holder[h].start_um;
            wanted.rail[r].holder[h].absent = now->rail[r].holder[h].absent;
        }
    return !same(&wanted, now, sizeof wanted);
}

static void take_station(struct station_host *host, const struct kr_config_station *config)
{
    const char *name = host->config.station.name;
    const char *what = rebuilt(&host->config, config);
    struct kr_station_config station = config->station;
    station.period_us = host->period_us; /* the cycle's: it stays as it is until a restart */
    if (what != NULL) {
        log_line(LOG_WARNING, "reload: not taken: %s: %s: %s", name, what, needs_restart);
        return;
    }
    if (config->positioner == KR_POSITIONER_SIMULATED &&
        other_machine(&host->config.simulated, &config->simulated))
        log_line(LOG_WARNING, "reload: not taken: %s: simulated machine: %s", name, needs_restart);
    bool geometry = geometry_changed(&host->config.station, &station);
    if (geometry && !kr_station_reconfigure(host->station, &station, true)) {
        log_line(LOG_WARNING,
                 "reload: not taken: %s: geometry and carriages: only while the unit is stopped or idle",
                 name);
        memcpy(station.carriage, host->config.station.carriage, sizeof station.carriage);
        struct kr_geometry keep = host->config.station.geometry;
        keep.tolerance_um = station.geometry.tolerance_um;
        keep.tolerance_max_um = station.geometry.tolerance_max_um;
        station.geometry = keep;
        geometry = false;
    }
    if (!geometry && !kr_station_reconfigure(host->station, &station, false)) {
        log_line(LOG_WARNING, "reload: not taken: %s: the unit's state does not allow it", name);
        return;
    }
    host->config.station = station;
    log_line(LOG_NOTICE, "reload: taken: %s: %slimits, tolerances and permissives", name,
             geometry ? "geometry, carriages, " : "");
}

static void take_stations(struct gateway *gateway, const struct kr_config *config)
{
    for (uint16_t i = 0; i < gateway->config.n_stations; i++) {
        struct station_host *host = gateway->host[i];
        int at = kr_config_station_named(config, host->config.station.name);
        if (at >= 0)
            take_station(host, &config->station[at]);
        else
            log_line(LOG_WARNING, "reload: not taken: station %s is not in the file any more; %s",
                     host->config.station.name, needs_restart);
    }
    for (uint16_t i = 0; i < config->n_stations; i++)
        if (kr_config_station_named(&gateway->config, config->station[i].station.name) < 0)
            log_line(LOG_WARNING, "reload: not taken: station %s is new; %s", config->station[i].station.name,
                     needs_restart);
}

/* ---- reading ---------------------------------------------------------------------------------------------- */

static void read_file(uv_work_t *work)
{
    struct gateway *gateway = work->data;
    struct reload *reload = &gateway->reload;
    reload->ok = kr_config_read(gateway->config.path, &reload->config, &reload->errors);
    if (reload->ok)
        args_override(&gateway->args, &reload->config);
}

static void tell_errors(const struct kr_config_errors *errors)
{
    log_line(LOG_ERROR, "reload: the file is wrong; nothing is taken");
    for (uint16_t i = 0; i < errors->count; i++)
        log_line(LOG_ERROR, "reload: %s", errors->message[i]);
    if (errors->lost > 0)
        log_line(LOG_ERROR, "reload: and %lu more mistakes", (unsigned long)errors->lost);
}

static void file_read(uv_work_t *work, int status)
{
    struct gateway *gateway = work->data;
    struct reload *reload = &gateway->reload;
    (void)status; /* it is never cancelled */
    reload->busy = false;
    if (!gateway->beating)
        return; /* the gateway has ended meanwhile */
    if (reload->ok) {
        take_daemon(&gateway->config, &reload->config);
        take_face(gateway, &reload->config);
        take_stations(gateway, &reload->config);
    } else {
        tell_errors(&reload->errors);
    }
    if (reload->again)
        gateway_reload(gateway);
}

void gateway_reload(struct gateway *gateway)
{
    struct reload *reload = &gateway->reload;
    reload->again = reload->busy;
    if (reload->busy)
        return;
    log_line(LOG_NOTICE, "SIGHUP: reading %s again", gateway->config.path);
    reload->work.data = gateway;
    reload->busy = true;
    int rc = uv_queue_work(gateway->loop, &reload->work, read_file, file_read);
    if (rc != 0) {
        reload->busy = false;
        log_line(LOG_ERROR, "reload: %s", uv_strerror(rc));
    }
}
