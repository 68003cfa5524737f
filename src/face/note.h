/* note: lines for the log. Lines about what a client can provoke at will are limited, so that a flood of
 * refusals can't fill a disk; lines about what was handed over never are: each is told once, however often it is written. */
#ifndef KR_FACE_NOTE_H
#define KR_FACE_NOTE_H

#include <syslog.h> /* LOG_NOTICE, ...: the priorities */

#include "kniferail/face.h"

#define FACE_NOTE_BYTES 1000 /* of one line, with its closing 0 */

struct face_notes {
    struct kr_face_hooks hooks;
    uint32_t tokens; /* limited lines that may still be written now */
    uint64_t refilled_ms;
    uint64_t left_out_untold;
    uint64_t *left_out; /* the counter that all can read, borrowed */
};

void face_notes_init(struct face_notes *notes, const struct kr_face_hooks *hooks, uint64_t *left_out);
/* Called now and then: one more limited line a second, 20 at most in store. */
void face_notes_refill(struct face_notes *notes, uint64_t now_ms);

void face_note(struct face_notes *notes, int priority, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
void face_note_limited(struct face_notes *notes, int priority, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
