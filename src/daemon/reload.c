/* Reloads the station file on SIGHUP: the thread pool reads the file again, the settings that may change are taken
 * over, and the log says which were and which were not. */
#include <inttypes.h>
#include <stdio.h>

#include "face_config.h"
#include "gateway.h"
#include "log.h"
#include "seed.h"
#include "supervisor.h"

/* For each setting that differs: whether it was taken over, its values, and what a change needs that was not taken
 * over. station is the beginning of the line: the station's name, or nothing. */
static struct {
    unsigned taken, not_taken;
} tally; /* of the reload under way; there is only one at a time */

static void tell_difference(void *station, const struct kr_config_difference *d)
{
    tally.taken += d->taken;
    tally.not_taken += !d->taken;
    char values[sizeof d->was + sizeof d->is + 16] = "";
    if (d->is[0] != '\0')
        snprintf(values, sizeof values, ": %s, was %s", d->is, d->was);
    if (d->taken)
        log_line(LOG_NOTICE, "reload: taken: %s%s%s", (const char *)station, d->where, values);
    else
        log_line(LOG_WARNING, "reload: not taken: %s%s%s; %s", (const char *)station, d->where, values,
                 kr_change_text(d->change));
}

/* ---- the daemon's own settings and the face's ---------------------------------------------------------------- */

static void take_daemon(struct gateway *gateway, const struct kr_config *config)
{
    static struct kr_face_config face; /* static, because it is large; there is only one reload at a time */
    static struct kr_config_face was;
    char why[256];
    was = gateway->config.face;
    enum kr_change strongest = kr_config_take_daemon(&gateway->config, config, KR_CHANGE_LIVE,
                                                     (struct kr_config_listener){tell_difference, ""});
    pruner_set(&gateway->committer.pruner, &gateway->config);
    if (strongest == KR_CHANGE_NONE)
        return;
    for (uint16_t i = 0; i < gateway->config.n_stations; i++)
        story_log_switch(&gateway->host[i]->story, gateway->config.log == KR_LOG_STEPS);
    face_config_from(&gateway->config, &face);
    if (kr_face_reload(gateway->face, &face, why, sizeof why))
        return;
    gateway->config.face = was;
    log_line(LOG_WARNING, "reload: not taken after all: face: %s", why);
}

/* ---- stations --------------------------------------------------------------------------------------------- */

static void take_station(struct station_host *host, const struct kr_config_station *config)
{
    /* Static, because it is large; there is only one reload at a time. */
    static struct kr_config_station wanted;
    char name[KR_NAME_MAX + 2], why[400];
    snprintf(name, sizeof name, "%s: ", host->config.station.name);
    wanted = host->config;
    enum kr_change strongest = kr_config_take(&wanted, config, kr_station_takes(host->station),
                                              (struct kr_config_listener){tell_difference, name});
    if (strongest == KR_CHANGE_NONE)
        return;
    if (!seed_frames_fit(&wanted, kr_station_durable(host->station), why, sizeof why)) {
        log_line(LOG_WARNING, "reload: not taken after all: %s%s", name, why);
        return;
    }
    if (kr_station_reconfigure(host->station, &wanted.station, strongest)) {
        host->config = wanted;
        traces_reconfigured(&host->trace);
    } else
        log_line(LOG_ERROR, "reload: not taken after all: %sthe station refused", name);
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
                     host->config.station.name, kr_change_text(KR_CHANGE_RESTART));
    }
    for (uint16_t i = 0; i < config->n_stations; i++)
        if (kr_config_station_named(&gateway->config, config->station[i].station.name) < 0)
            log_line(LOG_WARNING, "reload: not taken: station %s is new; %s", config->station[i].station.name,
                     kr_change_text(KR_CHANGE_RESTART));
}

/* The digest is of the whole file, even if parts of it were not taken over; the log names those. */
static void take_digest(struct gateway *gateway, uint32_t digest)
{
    if (digest != gateway->config.digest)
        log_line(LOG_NOTICE, "reload: the station file is %08" PRIx32 ", was %08" PRIx32, digest,
                 gateway->config.digest);
    gateway->config.digest = digest;
    for (uint16_t i = 0; i < gateway->config.n_stations; i++)
        gateway->host[i]->file_digest = digest;
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
    log_line(LOG_ERROR, "reload: the station file has mistakes; nothing is taken");
    for (uint16_t i = 0; i < errors->count; i++)
        log_line(LOG_ERROR, "reload: %s", errors->message[i]);
    if (errors->lost > 0)
        log_line(LOG_ERROR, "reload: and %lu more mistakes", (unsigned long)errors->lost);
}

static void audit_reload(struct gateway *gateway)
{
    char result[96];
    snprintf(result, sizeof result, "taken: %u settings; not taken: %u", tally.taken, tally.not_taken);
    audit_tell(&gateway->committer.audit, KR_AUDIT_GATEWAY, 0, "gateway", result,
               "reads the station file again: %08" PRIx32, gateway->config.digest);
}

static void file_read(uv_work_t *work, int status)
{
    struct gateway *gateway = work->data;
    struct reload *reload = &gateway->reload;
    (void)status; /* it is never cancelled */
    reload->busy = false;
    if (!gateway->beating)
        return; /* the gateway has ended meanwhile */
    tally.taken = tally.not_taken = 0;
    if (reload->ok) {
        take_digest(gateway, reload->config.digest);
        take_daemon(gateway, &reload->config);
        take_stations(gateway, &reload->config);
        audit_reload(gateway);
    } else {
        audit_tell(&gateway->committer.audit, KR_AUDIT_GATEWAY, 0, "gateway", "refused: the station file has mistakes",
                   "reads the station file again");
        tell_errors(&reload->errors);
    }
    if (reload->again)
        gateway_reload(gateway);
    else
        supervisor_reloaded();
}

void gateway_reload(struct gateway *gateway)
{
    struct reload *reload = &gateway->reload;
    reload->again = reload->busy;
    if (reload->busy)
        return;
    log_line(LOG_NOTICE, "SIGHUP: reading %s again", gateway->config.path);
    supervisor_reloading();
    reload->work.data = gateway;
    reload->busy = true;
    int rc = uv_queue_work(gateway->loop, &reload->work, read_file, file_read);
    if (rc != 0) {
        reload->busy = false;
        supervisor_reloaded();
        log_line(LOG_ERROR, "reload: %s", uv_strerror(rc));
    }
}
