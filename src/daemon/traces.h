/* The recorder: each station's last minutes are in memory, always. Around an alarm that stops, an abort, and a
 * maintenance request they are frozen, and written by the thread pool to a file beside the book, one file at a time
 * for the whole daemon. Recording goes on meanwhile. The cycle writes nothing. */
#ifndef DAEMON_TRACES_H
#define DAEMON_TRACES_H

#include <uv.h>

#include "kniferail/config.h"
#include "kniferail/trace.h"

#define TRACES_AFTER_US 5000000 /* machine time: what happens so long after the cause is in the file, too */
#define TRACES_APART_US \
    30000000               /* machine time: a row of alarms gets a file for each of such spans, no more */
#define TRACES_FILES    16 /* of each station: then the oldest gives way */
#define TRACES_PATH_MAX 1024

/* One station's part. */
struct station_trace {
    uint16_t number; /* of the station in the file, from 1 */
    struct kr_trace_head head;
    const struct kr_station *station;
    void *memory;
    struct kr_trace_ring ring;
    struct kr_station_steps seen; /* of the last cycle: what caused a file then */
    bool wanted;
    int64_t now_us, last_us;  /* machine time: of this cycle, of the last file */
    int64_t after_us, due_us; /* and of the wanted file: its cause's sequel is recorded; it may be begun */
};

struct traces {
    uv_loop_t *loop;
    char folder[TRACES_PATH_MAX]; /* "": no file is kept, because there is no book */
    uint16_t n_stations;
    struct station_trace *station[KR_STATIONS_MAX];
    bool ending;
    bool copied; /* a file was begun in this cycle, with a copy of its station's state */
    /* of the file that the pool writes */
    uv_work_t work;
    struct station_trace *busy_with; /* NULL: none is being written */
    struct kr_trace_frozen frozen;
    struct kr_trace_head head;
    char stem[TRACES_PATH_MAX + 128]; /* the path up to the second */
    char path[TRACES_PATH_MAX + 160];
    char error[KR_TRACE_TEXT_MAX + TRACES_PATH_MAX];
    bool ok;
};

/* book_path: NULL without a book. */
void traces_open(struct traces *traces, uv_loop_t *loop, const char *book_path);

/* name, geometry and unit: copied; the station is initialized already. False: there is no memory. */
bool traces_add(struct traces *traces, struct station_trace *trace, const struct kr_station *station,
                const struct kr_station_config *config);

/* After each step of the station; the pool may begin to write. */
void traces_step(struct traces *traces, struct station_trace *trace, const struct kr_station_in *in,
                 const struct kr_station_out *out);

/* After each cycle of the gateway: at most one station copies its state in it, as far as that can wait. */
void traces_cycle(struct traces *traces);

/* The station has another config. */
void traces_reconfigured(struct station_trace *trace);

/* The daemon ends: what is wanted is written at once; the loop ends when that is done. */
void traces_end(struct traces *traces);

void traces_free(struct station_trace *trace);

#endif
