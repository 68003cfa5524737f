#include "kniferail/bucket.h"

#include <stdio.h>
#include <string.h>

static void refill(struct kr_bucket *bucket, uint64_t now_ms)
{
    uint64_t lines = (now_ms - bucket->refilled_ms) / bucket->rate.refill_ms;
    bucket->refilled_ms += lines * bucket->rate.refill_ms;
    bucket->spent = lines < bucket->spent ? bucket->spent - (uint32_t)lines : 0;
}

static bool is_idle(struct kr_bucket *bucket, uint64_t now_ms)
{
    refill(bucket, now_ms);
    return bucket->spent == 0 && bucket->left_out == 0;
}

static struct kr_bucket *found(struct kr_buckets *buckets, unsigned kind, const char *who)
{
    for (uint16_t i = 0; i < buckets->n; i++)
        if (buckets->at[i].kind == kind && strcmp(buckets->at[i].who, who) == 0)
            return &buckets->at[i];
    return NULL;
}

/* A free bucket: one that was never used, or one whose client has been quiet for long enough. NULL: all are in use. */
static struct kr_bucket *place(struct kr_buckets *buckets, uint64_t now_ms)
{
    if (buckets->n < KR_BUCKETS_MAX)
        return &buckets->at[buckets->n++];
    for (uint16_t i = 0; i < buckets->n; i++)
        if (is_idle(&buckets->at[i], now_ms))
            return &buckets->at[i];
    return NULL;
}

static struct kr_bucket *bucket_of(struct kr_buckets *buckets, unsigned kind, const char *who,
                                   struct kr_bucket_rate rate, uint64_t now_ms)
{
    struct kr_bucket *bucket = found(buckets, kind, who);
    if (bucket != NULL)
        return bucket;
    bucket = place(buckets, now_ms);
    if (bucket == NULL && buckets->others.who[0] != '\0')
        return &buckets->others;
    if (bucket == NULL) {
        bucket = &buckets->others;
        who = "others";
    }
    *bucket = (struct kr_bucket){.kind = kind, .rate = rate, .refilled_ms = now_ms};
    snprintf(bucket->who, sizeof bucket->who, "%s", who);
    return bucket;
}

bool kr_bucket_take(struct kr_buckets *buckets, unsigned kind, const char *who, struct kr_bucket_rate rate,
                    uint64_t now_ms, uint64_t *left_out)
{
    struct kr_bucket *bucket = bucket_of(buckets, kind, who, rate, now_ms);
    refill(bucket, now_ms);
    if (bucket->spent == bucket->rate.lines) {
        bucket->since_ms = bucket->left_out++ == 0 ? now_ms : bucket->since_ms;
        return false;
    }
    bucket->spent++;
    *left_out = bucket->left_out;
    bucket->left_out = 0;
    return true;
}

static bool tell(struct kr_bucket *bucket, uint64_t now_ms, struct kr_bucket_told *told)
{
    if (bucket->left_out == 0 || now_ms - bucket->since_ms < KR_BUCKET_TELL_MS)
        return false;
    *told = (struct kr_bucket_told){bucket->kind, bucket->who, bucket->left_out, now_ms - bucket->since_ms};
    bucket->left_out = 0;
    return true;
}

bool kr_bucket_tell(struct kr_buckets *buckets, uint64_t now_ms, struct kr_bucket_told *told)
{
    for (uint16_t i = 0; i < buckets->n; i++)
        if (tell(&buckets->at[i], now_ms, told))
            return true;
    return tell(&buckets->others, now_ms, told);
}
