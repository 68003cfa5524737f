/* Stories that are recorded as the daemon records, written to a file, read again, and replayed: each cycle of a story
 * is replayed once, whatever its length, since the file is written before the ring gives up what it holds. */
#ifndef KR_TESTS_TRACED_H
#define KR_TESTS_TRACED_H

#include "rig.h"

struct traced {
    struct kr_trace_ring ring;
    void *memory;
    char path[256];
    bool kept;                            /* the file, with the last trace */
    uint64_t written;                     /* number of the newest segment that is in a file */
    uint64_t cycles, checkpoints, traces; /* replayed */
    char what[512];                       /* what went wrong; empty: nothing */
};

/* Once for all stories. keep: where the last trace stays; NULL: nowhere. */
void traced_open(struct traced *traced, const char *keep);
void traced_close(struct traced *traced);

void traced_begin(struct traced *traced, struct rig *rig);      /* before the rig starts */
void traced_step(struct traced *traced, const struct rig *rig); /* after each cycle */
bool traced_end(struct traced *traced, const struct rig *rig);  /* false: traced->what says what is wrong */

#endif
