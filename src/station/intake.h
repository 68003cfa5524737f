#ifndef KR_STATION_INTAKE_H
#define KR_STATION_INTAKE_H

#include "queue.h"

/* WITHDRAWING: the book failed while it stored the verdict. The file may contain the data all the same, and a gateway
 * that is killed now would find it there. So the refusal is published only once the withdrawal is stored. */
enum intake_step { INTAKE_FREE, INTAKE_WAITS, INTAKE_PLANNING, INTAKE_STORING, INTAKE_WITHDRAWING };

/* Order requests. One order block at a time is judged, its verdict is stored, and then published. A request never
 * touches the order in force or anything that moves. */
struct intake {
    enum intake_step step;
    struct kr_snapshot last; /* block of the last request that was taken */
    uint16_t number, session, kind, recipe;
    struct kr_order order;
    struct kr_verdict verdict;   /* the verdict that is being made */
    struct kr_verdict published; /* the last published verdict */
    struct waiting before;       /* what to restore if the verdict can't be stored */
    uint32_t serial;             /* serial of the kr_durable that contains the verdict, or the withdrawal */
};

void intake_step(struct kr_station *s);

/* Tells whether the staged or queued orders are not stored yet. */
bool intake_is_storing(const struct intake *intake);

/* Returns the orders as clients see them. While a Start or a verdict is being stored, they are as before, so that a
 * client never sees what a power cut could take back. */
struct starting;
struct orders_shown orders_shown(const struct starting *starting, const struct intake *intake,
                                 const struct kr_durable *durable);
/* Returns the staged order that clients see; NULL: none. */
const struct kr_order *staged_shown(const struct starting *starting, const struct intake *intake,
                                    const struct kr_durable *durable);

#endif
