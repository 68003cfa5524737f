#ifndef KR_STATION_EDIT_H
#define KR_STATION_EDIT_H

#include "frames.h"
#include "knives.h"
#include "switches.h"

/* Maintenance requests: one holder's data is changed, the change stored, then its verdict published. Nothing moves by
 * it; if the holder cuts in the order in force, that order is no longer verified and has to be planned anew. */
/* ASKING: the ledger is asked for a knife. WITHDRAWING: as for requests (intake.h). */
enum edit_step { EDIT_FREE, EDIT_ASKING, EDIT_STORING, EDIT_WITHDRAWING };

struct editing {
    enum edit_step step;
    struct kr_snapshot last;  /* of the last request that was taken */
    struct kr_edit asked;     /* the last one that was written */
    struct knife_asked knife; /* what it says of a knife */
    uint32_t ticket;          /* of the last knife that was asked for */
    uint32_t events;          /* numbers of what became of knives */
    struct kr_edit edit;      /* being stored or withdrawn, or the last that was */
    struct kr_edit published; /* the last one */
    uint16_t generation;      /* steps with each that changed something */
    struct kr_holder_data before;
    struct frames frames;     /* what it says of a rail's frame */
    struct switches switches; /* what it says of a rail's switch */
    int32_t shift_before_um;  /* of the rail */
    uint32_t serial;          /* of kr_durable: contains the change, or the withdrawal */
};

void edit_step(struct kr_station *s);

/* A holder's data as they are shown: until a change is stored, as they were before, since the
 * change may yet be withdrawn. What became doubtful by it is doubtful at once. */
struct frame_kept edit_frame_shown(const struct editing *editing, const struct kr_durable *durable,
                                   uint16_t rail);
struct switch_kept edit_switch_shown(const struct editing *editing, const struct kr_durable *durable,
                                     uint16_t rail);

/* Whether what a request has changed is not stored yet. */
bool edit_is_waiting(const struct editing *e);

int32_t edit_shift_shown(const struct editing *editing, const struct kr_durable *durable, uint16_t rail);
struct kr_holder_data edit_shown(const struct kr_station *s, uint16_t rail, uint16_t holder);

#endif
