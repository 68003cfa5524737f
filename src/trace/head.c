#include <string.h>

#include "bytes.h"
#include "file.h"

static void put_text(unsigned char **to, const char *text, size_t room)
{
    memcpy(*to, text, room);
    *to += room;
}

/* Reads a text. False: it has no closing 0 within its room. */
static bool get_text(const unsigned char **from, char *text, size_t room)
{
    memcpy(text, *from, room);
    *from += room;
    return memchr(text, 0, room) != NULL;
}

void head_put(const struct kr_trace_head *head, unsigned char *to)
{
    put_text(&to, head->layout, sizeof head->layout);
    put_text(&to, head->program, sizeof head->program);
    put_text(&to, head->station, sizeof head->station);
    put_text(&to, head->reason, sizeof head->reason);
    put_number(&to, (uint64_t)head->first_utc_ms, 8);
    put_number(&to, (uint64_t)head->last_utc_ms, 8);
    put_number(&to, head->cycles, 4);
    put_number(&to, head->n_segments, 2);
    put_number(&to, head->length_unit, 2);
    put_number(&to, head->n_rails, 2);
    for (int r = 0; r < KR_RAILS_MAX; r++)
        put_number(&to, head->n_holders[r], 2);
}

static bool is_sensible(const struct kr_trace_head *head)
{
    for (int r = 0; r < KR_RAILS_MAX; r++)
        if (head->n_holders[r] > KR_HOLDERS_MAX)
            return false;
    return head->n_segments >= 1 && head->n_segments <= KR_TRACE_FROZEN_MAX && head->length_unit <= KR_LENGTH_INCH &&
           head->n_rails >= 1 && head->n_rails <= KR_RAILS_MAX;
}

bool head_get(const unsigned char *from, struct kr_trace_head *head)
{
    bool closed = get_text(&from, head->layout, sizeof head->layout);
    closed = get_text(&from, head->program, sizeof head->program) && closed;
    closed = get_text(&from, head->station, sizeof head->station) && closed;
    closed = get_text(&from, head->reason, sizeof head->reason) && closed;
    head->first_utc_ms = (int64_t)get_number(&from, 8);
    head->last_utc_ms = (int64_t)get_number(&from, 8);
    head->cycles = (uint32_t)get_number(&from, 4);
    head->n_segments = (uint16_t)get_number(&from, 2);
    head->length_unit = (uint16_t)get_number(&from, 2);
    head->n_rails = (uint16_t)get_number(&from, 2);
    for (int r = 0; r < KR_RAILS_MAX; r++)
        head->n_holders[r] = (uint16_t)get_number(&from, 2);
    return closed && is_sensible(head);
}
