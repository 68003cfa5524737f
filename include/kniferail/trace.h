/* trace: records what a station was told and what it did in the last minutes. A trace is kept in memory, can be written
 * to a file and read again, can be told in words, and can be replayed bit for bit through this build's station.
 *
 * A checkpoint is a copy of the whole state of the station, which is flat. After it, each cycle is recorded as: the
 * 16-bit words of the input images that changed; the answer to a plan's ticket if one came; the changed words of the
 * output images and of struct kr_station_steps. Nothing else reaches a station, so that the same code makes the same
 * state from a checkpoint on. A checkpoint and the cycles after it are a segment. A start and a new config begin a
 * segment.
 *
 * Structs are kept as they lie in memory. A file names the layout of the build that wrote it (kr_layout_digest()), and
 * only a build with the same layout shows or replays it. Checksums find damage. They do not protect against a file that
 * was made to deceive, whose state would be replayed unchanged.
 *
 * Recording allocates nothing and calls no system function. Files, reading and replay are for the thread pool and the
 * command line. Stands on station, plan, base and zlib. Only one thread at a time may use an object. */
#ifndef KNIFERAIL_TRACE_H
#define KNIFERAIL_TRACE_H

#include "kniferail/station.h"

/* ---- recording ------------------------------------------------------------------------------------------------- */

#define KR_TRACE_SEGMENT_BYTES ((size_t)512 * 1024)
#define KR_TRACE_SEGMENTS      12
/* Size of the memory for each station. */
#define KR_TRACE_BYTES (KR_TRACE_SEGMENTS * KR_TRACE_SEGMENT_BYTES)
/* Segments that can be written to a file at one time, while the others go on recording. */
#define KR_TRACE_FROZEN_MAX 8

/* The images of the previous cycle. A plan is recorded in the cycle in which it comes. */
struct kr_trace_last {
    unsigned char in[offsetof(struct kr_station_in, plan)];
    struct kr_station_out out;
    struct kr_station_steps steps;
};

/* The segments in memory. Its fields belong to src/trace. */
struct kr_trace_ring {
    unsigned char *memory;
    struct kr_trace_slot {
        uint64_t number; /* grows from segment to segment; 0: empty */
        size_t bytes;
        bool frozen;
    } slot[KR_TRACE_SEGMENTS];
    int current; /* index of the slot that is being written; -1: none, because all others are frozen */
    uint64_t segments, cycles;
    uint32_t not_recorded; /* cycles that were not recorded */
    struct kr_trace_last last;
};

/* memory has KR_TRACE_BYTES bytes, aligned as malloc() aligns them. It is borrowed until the ring is no longer used. */
void kr_trace_ring_init(struct kr_trace_ring *ring, void *memory);

/* Begins a segment that continues no other one, after kr_station_init() and kr_station_reconfigure(). utc_ms is now. */
void kr_trace_ring_begin(struct kr_trace_ring *ring, const struct kr_station *station, int64_t utc_ms);

/* Records a cycle. Call it after each kr_station_step(), with the station's input and output. */
void kr_trace_ring_step(struct kr_trace_ring *ring, const struct kr_station *station, const struct kr_station_in *in,
                        const struct kr_station_out *out, int64_t utc_ms);

/* Begins the next segment if the current one has room for only a few more seconds. True: it did. A gateway of many
 * stations calls it for them in turn, so that no two stations copy their state in the same cycle. If a segment is full,
 * the next one begins without this call. */
bool kr_trace_ring_renew(struct kr_trace_ring *ring, const struct kr_station *station, int64_t utc_ms);

/* Segments that do not change while they are written to a file. */
struct kr_trace_frozen {
    uint16_t n;
    const unsigned char *segment[KR_TRACE_FROZEN_MAX]; /* in the ring's memory, the oldest first */
    size_t bytes[KR_TRACE_FROZEN_MAX];
};

/* Freezes everything that is recorded until now, but at most the newest KR_TRACE_FROZEN_MAX segments. Recording goes on
 * in the others. False: earlier segments are still frozen, or there is nothing to freeze. */
bool kr_trace_ring_freeze(struct kr_trace_ring *ring, const struct kr_station *station, int64_t utc_ms,
                          struct kr_trace_frozen *frozen);
void kr_trace_ring_thaw(struct kr_trace_ring *ring);

/* ---- a file ---------------------------------------------------------------------------------------------------- */

#define KR_TRACE_TEXT_MAX   256
#define KR_TRACE_REASON_MAX 160

struct kr_trace_head {
    char layout[20];                  /* kr_layout_digest() of the build that wrote it */
    char program[32];                 /* its version, and the compiler */
    char station[KR_NAME_MAX];        /* name */
    char reason[KR_TRACE_REASON_MAX]; /* why it was kept */
    int64_t first_utc_ms, last_utc_ms;
    uint32_t cycles;
    uint16_t n_segments;
    uint16_t length_unit; /* enum kr_length_unit */
    uint16_t n_rails, n_holders[KR_RAILS_MAX];
};

/* Writes a file. The caller fills in station, reason, length_unit and rails of *head; the call fills in the other
 * fields. The file gets its name once it is whole and on the disk. True: its name is on the disk, too. Nothing is
 * written through a link. False: *error says why, and no file is left. The call blocks. */
bool kr_trace_write(const char *path, struct kr_trace_head *head, const struct kr_trace_frozen *frozen, char *error,
                    size_t error_size);

/* Makes the folder for such files, which may already exist. True: its name is on the disk. False: *error says why not.
 * The call blocks. */
bool kr_trace_make_folder(const char *path, char *error, size_t error_size);

struct kr_trace;

/* Reads and checks all of a file, or of bytes in memory. NULL: *error is one line that says why not. */
struct kr_trace *kr_trace_open(const char *path, char *error, size_t error_size);
struct kr_trace *kr_trace_read(const unsigned char *bytes, size_t n, char *error, size_t error_size);
void kr_trace_close(struct kr_trace *trace); /* NULL: does nothing */

const struct kr_trace_head *kr_trace_head(const struct kr_trace *trace);

/* Reads the head alone, which has a checksum of its own. */
bool kr_trace_look(const char *path, struct kr_trace_head *head, char *error, size_t error_size);

/* ---- its cycles ------------------------------------------------------------------------------------------------ */

struct kr_trace_frame {
    uint64_t cycle; /* counted from the first one that the gateway recorded */
    int64_t utc_ms;
    const struct kr_station *checkpoint; /* the state before this cycle if it is recorded, otherwise NULL */
    bool goes_on;                        /* with a checkpoint: this frame follows the previous frame without a gap */
    const struct kr_station_in *in;
    const struct kr_station_out *out;
    const struct kr_station_steps *steps;
};

struct kr_trace_cursor;

/* Begins to read the cycles. The trace is borrowed. NULL: the trace has another layout, or there is no memory; *error
 * says so in one line. */
struct kr_trace_cursor *kr_trace_begin(const struct kr_trace *trace, char *error, size_t error_size);
void kr_trace_end(struct kr_trace_cursor *cursor);

enum kr_trace_next { KR_TRACE_FRAME, KR_TRACE_OVER, KR_TRACE_DAMAGED };
/* *frame is valid until the next call. */
enum kr_trace_next kr_trace_next(struct kr_trace_cursor *cursor, struct kr_trace_frame *frame);

/* ---- replay ---------------------------------------------------------------------------------------------------- */

struct kr_trace_result {
    /* Number of replayed cycles, and of checkpoints that were compared as a whole. */
    uint64_t cycles, checkpoints;
    bool parted; /* the replay differs from the record; the following fields tell where first */
    uint64_t cycle;
    int64_t utc_ms;
    const char *of; /* "output", "steps" or "state" */
    char field[128], recorded[32], replayed[32];
};

/* Sees the station after each replayed cycle. see may be NULL. */
struct kr_trace_witness {
    void (*see)(void *arg, const struct kr_trace_frame *frame, const struct kr_station *station);
    void *arg;
};

/* Gives the recorded inputs to the station of this build, and compares all its outputs with the record. It goes on
 * after the first difference, because each checkpoint begins anew with the recorded state. False: it could not be done,
 * and *error says why in one line. */
bool kr_trace_replay(const struct kr_trace *trace, struct kr_trace_witness witness, struct kr_trace_result *result,
                     char *error, size_t error_size);

/* ---- the story in words ---------------------------------------------------------------------------------------- */

#define KR_STORY_LINE_MAX 320

struct kr_story_teller {
    /* rail is a number, or 0 if the line is about no rail. important: the line is about something that stopped the
     * station, or about a request of somebody. */
    void (*tell)(void *arg, int64_t utc_ms, uint16_t rail, bool important, const char *line);
    void *arg;
};

/* Flat data. Its fields belong to src/trace. */
struct kr_story {
    struct kr_story_teller teller;
    uint16_t n_rails;
    enum kr_length_unit length_unit;
    bool begun;
    int64_t utc_ms;
    struct kr_station_steps steps; /* these four fields are from the previous cycle */
    struct kr_axis_in axis[KR_RAILS_MAX];
    uint16_t permissives;
    bool controlled;
    /* Greatest age of the drive's image since it answers late; 0: it does not answer late. */
    int32_t oldest_ms[KR_RAILS_MAX];
};

void kr_story_begin(struct kr_story *story, uint16_t n_rails, enum kr_length_unit unit, struct kr_story_teller teller);

/* Call it after each cycle. It tells a line for each step of a carriage that has ended in the cycle: what the step
 * waited for, how long, and against which limit. It also tells unit states, phases, alarms, links, faults of drives,
 * permissives, commands and requests. */
void kr_story_cycle(struct kr_story *story, int64_t utc_ms, const struct kr_station_in *in,
                    const struct kr_station_steps *steps);

/* Tells what the station still waits for. */
void kr_story_end(struct kr_story *story);

#endif
