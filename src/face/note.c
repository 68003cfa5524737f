#include "note.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define TOKENS_MAX 20
#define REFILL_MS  1000

void face_notes_init(struct face_notes *notes, const struct kr_face_hooks *hooks, uint64_t *left_out)
{
    memset(notes, 0, sizeof *notes);
    if (hooks != NULL)
        notes->hooks = *hooks;
    notes->left_out = left_out;
    notes->tokens = TOKENS_MAX;
}

void face_notes_refill(struct face_notes *notes, uint64_t now_ms)
{
    if (now_ms - notes->refilled_ms < REFILL_MS)
        return;
    notes->refilled_ms = now_ms;
    if (notes->tokens < TOKENS_MAX)
        notes->tokens++;
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

void face_note_limited(struct face_notes *notes, int priority, const char *format, ...)
{
    if (notes->tokens == 0) {
        (*notes->left_out)++;
        notes->left_out_untold++;
        return;
    }
    notes->tokens--;
    if (notes->left_out_untold > 0) {
        face_note(notes, LOG_NOTICE, "%llu lines like the following were left out",
                  (unsigned long long)notes->left_out_untold);
        notes->left_out_untold = 0;
    }
    va_list arguments;
    va_start(arguments, format);
    write_line(notes, priority, format, arguments);
    va_end(arguments);
}
