#include "audit.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "clock.h"
#include "kniferail/face.h"
#include "log.h"

#define DELAY_US   250000    /* events that happen at about the same time are stored together */
#define RETRY_US   2000000   /* after a failure */
#define COUNTED_US 600000000 /* a row counts events for so long; then another one begins */

static const struct kr_bucket_rate rates[] = {
#define X(name, number, word, rows, refill_ms) [KR_AUDIT_##name] = {rows, refill_ms},
    KR_AUDIT_KINDS(X)
#undef X
};
_Static_assert(AUDIT_NEWS + KR_AUDIT_KIND_COUNT + AUDIT_COUNTING <= KR_BOOK_AUDIT_ROWS, "all of it in one entry");

void audit_open(struct audit *audit, bool kept, int64_t next_id)
{
    memset(audit, 0, sizeof *audit);
    audit->kept = kept;
    audit->next_id = next_id;
}

/* ---- one event ------------------------------------------------------------------------------------------------- */

static void note_dirty(struct audit *audit)
{
    if (!audit->dirty && !audit->failed)
        audit->due_us = clock_us() + DELAY_US;
    audit->dirty = true;
}

static struct kr_audit_row row_of(struct audit *audit, const struct kr_audit_event *event)
{
    int64_t now_ms = clock_utc_ms();
    struct kr_audit_row row = {.id = audit->next_id++, .at_utc_ms = now_ms, .until_utc_ms = now_ms, .times = 1};
    row.event = *event;
    row.book_station = KR_BOOK_AUDIT_GATEWAY;
    if (event->station_number > 0)
        row.book_station = audit->book_station[event->station_number - 1];
    if (audit->face != NULL)
        snprintf(row.event.group, sizeof row.event.group, "%s", kr_face_group_of(audit->face, event->who));
    return row;
}

static bool counts_for(const struct audit_counting *c, const struct kr_audit_event *event, int64_t now_us)
{
    const struct kr_audit_event *is = &c->row.event;
    return c->row.times > 0 && now_us - c->begun_us < COUNTED_US && is->kind == event->kind &&
           is->station_number == event->station_number && strcmp(is->who, event->who) == 0;
}

/* Returns the row that already counts for this client; else a free row, or one whose time is over and that is stored;
 * else the row that all clients share. */
static struct audit_counting *place_for(struct audit *audit, const struct kr_audit_event *event, int64_t now_us)
{
    struct audit_counting *free_place = NULL;
    for (int i = KR_AUDIT_KIND_COUNT; i < KR_AUDIT_KIND_COUNT + AUDIT_COUNTING; i++) {
        struct audit_counting *c = &audit->counting[i];
        if (counts_for(c, event, now_us))
            return c;
        if (!c->dirty && (c->row.times == 0 || now_us - c->begun_us >= COUNTED_US))
            free_place = c;
    }
    return free_place != NULL ? free_place : &audit->counting[event->kind];
}

static void begin_counting(struct audit *audit, struct audit_counting *c, const struct kr_audit_event *event,
                           int64_t now_us)
{
    bool shared = c < audit->counting + KR_AUDIT_KIND_COUNT;
    struct kr_audit_event first = {.kind = event->kind};
    if (!shared)
        first.station_number = event->station_number;
    snprintf(first.who, sizeof first.who, "%s", shared ? "several" : event->who);
    snprintf(first.what, sizeof first.what, "more of this kind, which are counted");
    c->row = row_of(audit, &first);
    c->row.times = 0;
    c->begun_us = now_us;
}

static void count(struct audit *audit, const struct kr_audit_event *event)
{
    int64_t now_us = clock_us();
    struct audit_counting *c = place_for(audit, event, now_us);
    bool shared = c < audit->counting + KR_AUDIT_KIND_COUNT;
    bool goes_on = shared ? c->row.times > 0 && now_us - c->begun_us < COUNTED_US : counts_for(c, event, now_us);
    if (!goes_on)
        begin_counting(audit, c, event, now_us);
    c->row.times++;
    c->row.until_utc_ms = clock_utc_ms();
    c->dirty = true;
}

void audit_add(struct audit *audit, const struct kr_audit_event *event)
{
    uint64_t left_out;
    if (!audit->kept)
        return;
    if (kr_bucket_take(&audit->buckets, event->kind, event->who, rates[event->kind], (uint64_t)clock_us() / 1000,
                       &left_out) &&
        audit->news.n < AUDIT_NEWS)
        audit->news.row[audit->news.n++] = row_of(audit, event);
    else
        count(audit, event);
    note_dirty(audit);
}

void audit_tell(struct audit *audit, enum kr_audit_kind kind, uint16_t station_number, const char *who,
                const char *result, const char *what, ...)
{
    struct kr_audit_event event = {.kind = kind, .station_number = station_number};
    va_list arguments;
    va_start(arguments, what);
    vsnprintf(event.what, sizeof event.what, what, arguments);
    va_end(arguments);
    snprintf(event.who, sizeof event.who, "%s", who);
    snprintf(event.result, sizeof event.result, "%s", result);
    audit_add(audit, &event);
}

/* ---- to the book ----------------------------------------------------------------------------------------------- */

bool audit_is_due(const struct audit *audit)
{
    return (audit->dirty || audit->entry.n > 0) && clock_us() >= audit->due_us;
}

/* After a failure, the same rows are tried again before any others. */
void audit_begin(struct audit *audit)
{
    if (audit->entry.n > 0)
        return;
    audit->entry = audit->news;
    audit->news.n = 0;
    for (int i = 0; i < KR_AUDIT_KIND_COUNT + AUDIT_COUNTING; i++) {
        struct audit_counting *c = &audit->counting[i];
        if (c->dirty)
            audit->entry.row[audit->entry.n++] = c->row;
        c->dirty = false;
    }
    audit->dirty = false;
}

void audit_ended(struct audit *audit, bool stored, const char *why)
{
    if (!stored && !audit->failed)
        log_line(LOG_ERROR, "the audit can't be stored: %s; the gateway tries again", why);
    if (stored && audit->failed)
        log_line(LOG_NOTICE, "the audit is stored again");
    audit->failed = !stored;
    if (stored)
        audit->entry.n = 0;
    audit->due_us = clock_us() + (stored ? DELAY_US : RETRY_US);
}
