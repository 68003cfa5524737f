/* Records in memory. The cycle calls these functions: nothing here waits, allocates or calls the system. */
#include <assert.h>
#include <string.h>

#include "segment.h"

_Static_assert(sizeof(struct segment_head) <= SEGMENT_CHECKPOINT, "the head ends before the checkpoint");
_Static_assert(sizeof(struct kr_station_out) % 2 == 0 && sizeof(struct kr_station_steps) % 2 == 0 &&
                   offsetof(struct kr_station_in, plan) % 2 == 0 && sizeof(struct kr_plan_answer) % 2 == 0,
               "changes are counted in words of 16 bits");

static unsigned char *memory_of(const struct kr_trace_ring *ring, int slot)
{
    return ring->memory + (size_t)slot * KR_TRACE_SEGMENT_BYTES;
}

static struct segment_head *head_of(const struct kr_trace_ring *ring, int slot)
{
    return (struct segment_head *)(void *)memory_of(ring, slot);
}

void kr_trace_ring_init(struct kr_trace_ring *ring, void *memory)
{
    assert(segment_records() + RECORD_MOST < KR_TRACE_SEGMENT_BYTES);
    memset(ring, 0, sizeof *ring);
    ring->memory = memory;
    ring->current = -1;
}

/* Returns the slot that has not been written for the longest time; -1: all are frozen. */
static int oldest(const struct kr_trace_ring *ring)
{
    int found = -1;
    for (int i = 0; i < KR_TRACE_SEGMENTS; i++)
        if (!ring->slot[i].frozen && (found < 0 || ring->slot[i].number < ring->slot[found].number))
            found = i;
    return found;
}

static void begin(struct kr_trace_ring *ring, const struct kr_station *station, int64_t utc_ms, bool goes_on)
{
    ring->current = oldest(ring);
    if (ring->current < 0)
        return;
    struct kr_trace_slot *slot = &ring->slot[ring->current];
    slot->number = ++ring->segments;
    slot->bytes = segment_records();
    *head_of(ring, ring->current) = (struct segment_head){.number = slot->number,
                                                          .cycles_before = ring->cycles,
                                                          .utc_ms = utc_ms,
                                                          .last_utc_ms = utc_ms,
                                                          .goes_on = goes_on};
    unsigned char *at = memory_of(ring, ring->current);
    memcpy(at + SEGMENT_CHECKPOINT, station, kr_station_size());
    memcpy(at + segment_images(), &ring->last, sizeof ring->last);
}

void kr_trace_ring_begin(struct kr_trace_ring *ring, const struct kr_station *station, int64_t utc_ms)
{
    begin(ring, station, utc_ms, false);
}

/* Writes what changed since the last image, and notes this image as the last one. */
static size_t note(unsigned char *to, void *last, const void *is, size_t bytes)
{
    size_t taken = change_write(to, last, is, bytes);
    if (taken > 0)
        memcpy(last, is, bytes);
    return taken;
}

/* Writes one record; there is room for the longest one. */
static size_t record(struct kr_trace_last *last, unsigned char *to, const struct kr_station_in *in,
                     const struct kr_station_out *out, const struct kr_station_steps *steps)
{
    static const struct kr_plan_answer none;
    unsigned char *next = to + 1;
    size_t of_in = note(next, last->in, in, sizeof last->in);
    next += of_in;
    size_t of_out = note(next, &last->out, out, sizeof last->out);
    next += of_out;
    size_t of_steps = note(next, &last->steps, steps, sizeof last->steps);
    next += of_steps;
    size_t of_plan = in->plan.ticket != 0 ? change_write(next, &none, &in->plan, sizeof none) : 0;
    next += of_plan;
    to[0] = (unsigned char)((of_in ? RECORD_IN : 0) | (of_out ? RECORD_OUT : 0) | (of_steps ? RECORD_STEPS : 0) |
                            (of_plan ? RECORD_PLAN : 0));
    return (size_t)(next - to);
}

void kr_trace_ring_step(struct kr_trace_ring *ring, const struct kr_station *station, const struct kr_station_in *in,
                        const struct kr_station_out *out, int64_t utc_ms)
{
    struct kr_station_steps steps;
    ring->cycles++;
    if (ring->current < 0) {
        ring->not_recorded++;
        begin(ring, station, utc_ms, false);
        return;
    }
    struct kr_trace_slot *slot = &ring->slot[ring->current];
    kr_station_steps(station, &steps);
    slot->bytes += record(&ring->last, memory_of(ring, ring->current) + slot->bytes, in, out, &steps);
    struct segment_head *head = head_of(ring, ring->current);
    head->records++;
    head->last_utc_ms = utc_ms;
    if (slot->bytes + RECORD_MOST > KR_TRACE_SEGMENT_BYTES)
        begin(ring, station, utc_ms, true);
}

/* Room for some hundred cycles of four carriages in motion, so that every station of a gateway has its turn before it
 * is full. */
#define NEARLY_FULL ((size_t)16 * 1024)

bool kr_trace_ring_renew(struct kr_trace_ring *ring, const struct kr_station *station, int64_t utc_ms)
{
    if (ring->current < 0 || ring->slot[ring->current].bytes + RECORD_MOST + NEARLY_FULL <= KR_TRACE_SEGMENT_BYTES)
        return false;
    begin(ring, station, utc_ms, true);
    return true;
}

/* ---- freezing -------------------------------------------------------------------------------------------------- */

static bool is_frozen(const struct kr_trace_ring *ring)
{
    for (int i = 0; i < KR_TRACE_SEGMENTS; i++)
        if (ring->slot[i].frozen)
            return true;
    return false;
}

/* Returns the oldest segment from number `from` on; -1: there is none. */
static int slot_from(const struct kr_trace_ring *ring, uint64_t from)
{
    int found = -1;
    for (int i = 0; i < KR_TRACE_SEGMENTS; i++)
        if (i != ring->current && ring->slot[i].number >= from &&
            (found < 0 || ring->slot[i].number < ring->slot[found].number))
            found = i;
    return found;
}

bool kr_trace_ring_freeze(struct kr_trace_ring *ring, const struct kr_station *station, int64_t utc_ms,
                          struct kr_trace_frozen *frozen)
{
    if (ring->current < 0 || is_frozen(ring))
        return false;
    begin(ring, station, utc_ms, true);
    uint64_t last = ring->segments - 1;
    uint64_t next = last > KR_TRACE_FROZEN_MAX ? last - KR_TRACE_FROZEN_MAX + 1 : 1;
    frozen->n = 0;
    for (int slot; (slot = slot_from(ring, next)) >= 0; next = ring->slot[slot].number + 1) {
        ring->slot[slot].frozen = true;
        frozen->segment[frozen->n] = memory_of(ring, slot);
        frozen->bytes[frozen->n++] = ring->slot[slot].bytes;
    }
    return frozen->n > 0;
}

void kr_trace_ring_thaw(struct kr_trace_ring *ring)
{
    for (int i = 0; i < KR_TRACE_SEGMENTS; i++)
        ring->slot[i].frozen = false;
}
