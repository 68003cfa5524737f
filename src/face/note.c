#include "note.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static const struct {
    struct kr_bucket_rate rate;
    const char *text;
} kinds[] = {
#define X(name, lines, refill_ms, text) [FACE_NOTE_##name] = {{lines, refill_ms}, text},
    FACE_NOTE_KINDS(X)
#undef X
};

void face_notes_init(struct face_notes *notes, const struct kr_face_hooks *hooks, uint64_t *left_out)
{
    memset(notes, 0, sizeof *notes);
    if (hooks != NULL)
        notes->hooks = *hooks;
    notes->left_out = left_out;
}

void face_notes_tick(struct face_notes *notes, uint64_t now_ms)
{
    struct kr_bucket_told told;
    notes->now_ms = now_ms;
    while (kr_bucket_tell(&notes->buckets, now_ms, &told))
        face_note(notes, LOG_NOTICE, "%s: %llu lines about %s were left out in %llu s", told.who,
                  (unsigned long long)told.left_out, kinds[told.kind].text, (unsigned long long)(told.for_ms / 1000));
}

static void write_line(struct face_notes *notes, int priority, const char *format, va_list arguments)
{
    char text[FACE_NOTE_BYTES];
    if (notes->hooks.log == NULL)
        return;
    vsnprintf(text, sizeof text, format, arguments); /* a line that is too long is cut */
    notes->hooks.log(notes->hooks.arg, priority, text);
}

void face_note(struct face_notes *notes, int priority, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    write_line(notes, priority, format, arguments);
    va_end(arguments);
}

bool face_note_may(struct face_notes *notes, enum face_note_kind kind, const char *host)
{
    uint64_t left_out;
    if (!kr_bucket_take(&notes->buckets, kind, host, kinds[kind].rate, notes->now_ms, &left_out)) {
        (*notes->left_out)++;
        return false;
    }
    if (left_out > 0)
        face_note(notes, LOG_NOTICE, "%s: %llu lines about %s were left out", host, (unsigned long long)left_out,
                  kinds[kind].text);
    return true;
}

void face_note_limited(struct face_notes *notes, enum face_note_kind kind, const char *host, int priority,
                       const char *format, ...)
{
    va_list arguments;
    if (!face_note_may(notes, kind, host))
        return;
    va_start(arguments, format);
    write_line(notes, priority, format, arguments);
    va_end(arguments);
}

void face_audit(struct face_notes *notes, enum kr_audit_kind kind, unsigned station_number, const char *who,
                unsigned port, const char *result, const char *what, ...)
{
    struct kr_audit_event event = {.kind = kind, .station_number = (uint16_t)station_number, .port = (uint16_t)port};
    va_list arguments;
    if (notes->hooks.audit == NULL)
        return;
    va_start(arguments, what);
    vsnprintf(event.what, sizeof event.what, what, arguments);
    va_end(arguments);
    snprintf(event.who, sizeof event.who, "%s", who);
    snprintf(event.result, sizeof event.result, "%s", result);
    notes->hooks.audit(notes->hooks.arg, &event);
}
