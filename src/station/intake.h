#ifndef KR_STATION_INTAKE_H
#define KR_STATION_INTAKE_H

#include "queue.h"

/* WITHDRAWING: the book failed while it stored the verdict. What was to be stored may stand in the file all the same,
 * and a gateway that is killed now would find it there. So the refusal is said only once the withdrawal is stored. */
enum intake_step { INTAKE_FREE, INTAKE_WAITS, INTAKE_PLANNING, INTAKE_STORING, INTAKE_WITHDRAWING };

/* Requests: one order block at a time is judged, its verdict stored, then published. What is in force, and what moves,
 * is never touched by it. */
struct intake {
    enum intake_step step;
    struct kr_snapshot last; /* of the last request that was taken */
    uint16_t number, session, kind, recipe;
    struct kr_order order;
    struct kr_verdict verdict;   /* being made */
    struct kr_verdict published; /* the last one */
    struct waiting before;       /* what to go back to if it can't be stored */
    uint32_t serial;             /* of kr_durable: contains the verdict, or the withdrawal */
};

void intake_step(struct kr_station *s);

/* Whether what is staged or queued is not a fact yet. */
bool intake_is_storing(const struct intake *intake);

/* Orders as they are shown. While a Start or a verdict is being stored, as it was before: a master never sees what a
 * power cut could take back. */
struct starting;
struct orders_shown orders_shown(const struct starting *starting, const struct intake *intake,
                                 const struct kr_durable *durable);
/* The staged order that they name; NULL: none. */
const struct kr_order *staged_shown(const struct starting *starting, const struct intake *intake,
                                    const struct kr_durable *durable);

#endif
