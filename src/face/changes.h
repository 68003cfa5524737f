/* changes: tells the log how permissives change. Each change may start or stop motion, so none is left out: as many
 * in a second as people can follow are told one by one, the others of that second together, with what was withdrawn
 * in between. */
#ifndef KR_FACE_CHANGES_H
#define KR_FACE_CHANGES_H

#include "access.h"
#include "note.h"

struct face_changes {
    uint64_t second_ms; /* when this second began */
    uint32_t told;      /* in it, one by one */
    uint32_t more;      /* in it, not told yet */
    uint16_t from, to;  /* of those */
    uint16_t withdrawn; /* bits that one of them took away */
    const char *name;   /* of the register */
    char who[KR_FACE_ADDRESS_MAX];
};

/* The client changes that register of the station from one value to another. name lives on. */
void face_changes_note(struct face_changes *changes, struct face_notes *notes, const char *station,
                       const struct face_client *client, const char *name, uint16_t from, uint16_t to);

/* Called now and then: tells together what a second that is over still owes. */
void face_changes_tick(struct face_changes *changes, struct face_notes *notes, const char *station);

#endif
