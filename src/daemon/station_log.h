/* Logs the events of a station: unit states, alarms in words, commands and requests, and their results. */
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
    struct kr_snapshot command; /* the last command that was logged */
    char command_origin[KR_ORIGIN_MAX];
    bool command_untold;
    struct kr_buckets buckets; /* they limit the lines that clients can cause at will */
    uint64_t now_ms;
    uint16_t verdict_session, verdict_number;
    enum kr_code verdict_code;
    char request_origin[KR_ORIGIN_MAX]; /* the address that wrote the last request */
    uint16_t edit_session, edit_number;
    char edit_origin[KR_ORIGIN_MAX];
    struct audit *audit;     /* borrowed; NULL: there is none */
    uint16_t station_number; /* the station's number in the station file, from 1 */
    uint16_t gap_ms;         /* the gap in the PLC's heartbeat that was logged last */
};

void station_log_open(struct station_log *log, const char *name, const struct kr_station *station,
                      struct kr_format format);

/* Called after every step. Alarms are also written to the book. */
void station_log_step(struct station_log *log, const struct kr_station *station, struct station_commits *commits);

/* Called when a command was handed to the station in this cycle. origin: the address that wrote it. */
void station_log_command(struct station_log *log, const struct kr_snapshot *command, const char *origin);

/* The same for a request, and for a maintenance request. */
void station_log_request(struct station_log *log, const char *origin);
void station_log_edit(struct station_log *log, const char *origin);

/* Called when a HALT was handed to the station. origin: the address that wrote it; result: the station's answer. */
void station_log_halt(struct station_log *log, uint16_t command, const char *origin, const struct kr_result *result);

/* Called when an image is published: logs what the image says of the last command and the last request. */
void station_log_image(struct station_log *log, const struct kr_image *image, uint64_t now_ms);

#endif
