/* trace: what a station was told and did in the last minutes, kept in memory, written to a file, read again, told in
 * words, and replayed through this build's station bit for bit.
 *
 * What is recorded. A checkpoint is a copy of the whole state of the station, which is flat. Behind it each cycle has
 * the 16-bit words of the input images that changed, the answer to a plan's ticket where one came, the changed words
 * of the output images, and of where the station was (struct kr_station_steps). Nothing else reaches a station, so
 * that from a checkpoint on the same code gives the same state. A checkpoint and the cycles behind it are a segment;
 * a start and another config begin one.
 *
 * Structs are kept as they lie in memory. A file names the layout of the build that wrote it (kr_layout_digest()),
 * and only a build with the same layout shows or replays it. Checksums find damage; they are no protection against a
 * file that was made to deceive, whose state would be replayed as it stands.
 *
 * Recording allocates nothing and calls no system. Files, reading and replay are for the thread pool and the command
 * line. Stands on station, plan, base and zlib. One thread at a time for each object. */
#ifndef KNIFERAIL_TRACE_H
#define KNIFERAIL_TRACE_H

#include "kniferail/station.h"

/* ---- recording ------------------------------------------------------------------------------------------------- */

#define KR_TRACE_SEGMENT_BYTES ((size_t)512 * 1024)
#define KR_TRACE_SEGMENTS      12
#define KR_TRACE_BYTES         (KR_TRACE_SEGMENTS * KR_TRACE_SEGMENT_BYTES) /* of memory for each station */
#define KR_TRACE_FROZEN_MAX    8 /* segments: the others go on recording while these are written */

/* The images of the cycle before. A plan is kept in the cycle in which it comes. */
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
    int current; /* index of the slot that is written; -1: none, all others are frozen */
    uint64_t segments, cycles;
    uint32_t not_recorded; /* cycles */
    struct kr_trace_last last;
};

/* memory has KR_TRACE_BYTES, aligned as malloc's. It is borrowed until the ring is used no more. */
void kr_trace_ring_init(struct kr_trace_ring *ring, void *memory);

/* Begins a segment that continues no other: after kr_station_init() and kr_station_reconfigure(). utc_ms: now. */
void kr_trace_ring_begin(struct kr_trace_ring *ring, const struct kr_station *station, int64_t utc_ms);

/* Call it after each kr_station_step(), with what the station was given and gave. */
void kr_trace_ring_step(struct kr_trace_ring *ring, const struct kr_station *station,
                        const struct kr_station_in *in, const struct kr_station_out *out, int64_t utc_ms);

/* Begins the next segment, if the current one has room left for seconds at most. True: it did. A gateway of many
 * stations asks them in turn, so that no two of them copy their state in the same cycle. If a segment is full, the next
 * one begins without this call. */
bool kr_trace_ring_renew(struct kr_trace_ring *ring, const struct kr_station *station, int64_t utc_ms);

/* Segments that stay as they are while they are written. */
struct kr_trace_frozen {
    uint16_t n;
    const unsigned char *segment[KR_TRACE_FROZEN_MAX]; /* in the ring's memory; the oldest first */
    size_t bytes[KR_TRACE_FROZEN_MAX];
};

/* Freezes all that is recorded until now, at most the newest KR_TRACE_FROZEN_MAX segments; recording goes on in the
 * others. False: what was frozen before has not been thawed yet, or there is nothing to freeze. */
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
 * fields. The file gets its name once it is whole and on the disk, and true says that the name is on the disk, too.
 * Nothing is written through a link. False: *error says why, and no file is left. Blocks. */
bool kr_trace_write(const char *path, struct kr_trace_head *head, const struct kr_trace_frozen *frozen,
                    char *error, size_t error_size);

/* Makes the folder for such files; it may be there already. True: its name is on the disk. False: *error says why not.
 * Blocks. */
bool kr_trace_make_folder(const char *path, char *error, size_t error_size);

struct kr_trace;

/* Reads and checks all of a file, or of bytes in memory. NULL: *error is one line that says why not. */
struct kr_trace *kr_trace_open(const char *path, char *error, size_t error_size);
struct kr_trace *kr_trace_read(const unsigned char *bytes, size_t n, char *error, size_t error_size);
void kr_trace_close(struct kr_trace *trace); /* NULL: nothing */

const struct kr_trace_head *kr_trace_head(const struct kr_trace *trace);

/* Reads the head alone, which has a checksum of its own. */
bool kr_trace_look(const char *path, struct kr_trace_head *head, char *error, size_t error_size);

/* ---- its cycles ------------------------------------------------------------------------------------------------ */

struct kr_trace_frame {
    uint64_t cycle; /* counted from the first one that the gateway recorded */
    int64_t utc_ms;
    const struct kr_station *checkpoint; /* the state before this cycle, where one is recorded; else NULL */
    bool goes_on; /* with a checkpoint: the cycle before it is the frame before this one */
    const struct kr_station_in *in;
    const struct kr_station_out *out;
    const struct kr_station_steps *steps;
};

struct kr_trace_cursor;

/* Begins to read the cycles. The trace is borrowed. NULL: the layout is another one, or there is no memory; *error is
 * one line that says so. */
struct kr_trace_cursor *kr_trace_begin(const struct kr_trace *trace, char *error, size_t error_size);
void kr_trace_end(struct kr_trace_cursor *cursor);

enum kr_trace_next { KR_TRACE_FRAME, KR_TRACE_OVER, KR_TRACE_DAMAGED };
/* *frame is valid until the next call. */
enum kr_trace_next kr_trace_next(struct kr_trace_cursor *cursor, struct kr_trace_frame *frame);

/* ---- replay ---------------------------------------------------------------------------------------------------- */

struct kr_trace_result {
    uint64_t cycles, checkpoints; /* replayed; compared as a whole */
    bool parted;                  /* at: */
    uint64_t cycle;
    int64_t utc_ms;
    const char *of; /* "output", "steps" or "state" */
    char field[128], recorded[32], replayed[32];
};

/* Sees the station after each replayed cycle. NULL: nobody does. */
struct kr_trace_witness {
    void (*see)(void *arg, const struct kr_trace_frame *frame, const struct kr_station *station);
    void *arg;
};

/* Gives the station of this build what was recorded, and compares all that the station gives. It goes on after the
 * first difference, because each checkpoint begins anew with the recorded state. False: it could not be done; *error is
 * one line that says why. */
bool kr_trace_replay(const struct kr_trace *trace, struct kr_trace_witness witness,
                     struct kr_trace_result *result, char *error, size_t error_size);

/* ---- the story in words ---------------------------------------------------------------------------------------- */

#define KR_STORY_LINE_MAX 320

struct kr_story_teller {
    /* rail: number, 0: of none. important: it is about what stopped something, or about who asked for something. */
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
    struct kr_station_steps steps; /* of the cycle before, as the next three */
    struct kr_axis_in axis[KR_RAILS_MAX];
    uint16_t permissives;
    bool controlled;
    int32_t oldest_ms[KR_RAILS_MAX]; /* image of the drive since it answers late; 0: it does not */
};

void kr_story_begin(struct kr_story *story, uint16_t n_rails, enum kr_length_unit unit,
                    struct kr_story_teller teller);

/* Call it after each cycle. It tells a line for each step of a carriage that has ended in the cycle: what the step
 * waited for, how long, and against which limit. It also tells unit states, phases, alarms, links, faults of drives,
 * permissives, commands and requests. */
void kr_story_cycle(struct kr_story *story, int64_t utc_ms, const struct kr_station_in *in,
                    const struct kr_station_steps *steps);

/* Tells what is still waited for. */
void kr_story_end(struct kr_story *story);

#endif
