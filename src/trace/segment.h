/* Private to src/trace: the format of a segment in memory, and in a file after it was unpacked. A segment has a head,
 * the checkpoint, the images of the cycle before, and one record for each cycle. */
#ifndef KR_TRACE_SEGMENT_H
#define KR_TRACE_SEGMENT_H

#include "kniferail/layout.h"
#include "kniferail/trace.h"

struct segment_head {
    uint64_t number, cycles_before; /* cycles that were recorded before it */
    int64_t utc_ms, last_utc_ms;    /* times of the checkpoint and of the newest record */
    uint32_t records;
    uint32_t goes_on; /* 0, 1: it begins with the cycle after the last one of the segment before it */
};

/* The checkpoint comes after the head, aligned. */
#define SEGMENT_CHECKPOINT 64

static inline size_t segment_images(void)
{
    return SEGMENT_CHECKPOINT + (kr_station_size() + 15) / 16 * 16;
}

static inline size_t segment_records(void)
{
    return segment_images() + (sizeof(struct kr_trace_last) + 15) / 16 * 16;
}

/* A record has one byte of flags and then the parts that they name, in this sequence. A change has a 16-bit count of
 * words, and for each of them the number of words skipped before it (8 bits) and the word (16 bits). SKIP_MORE skips
 * 254 words and is followed by no word. A plan is recorded as its changes from a plan of zeros. */
#define RECORD_IN    1u
#define RECORD_OUT   2u
#define RECORD_STEPS 4u
#define RECORD_PLAN  8u

#define SKIP_MORE       255u
#define SKIP_MORE_WORDS 254u

/* The largest size of a change of so many bytes; the third term has room for SKIP_MORE. */
#define CHANGE_MOST(bytes) (2 + (bytes) / 2 * 3 + (bytes) / 2 / SKIP_MORE_WORDS + 1)

#define RECORD_MOST (1 + CHANGE_MOST(sizeof(struct kr_trace_last)) + 8 + CHANGE_MOST(sizeof(struct kr_plan_answer)))

/* Writes the change from was to is (`bytes` of each, an even number) at `to`. Returns the number of bytes written; 0:
 * nothing has changed. */
size_t change_write(unsigned char *to, const void *was, const void *is, size_t bytes);

/* Applies the change at `from`, of which `left` bytes are there, to `of` (`bytes` long). Returns the number of bytes
 * read; 0: the change is damaged. */
size_t change_read(const unsigned char *from, size_t left, void *of, size_t bytes);

#endif
