#include "queue.h"

static bool takes_recipe(uint16_t kind)
{
    return kind >= KR_REQUEST_STORE_RECIPE && kind <= KR_REQUEST_DROP_RECIPE;
}

bool queue_needs_plan(uint16_t kind)
{
    return kind != KR_REQUEST_CANCEL && kind != KR_REQUEST_CLEAR && kind != KR_REQUEST_DROP_RECIPE;
}

static bool stages(uint16_t kind)
{
    return kind == KR_REQUEST_STAGE || kind == KR_REQUEST_STAGE_RECIPE;
}

static bool queues(uint16_t kind)
{
    return kind == KR_REQUEST_QUEUE || kind == KR_REQUEST_QUEUE_RECIPE;
}

struct kr_result queue_judge(const struct kr_durable *d, uint16_t kind, uint16_t recipe)
{
    bool full = d->staged && d->n_queued == KR_QUEUE_MAX;
    bool reads = takes_recipe(kind) && kind != KR_REQUEST_STORE_RECIPE;
    if ((kind == KR_REQUEST_CANCEL || kind == KR_REQUEST_CLEAR) && !d->staged)
        return (struct kr_result){.code = KR_NOTHING_STAGED};
    if (queues(kind) && full)
        return (struct kr_result){.code = KR_QUEUE_FULL, .value = KR_QUEUE_MAX, .limit = KR_QUEUE_MAX};
    if (takes_recipe(kind) && (recipe < 1 || recipe > KR_RECIPES_MAX))
        return (struct kr_result){.code = KR_RECIPE_NUMBER, .value = recipe, .limit = KR_RECIPES_MAX};
    if (reads && d->recipe[recipe - 1].n_slits == 0)
        return (struct kr_result){.code = KR_RECIPE_EMPTY, .value = recipe};
    return (struct kr_result){.code = KR_OK};
}

/* The request gives the details of this run, and the recipe gives everything else. */
void queue_recall(const struct kr_durable *d, uint16_t kind, uint16_t recipe, struct kr_order *order)
{
    if (kind != KR_REQUEST_STAGE_RECIPE && kind != KR_REQUEST_QUEUE_RECIPE)
        return;
    if (recipe < 1 || recipe > KR_RECIPES_MAX)
        return; /* it will be refused */
    uint32_t number = order->order_number;
    *order = d->recipe[recipe - 1];
    order->order_number = number;
}

uint32_t queue_replaced(const struct kr_durable *d, uint16_t kind)
{
    bool replaces = stages(kind) || kind == KR_REQUEST_CANCEL || kind == KR_REQUEST_CLEAR;
    return replaces && d->staged ? d->staged_order.order_number : 0;
}

void queue_apply(struct kr_durable *d, uint16_t kind, uint16_t recipe, const struct kr_order *order)
{
    switch ((enum kr_request_kind)kind) {
    case KR_REQUEST_STAGE:
    case KR_REQUEST_STAGE_RECIPE: durable_stage(d, order); break;
    case KR_REQUEST_QUEUE:
    case KR_REQUEST_QUEUE_RECIPE:
        if (!d->staged)
            durable_stage(d, order);
        else
            durable_queue(d, order);
        break;
    case KR_REQUEST_CANCEL: durable_move_up(d); break;
    case KR_REQUEST_CLEAR: durable_clear_waiting(d); break;
    case KR_REQUEST_STORE_RECIPE: durable_keep_recipe(d, recipe, order); break;
    case KR_REQUEST_DROP_RECIPE: durable_drop_recipe(d, recipe); break;
    case KR_REQUEST_CHECK: break;
    }
}

int32_t queue_staged_ms(uint16_t kind, bool was_staged, int32_t staged_ms, int32_t planned_ms)
{
    if (stages(kind) || (queues(kind) && !was_staged))
        return planned_ms;
    return kind == KR_REQUEST_CANCEL || kind == KR_REQUEST_CLEAR ? 0 : staged_ms;
}

static uint32_t number_of(bool there, const struct kr_order *order)
{
    return there ? order->order_number : 0;
}

struct orders_shown queue_shown(const struct kr_durable *d, const struct waiting *before)
{
    struct orders_shown shown = {.in_force = number_of(d->in_force, &d->order)};
    shown.staged = before ? number_of(before->staged, &before->staged_order) : number_of(d->staged, &d->staged_order);
    shown.n_queued = before ? before->n_queued : d->n_queued;
    for (uint16_t i = 0; i < shown.n_queued; i++)
        shown.queue[i] = (before ? before->queue : d->queue)[i].order_number;
    return shown;
}
