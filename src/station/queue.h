#ifndef KR_STATION_QUEUE_H
#define KR_STATION_QUEUE_H

#include "durable.h"

/* Orders that wait: the staged one, those behind it, and recipes, which wait under their numbers for ever. */

bool queue_needs_plan(uint16_t kind); /* enum kr_request_kind, as it was asked */
struct kr_result queue_judge(const struct kr_durable *d, uint16_t kind, uint16_t recipe);

/* A recipe's order, where the request asks for one; of this run the request says what there is to say. */
void queue_recall(const struct kr_durable *d, uint16_t kind, uint16_t recipe, struct kr_order *order);

/* The number of the staged order that the request replaces; 0: of none. */
uint32_t queue_replaced(const struct kr_durable *d, uint16_t kind);
void queue_apply(struct kr_durable *d, uint16_t kind, uint16_t recipe, const struct kr_order *order);

/* What the request left the staged order's planned time at. was_staged: one was staged before it. */
int32_t queue_staged_ms(uint16_t kind, bool was_staged, int32_t staged_ms, int32_t planned_ms);

/* Orders as they are shown: as far as the book has them. */
struct orders_shown {
    uint32_t in_force, staged; /* their numbers; 0: none */
    uint16_t n_queued;
    uint32_t queue[KR_QUEUE_MAX];
};

struct orders_shown queue_shown(const struct kr_durable *d,
                                const struct waiting *before); /* before: NULL, or as it was */

#endif
