/* What the log tells of a station: unit states, alarms in words, commands and requests with what became of them. */
#ifndef DAEMON_STATION_LOG_H
#define DAEMON_STATION_LOG_H

#include "committer.h"
#include "kniferail/bucket.h"

struct station_log {
    const char *name;
    struct kr_format format;
    enum kr_unit_state state;
    uint16_t n_alarms;
    struct kr_alarm alarm[KR_ALARMS_KNOWN_MAX];
    struct kr_snapshot command; /* the last that was told */
    char command_origin[KR_ORIGIN_MAX];
    bool command_untold;
    struct kr_buckets buckets; /* of what clients can provoke at will */
    uint64_t now_ms;
    uint16_t verdict_session, verdict_number;
    enum kr_code verdict_code;
    char request_origin[KR_ORIGIN_MAX]; /* who wrote the request that was taken last */
    uint16_t edit_session, edit_number;
    char edit_origin[KR_ORIGIN_MAX];
    struct audit *audit;     /* borrowed; NULL: there is none */
    uint16_t station_number; /* in the station file, from 1 */
    uint16_t gap_ms;         /* of the PLC's heartbeat, as it was told last */
};

void station_log_open(struct station_log *log, const char *name, const struct kr_station *station,
                      struct kr_format format);

/* Called after every step. Alarms also go to the book. */
void station_log_step(struct station_log *log, const struct kr_station *station,
                      struct station_commits *commits);

/* A command was handed to the station in this cycle. origin: the address that wrote it. */
void station_log_command(struct station_log *log, const struct kr_snapshot *command, const char *origin);

/* A request, or a maintenance request, was. */
void station_log_request(struct station_log *log, const char *origin);
void station_log_edit(struct station_log *log, const char *origin);

/* A HALT was handed to the station, with what became of it. origin: the address that wrote it. */
void station_log_halt(struct station_log *log, uint16_t command, const char *origin,
                      const struct kr_result *result);

/* Called when an image is published: tells what it says of the command and of the request. */
void station_log_image(struct station_log *log, const struct kr_image *image, uint64_t now_ms);

#endif
