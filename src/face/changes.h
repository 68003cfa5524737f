/* changes: tells the log how permissives change. Each change may start or stop motion, so none is left out. In each
 * second, as many changes as people can follow are told one by one. The other changes of that second are told together,
 * with what was withdrawn in between. */
#ifndef KR_FACE_CHANGES_H
#define KR_FACE_CHANGES_H

#include "access.h"
#include "note.h"

struct face_changes {
    uint64_t second_ms; /* when this second began */
    uint32_t told;      /* changes told in this second, one by one */
    uint32_t more;      /* changes in this second that are not told yet */
    uint16_t from, to;  /* of the changes that are not told yet */
    uint16_t withdrawn; /* bits that one of these changes took away */
    const char *name;   /* of the register */
    char who[KR_FACE_ADDRESS_MAX];
};

/* Notes that the client changes that register of the station from one value to another. name must stay valid. */
void face_changes_note(struct face_changes *changes, struct face_notes *notes, const char *station,
                       const struct face_client *client, const char *name, uint16_t from, uint16_t to);

/* Called now and then: tells, together, the changes of a second that is over and that were not told yet. */
void face_changes_tick(struct face_changes *changes, struct face_notes *notes, const char *station);

#endif
