/* Reads the cycles of a trace, one after the other. Whatever the bytes are, it accesses nothing outside them. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "segment.h"
#include "trace.h"

struct kr_trace_cursor {
    const struct kr_trace *trace;
    uint16_t segment; /* index of the present segment */
    size_t at;        /* position of the next record */
    struct segment_head head;
    uint32_t read; /* records of the segment that were read */
    bool broken;   /* the next cycle does not continue the one before it */
    int64_t since_us;
    struct kr_station_in in;
    struct kr_station_out out;
    struct kr_station_steps steps;
};

struct kr_trace_cursor *kr_trace_begin(const struct kr_trace *trace, char *error, size_t error_size)
{
    const struct kr_trace_head *head = &trace->head;
    if (strcmp(head->layout, kr_layout_digest()) != 0) {
        snprintf(error, error_size,
                 "it was written by version %s with layout %s; this program has layout %s and reads no other",
                 head->program, head->layout, kr_layout_digest());
        return NULL;
    }
    struct kr_trace_cursor *cursor = calloc(1, sizeof *cursor);
    if (cursor == NULL)
        snprintf(error, error_size, "out of memory");
    else
        cursor->trace = trace;
    return cursor;
}

void kr_trace_end(struct kr_trace_cursor *cursor)
{
    free(cursor);
}

/* ---- one segment ----------------------------------------------------------------------------------------------- */

static bool enter(struct kr_trace_cursor *c)
{
    const unsigned char *segment = c->trace->segment[c->segment];
    struct kr_trace_last last;
    if (c->trace->bytes[c->segment] < segment_records())
        return false;
    memcpy(&c->head, segment, sizeof c->head);
    memcpy(&last, segment + segment_images(), sizeof last);
    memcpy(&c->in, last.in, sizeof last.in);
    c->out = last.out;
    c->steps = last.steps;
    c->at = segment_records();
    c->since_us = 0;
    c->broken = c->broken || !c->head.goes_on;
    return true;
}

/* Finds the segment of the next record. */
static enum kr_trace_next seek(struct kr_trace_cursor *c)
{
    while (c->at == 0 || c->read == c->head.records) {
        if (c->at != 0 && c->at != c->trace->bytes[c->segment])
            return KR_TRACE_DAMAGED;
        if (c->at != 0)
            c->segment++;
        c->read = 0;
        c->at = 0;
        if (c->segment == c->trace->head.n_segments)
            return KR_TRACE_OVER;
        if (!enter(c))
            return KR_TRACE_DAMAGED;
    }
    return KR_TRACE_FRAME;
}

static bool take(struct kr_trace_cursor *c, void *of, size_t bytes)
{
    const unsigned char *segment = c->trace->segment[c->segment];
    size_t taken = change_read(segment + c->at, c->trace->bytes[c->segment] - c->at, of, bytes);
    c->at += taken;
    return taken > 0;
}

static bool take_record(struct kr_trace_cursor *c)
{
    const unsigned all = RECORD_IN | RECORD_OUT | RECORD_STEPS | RECORD_PLAN;
    if (c->at >= c->trace->bytes[c->segment])
        return false;
    unsigned flags = c->trace->segment[c->segment][c->at++];
    if (flags & ~all || (flags & RECORD_IN && !take(c, &c->in, offsetof(struct kr_station_in, plan))) ||
        (flags & RECORD_OUT && !take(c, &c->out, sizeof c->out)) ||
        (flags & RECORD_STEPS && !take(c, &c->steps, sizeof c->steps)))
        return false;
    c->in.plan.ticket = 0;
    if (!(flags & RECORD_PLAN))
        return true;
    memset(&c->in.plan, 0, sizeof c->in.plan);
    return take(c, &c->in.plan, sizeof c->in.plan);
}

enum kr_trace_next kr_trace_next(struct kr_trace_cursor *c, struct kr_trace_frame *frame)
{
    enum kr_trace_next next = seek(c);
    if (next != KR_TRACE_FRAME)
        return next;
    if (!take_record(c))
        return KR_TRACE_DAMAGED;
    bool first = c->read++ == 0;
    c->since_us += c->in.wall_dt_us;
    bool goes_on = !c->broken;
    c->broken = false;
    const void *checkpoint = c->trace->segment[c->segment] + SEGMENT_CHECKPOINT;
    *frame = (struct kr_trace_frame){.cycle = c->head.cycles_before + c->read,
                                     .utc_ms = c->head.utc_ms + c->since_us / 1000,
                                     .checkpoint = first ? checkpoint : NULL,
                                     .goes_on = goes_on,
                                     .in = &c->in,
                                     .out = &c->out,
                                     .steps = &c->steps};
    return KR_TRACE_FRAME;
}
