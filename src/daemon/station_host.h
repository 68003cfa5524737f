/* One station as the daemon runs it: its cycle, from the inputs of face and positioner to the published image. */
#ifndef DAEMON_STATION_HOST_H
#define DAEMON_STATION_HOST_H

#include "committer.h"
#include "kniferail/config.h"
#include "kniferail/face.h"
#include "kniferail/positioner.h"
#include "plans.h"
#include "record.h"
#include "station_log.h"
#include "story_log.h"
#include "traces.h"

struct station_host {
    uint16_t index, n_stations;      /* index of this station, and how many there are */
    struct kr_config_station config; /* a copy; its geometry may be older than the file's */
    int32_t period_us, speed_factor;
    struct kr_face *face;        /* borrowed */
    struct committer *committer; /* borrowed */
    struct traces *traces;       /* borrowed */
    struct kr_station *station;
    struct kr_positioner positioner;
    struct kr_station_in in;
    struct kr_station_out out;
    struct kr_image image;
    uint32_t build;              /* identifies the build of this program */
    uint32_t file_digest;        /* of the last station file that was read and found right */
    struct kr_book_run last_run; /* the gateway's run before this one */
    int64_t run_began_utc_ms;    /* when this run began */
    int64_t record_ended_s;      /* when the job of the last record ended, in seconds since 1970 UTC; 0: never */
    char halt_origin[KR_FACE_ADDRESS_MAX]; /* the address that wrote HALT in this cycle */
    uint16_t generation;                   /* of control, as read in this cycle */
    int64_t began_us;                      /* when this cycle began, by clock_us() */
    int32_t steps_left;                    /* steps left in this cycle; more than one only with a speed factor */
    int32_t steps_done;
    struct plans plans;
    struct kr_plan_answer answer; /* the answer that the next step takes; ticket 0: none */
    struct station_commits commits;
    struct recorder recorder;
    struct station_log log;
    struct station_trace trace;
    struct story_log story;
};

/* config and durable are copied; planner is borrowed. The station's name stays in config. False: *error says why; call
 * station_host_close() nonetheless. */
bool station_host_open(struct station_host *host, struct planner *planner, uint16_t index,
                       const struct kr_config_station *config, uint16_t n_stations, int32_t speed_factor,
                       uint16_t session, const struct kr_durable *durable, char *error, size_t error_size);
void station_host_close(struct station_host *host);

/* Publishes an image before the first cycle, so that no client reads a session of 0 in the first milliseconds. */
void station_host_publish(struct station_host *host);

/* Runs one cycle. */
void station_host_cycle(struct station_host *host, uint32_t cycles, uint32_t overruns, bool shut_down);

#endif
