/* bucket: limits how many lines of a log somebody may cause. Each kind of line has a bucket of its own for each
 * address, so that a flood of one kind, or of one client, uses up no other bucket. The bucket counts the lines that are
 * left out, and gives the count to the writer of the log. Belongs to base. Pure: the caller brings the time, and
 * nothing is allocated. Only one thread at a time may use it. */
#ifndef KNIFERAIL_BUCKET_H
#define KNIFERAIL_BUCKET_H

#include "kniferail/base.h"

#define KR_BUCKETS_MAX    64 /* pairs of a kind and an address at the same time */
#define KR_BUCKET_WHO_MAX 64
/* The count of lines that were left out is told after this time at the latest */
#define KR_BUCKET_TELL_MS 10000

/* A bucket allows `lines` lines at once, and one more after each refill_ms. Both are 1 or more. */
struct kr_bucket_rate {
    uint32_t lines, refill_ms;
};

struct kr_bucket {
    unsigned kind;
    char who[KR_BUCKET_WHO_MAX];
    struct kr_bucket_rate rate;
    uint32_t spent; /* used lines of rate.lines */
    uint64_t refilled_ms;
    /* Count of lines that were left out and not told yet, and the time of the first of them. left_out is 0: there are
     * none. */
    uint64_t left_out, since_ms;
};

/* If all fields are 0, no line was written yet. */
struct kr_buckets {
    uint16_t n;
    struct kr_bucket at[KR_BUCKETS_MAX];
    /* The bucket of all who found every other bucket in use. They share it, whatever the kind. */
    struct kr_bucket others;
};

/* Asks for one line of this kind for `who`. now_ms never goes back. True: write the line. *left_out says how many such
 * lines were left out before and not told yet; write that count first. False: leave the line out; it is counted. */
bool kr_bucket_take(struct kr_buckets *buckets, unsigned kind, const char *who, struct kr_bucket_rate rate,
                    uint64_t now_ms, uint64_t *left_out);

/* Gives kind, `who` and count of a bucket whose lines were left out and followed by no other line, and begins to count
 * again from 0. False: there is nothing to tell now. Call it now and then, until it returns false. */
struct kr_bucket_told {
    unsigned kind;
    const char *who; /* "others" where several share a bucket; valid until the next call */
    uint64_t left_out;
    uint64_t for_ms;
};
bool kr_bucket_tell(struct kr_buckets *buckets, uint64_t now_ms, struct kr_bucket_told *told);

#endif
