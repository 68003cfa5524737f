/* Records each station. The last minutes of every station are always in memory. Around an alarm that stops the machine,
 * an abort, and a maintenance request they are frozen, and the thread pool writes them to a file beside the book, one
 * file at a time for the whole daemon. Recording continues meanwhile. The cycle itself writes no file. */
#ifndef DAEMON_TRACES_H
#define DAEMON_TRACES_H

#include <uv.h>

#include "kniferail/config.h"
#include "kniferail/trace.h"

#define TRACES_AFTER_US 5000000 /* machine time after the cause that is still recorded in the file */
/* Machine time between two files: alarms that follow each other closely cause at most one file in this time. */
#define TRACES_APART_US 30000000
#define TRACES_FILES    16 /* files of each station; the oldest file is deleted for a further one */
#define TRACES_PATH_MAX 1024

/* The recorder's data of one station. */
struct station_trace {
    uint16_t number; /* the station's number in the station file, from 1 */
    struct kr_trace_head head;
    const struct kr_station *station;
    void *memory;
    struct kr_trace_ring ring;
    /* Of the last cycle; by comparing them with the next ones, a cause of a file is found. */
    struct kr_station_steps seen;
    bool wanted;
    int64_t now_us, last_us; /* machine time: of this cycle, and of the last file */
    /* Of the wanted file: until when to record after its cause; when it may be begun. */
    int64_t after_us, due_us;
};

struct traces {
    uv_loop_t *loop;
    char folder[TRACES_PATH_MAX]; /* "": no files are written, because there is no book */
    uint16_t n_stations;
    struct station_trace *station[KR_STATIONS_MAX];
    bool ending;
    bool copied; /* in this cycle a file was begun, and its station's state copied */
    /* The file that the pool is writing: */
    uv_work_t work;
    struct station_trace *busy_with; /* NULL: none is being written */
    struct kr_trace_frozen frozen;
    struct kr_trace_head head;
    char stem[TRACES_PATH_MAX + 128]; /* the path up to its time; a serial number and ".trace" follow */
    char path[TRACES_PATH_MAX + 160];
    char error[KR_TRACE_TEXT_MAX + TRACES_PATH_MAX];
    bool ok;
};

/* book_path: NULL if there is no book. */
void traces_open(struct traces *traces, uv_loop_t *loop, const char *book_path);

/* Copies name, geometry and unit. The station must have been initialized. False: there is not enough memory. */
bool traces_add(struct traces *traces, struct station_trace *trace, const struct kr_station *station,
                const struct kr_station_config *config);

/* Called after each step of the station; the pool may begin to write a file. */
void traces_step(struct traces *traces, struct station_trace *trace, const struct kr_station_in *in,
                 const struct kr_station_out *out);

/* Called after each cycle of the gateway. At most one station copies its state in a cycle, if the copies can wait. */
void traces_cycle(struct traces *traces);

/* Call it when the station has another config. */
void traces_reconfigured(struct station_trace *trace);

/* Called when the daemon ends: begins to write the wanted files at once; the loop ends when they are written. */
void traces_end(struct traces *traces);

void traces_free(struct station_trace *trace);

#endif
