/* note: lines for the log. Lines about things that a client can provoke at will are limited, each kind for each address
 * by itself (kniferail/bucket.h). So a flood cannot fill a disk, and hides only more lines of the same kind. */
#ifndef KR_FACE_NOTE_H
#define KR_FACE_NOTE_H

#include <syslog.h> /* LOG_NOTICE, ...: the priorities */

#include "kniferail/bucket.h"
#include "kniferail/face.h"

#define FACE_NOTE_BYTES 1000 /* of one line, with its closing 0 */

/* The kinds of limited lines. text says what they are about. Each kind may come so often at once, and then once in so
 * many ms. */
#define FACE_NOTE_KINDS(X) \
    X(CONNECTION, 20, 1000, "its connections") \
    X(REFUSED, 20, 1000, "its refused writes") \
    X(ODD, 20, 1000, "its odd requests") \
    X(HALT, 20, 1000, "its halts beside a stronger one") \
    X(HANDOVER, 50, 500, "its requests and commands") \
    X(CONTROL, 50, 1000, "changes of control that were refused, as it makes too many,")
enum face_note_kind {
#define X(name, lines, refill_ms, text) FACE_NOTE_##name,
    FACE_NOTE_KINDS(X)
#undef X
};

struct face_notes {
    struct kr_face_hooks hooks;
    struct kr_buckets buckets;
    uint64_t now_ms;
    uint64_t *left_out; /* the counter that all can read, borrowed */
};

void face_notes_init(struct face_notes *notes, const struct kr_face_hooks *hooks, uint64_t *left_out);
/* Called now and then: sets the time, and writes which lines were left out long enough ago. */
void face_notes_tick(struct face_notes *notes, uint64_t now_ms);

void face_note(struct face_notes *notes, int priority, const char *format, ...) __attribute__((format(printf, 3, 4)));
/* host: the address or network, as text, that has provoked the line. */
void face_note_limited(struct face_notes *notes, enum face_note_kind kind, const char *host, int priority,
                       const char *format, ...) __attribute__((format(printf, 5, 6)));

/* Tells the audit. who is the client's address, or "gateway". port is 0 if there is none. station_number counts from 1;
 * 0 stands for the gateway as a whole. */
void face_audit(struct face_notes *notes, enum kr_audit_kind kind, unsigned station_number, const char *who,
                unsigned port, const char *result, const char *what, ...) __attribute__((format(printf, 7, 8)));

/* For lines that are too important to be left out: may such a line be written now? If not, the event that it would tell
 * must not happen. */
bool face_note_may(struct face_notes *notes, enum face_note_kind kind, const char *host);

#endif
