/* One station as the daemon runs it: its cycle, from the face's and the positioner's inputs to the published image. */
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
    uint16_t index, n_stations;      /* which one of how many */
    struct kr_config_station config; /* as taken; its geometry may be older than the file's */
    int32_t period_us, speed_factor;
    struct kr_face *face;        /* borrowed */
    struct committer *committer; /* borrowed */
    struct traces *traces;       /* borrowed */
    struct kr_station *station;
    struct kr_positioner positioner;
    struct kr_station_in in;
    struct kr_station_out out;
    struct kr_image image;
    uint32_t build;                        /* of this program */
    uint32_t file_digest;                  /* of the station file that was read last and found right */
    struct kr_book_run last_run;           /* the gateway's run before this one */
    int64_t run_began_utc_ms;              /* when this one began */
    int64_t record_ended_s;                /* when the job of the last record did, since 1970 UTC; 0: never */
    char halt_origin[KR_FACE_ADDRESS_MAX]; /* who wrote HALT in this cycle */
    uint16_t generation;                   /* of control, as taken in this cycle */
    int64_t began_us;                      /* this cycle, by clock_us() */
    int32_t steps_left;                    /* of this cycle: more than one with a speed factor only */
    int32_t steps_done;
    struct plans plans;
    struct kr_plan_answer answer; /* of the next step; ticket 0: none */
    struct station_commits commits;
    struct recorder recorder;
    struct station_log log;
    struct station_trace trace;
    struct story_log story;
};

/* config, durable: copied; planner: borrowed. name lives in config. False: *error says why; call unit_close
 * nonetheless. */
bool station_host_open(struct station_host *host, struct planner *planner, uint16_t index,
                       const struct kr_config_station *config, uint16_t n_stations, int32_t speed_factor,
                       uint16_t session, const struct kr_durable *durable, char *error, size_t error_size);
void station_host_close(struct station_host *host);

/* Before the first cycle: a client must not read a session of 0 in the first milliseconds. */
void station_host_publish(struct station_host *host);

/* One cycle. */
void station_host_cycle(struct station_host *host, uint32_t cycles, uint32_t overruns, bool shut_down);

#endif
