#ifndef KR_STATION_QUEUE_H
#define KR_STATION_QUEUE_H

#include "durable.h"

/* Waiting orders: the staged one, the queue behind it, and recipes, which wait under their numbers for ever. */

bool queue_needs_plan(uint16_t kind); /* enum kr_request_kind as requested */
struct kr_result queue_judge(const struct kr_durable *d, uint16_t kind, uint16_t recipe);

/* If the request asks for a recipe, replaces the order by the recipe's. The details of this run stay those of the
 * request. */
void queue_recall(const struct kr_durable *d, uint16_t kind, uint16_t recipe, struct kr_order *order);

/* Returns the number of the staged order that the request replaces; 0: it replaces none. */
uint32_t queue_replaced(const struct kr_durable *d, uint16_t kind);
void queue_apply(struct kr_durable *d, uint16_t kind, uint16_t recipe, const struct kr_order *order);

/* Returns the staged order's planned time after the request. was_staged: an order was staged before it. */
int32_t queue_staged_ms(uint16_t kind, bool was_staged, int32_t staged_ms, int32_t planned_ms);

/* The orders as clients see them: those that the book has stored. */
struct orders_shown {
    uint32_t in_force, staged; /* numbers of these orders; 0: none */
    uint16_t n_queued;
    uint32_t queue[KR_QUEUE_MAX];
};

/* before is NULL, or the waiting orders before a request. */
struct orders_shown queue_shown(const struct kr_durable *d, const struct waiting *before);

#endif
