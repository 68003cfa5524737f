#ifndef KR_STATION_EDIT_H
#define KR_STATION_EDIT_H

#include "frames.h"
#include "knives.h"
#include "planned_times.h"
#include "switches.h"

/* Maintenance requests. A request changes the data of one holder; the change is stored, and then its verdict is
 * published. Nothing moves. If the holder cuts in the order in force, that order is no longer verified and must be
 * planned again. */
/* ASKING: the station asks the ledger for a knife. WITHDRAWING: as for order requests (intake.h). */
enum edit_step { EDIT_FREE, EDIT_ASKING, EDIT_STORING, EDIT_WITHDRAWING };

struct editing {
    enum edit_step step;
    struct kr_snapshot last;  /* block of the last request that was taken */
    bool states_pairs;        /* that request states that a person has looked at each pair */
    struct kr_edit asked;     /* the last request that was written */
    struct knife_asked knife; /* the fields about a knife in that request */
    uint32_t ticket;          /* ticket of the last question about a knife */
    uint32_t events;          /* number of events about knives */
    struct kr_edit edit;      /* the request that is being stored or withdrawn, or that was last */
    struct kr_edit published; /* the last request whose verdict was published */
    uint16_t generation;      /* grows by one with each request that changed something */
    struct kr_holder_data before;
    struct frames frames;       /* the fields about a rail's frame */
    struct switches switches;   /* the fields about a rail's switch */
    struct planned_times times; /* the fields about a rail's planned times */
    int32_t shift_before_um;    /* the rail's shift before the request */
    uint32_t serial;            /* serial of the kr_durable that contains the change, or the withdrawal */
};

void edit_step(struct kr_station *s);

/* Data as clients see them. Until a change is stored, they are as before, because the change may be withdrawn. A doubt
 * counts at once. */
struct frame_kept edit_frame_shown(const struct editing *editing, const struct kr_durable *durable, uint16_t rail);
struct switch_kept edit_switch_shown(const struct editing *editing, const struct kr_durable *durable, uint16_t rail);
struct times_kept edit_times_shown(const struct editing *editing, const struct kr_durable *durable, uint16_t rail);

/* Tells whether a request has changed something that is not stored yet. */
bool edit_is_waiting(const struct editing *e);

int32_t edit_shift_shown(const struct editing *editing, const struct kr_durable *durable, uint16_t rail);
struct kr_holder_data edit_shown(const struct kr_station *s, uint16_t rail, uint16_t holder);

#endif
