/* Private to src/trace: how a segment lies in memory, and in a file after it was unpacked. Its head, the checkpoint,
 * then one record for each cycle. */
#ifndef KR_TRACE_SEGMENT_H
#define KR_TRACE_SEGMENT_H

#include "kniferail/layout.h"
#include "kniferail/trace.h"

struct segment_head {
    uint64_t number, cycles_before; /* recorded before it */
    int64_t utc_ms, last_utc_ms;    /* of the checkpoint, and of the newest record */
    uint32_t records;
    uint32_t goes_on; /* 0, 1: it begins in the cycle in which the segment before it ends */
};

/* Behind the head, so that both structs stay aligned. */
#define SEGMENT_CHECKPOINT 64

static inline size_t segment_images(void)
{
    return SEGMENT_CHECKPOINT + (kr_station_size() + 15) / 16 * 16;
}

static inline size_t segment_records(void)
{
    return segment_images() + (sizeof(struct kr_trace_last) + 15) / 16 * 16;
}

/* A record: one byte of flags, then what they name in this order. A change is a 16-bit count of words, then as many of
 * (words skipped before it, 8 bits; the word, 16 bits); SKIP_MORE skips 254 words and has no word behind it. A plan is
 * its changes from a plan of zeros. */
#define RECORD_IN    1u
#define RECORD_OUT   2u
#define RECORD_STEPS 4u
#define RECORD_PLAN  8u

#define SKIP_MORE       255u
#define SKIP_MORE_WORDS 254u

/* The most bytes that a change of so many bytes takes; for each word half a skip covers what is skipped. */
#define CHANGE_MOST(bytes) (2 + (bytes) / 2 * 3 + (bytes) / 2 / SKIP_MORE_WORDS + 1)
#define RECORD_MOST \
    (1 + CHANGE_MOST(sizeof(struct kr_trace_last)) + 8 + CHANGE_MOST(sizeof(struct kr_plan_answer)))

/* Writes the change from was to is (`bytes` of each, an even number) at `to`. Returns how many bytes it took; 0:
 * nothing changed, and nothing was written. */
size_t change_write(unsigned char *to, const void *was, const void *is, size_t bytes);

/* Applies the change that lies at `from`, of which `left` bytes are there, to `of` (`bytes` long). Returns how many
 * bytes it took; 0: it is damaged. */
size_t change_read(const unsigned char *from, size_t left, void *of, size_t bytes);

#endif
