/* bucket: limits how many lines of a log somebody may cause. Each kind of line has a bucket of its own for each
 * address, so that a flood of one kind, or of one client, uses up no other bucket. Lines that are left out are counted,
 * and whoever writes the log gets the count. Belongs to base. Pure: the caller brings the time, and nothing is
 * allocated. One thread at a time. */
#ifndef KNIFERAIL_BUCKET_H
#define KNIFERAIL_BUCKET_H

#include "kniferail/base.h"

#define KR_BUCKETS_MAX    64    /* pairs of a kind and an address at one time */
#define KR_BUCKET_WHO_MAX 64    /* an address or a network as text, with its closing 0 */
#define KR_BUCKET_TELL_MS 10000 /* the count of lines left out is told after so long, at the latest */

/* A bucket allows so many lines at once, 1 or more, and one more after each refill_ms, 1 or more. */
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

/* If all fields are 0, nothing was written yet. */
struct kr_buckets {
    uint16_t n;
    struct kr_bucket at[KR_BUCKETS_MAX];
    /* The bucket of those who found every bucket in use. They share this one, whatever the kind. */
    struct kr_bucket others;
};

/* Takes one line of that kind for `who`, at a time that never goes back. True: write the line. *left_out says how many
 * such lines were left out before and have not been told yet: write that first. False: leave the line out; it is
 * counted. */
bool kr_bucket_take(struct kr_buckets *buckets, unsigned kind, const char *who, struct kr_bucket_rate rate,
                    uint64_t now_ms, uint64_t *left_out);

/* For lines that were left out and followed by no other line: gives kind, who and count of a bucket, and counts anew.
 * False: there is nothing to tell now. Call it now and then, until it returns false. */
struct kr_bucket_told {
    unsigned kind;
    const char *who; /* "others" where several share a bucket; until the next call */
    uint64_t left_out;
    uint64_t for_ms;
};
bool kr_bucket_tell(struct kr_buckets *buckets, uint64_t now_ms, struct kr_bucket_told *told);

#endif
