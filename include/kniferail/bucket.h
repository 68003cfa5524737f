/* bucket: how many lines of a log somebody may still cause. Each kind of line has a bucket of its own for each
 * address, so that a flood of one kind, or of one client, uses up nobody else's. What is left out is counted, and the
 * count is given to who writes the log. Belongs to base. Pure: the caller brings the time; nothing is allocated. One
 * thread at a time. */
#ifndef KNIFERAIL_BUCKET_H
#define KNIFERAIL_BUCKET_H

#include "kniferail/base.h"

#define KR_BUCKETS_MAX    64    /* kinds and addresses at once */
#define KR_BUCKET_WHO_MAX 64    /* an address or a network as text, with its closing 0 */
#define KR_BUCKET_TELL_MS 10000 /* what was left out is told when it is so old, at the latest */

/* What a bucket allows: so many lines at once, 1 or more, and one more after each refill_ms, 1 or more. */
struct kr_bucket_rate {
    uint32_t lines, refill_ms;
};

struct kr_bucket {
    unsigned kind;
    char who[KR_BUCKET_WHO_MAX];
    struct kr_bucket_rate rate;
    uint32_t spent; /* of rate.lines */
    uint64_t refilled_ms;
    uint64_t left_out, since_ms; /* not told yet, and since when; 0: nothing */
};

/* All 0: nothing was written yet. */
struct kr_buckets {
    uint16_t n;
    struct kr_bucket at[KR_BUCKETS_MAX];
    /* The bucket of those who found every bucket in use. They share this one, whatever the kind. */
    struct kr_bucket others;
};

/* Takes one line of that kind for `who`, at a time that never goes back. True: write it; *left_out says how many of
 * them were left out before and not told yet: tell that first. False: leave it out, it is counted. */
bool kr_bucket_take(struct kr_buckets *buckets, unsigned kind, const char *who, struct kr_bucket_rate rate,
                    uint64_t now_ms, uint64_t *left_out);

/* For what was left out and followed by no line: gives a bucket's kind, who and count, and counts anew. False: there is
 * nothing to tell now. Call it now and then, until it returns false. */
struct kr_bucket_told {
    unsigned kind;
    const char *who; /* "others" where several share a bucket; until the next call */
    uint64_t left_out;
    uint64_t for_ms;
};
bool kr_bucket_tell(struct kr_buckets *buckets, uint64_t now_ms, struct kr_bucket_told *told);

#endif
