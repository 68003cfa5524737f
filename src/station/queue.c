/* Orders that wait: the staged one, those behind it, and recipes, which wait under their numbers for ever. */
#include "state.h"

#include <string.h>

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

struct kr_result queue_judge(const struct kr_station *s, uint16_t kind, uint16_t recipe)
{
    bool full = s->durable.staged && s->durable.n_queued == KR_QUEUE_MAX;
    bool reads = takes_recipe(kind) && kind != KR_REQUEST_STORE_RECIPE;
    if ((kind == KR_REQUEST_CANCEL || kind == KR_REQUEST_CLEAR) && !s->durable.staged)
        return (struct kr_result){.code = KR_NOTHING_STAGED};
    if (queues(kind) && full)
        return (struct kr_result){.code = KR_QUEUE_FULL, .value = KR_QUEUE_MAX, .limit = KR_QUEUE_MAX};
    if (takes_recipe(kind) && (recipe < 1 || recipe > KR_RECIPES_MAX))
        return (struct kr_result){.code = KR_RECIPE_NUMBER, .value = recipe, .limit = KR_RECIPES_MAX};
    if (reads && s->durable.recipe[recipe - 1].n_slits == 0)
        return (struct kr_result){.code = KR_RECIPE_EMPTY, .value = recipe};
    return (struct kr_result){.code = KR_OK};
}

/* What is said of this run is said by the request, all else by the recipe. */
void queue_recall(const struct kr_station *s, uint16_t kind, uint16_t recipe, struct kr_order *order)
{
    if (kind != KR_REQUEST_STAGE_RECIPE && kind != KR_REQUEST_QUEUE_RECIPE)
        return;
    if (recipe < 1 || recipe > KR_RECIPES_MAX)
        return; /* it will be refused */
    uint32_t number = order->order_number;
    *order = s->durable.recipe[recipe - 1];
    order->order_number = number;
}

static void stage(struct kr_durable *d, const struct kr_order *order)
{
    d->staged = 1;
    d->staged_order = *order;
}

/* The one in front is gone: the next moves up. */
static void move_up(struct kr_durable *d)
{
    d->staged = d->n_queued > 0;
    if (!d->staged)
        return;
    d->staged_order = d->queue[0];
    d->n_queued--;
    memmove(&d->queue[0], &d->queue[1], d->n_queued * sizeof d->queue[0]);
}

uint32_t queue_replaced(const struct kr_station *s, uint16_t kind)
{
    bool replaces = stages(kind) || kind == KR_REQUEST_CANCEL || kind == KR_REQUEST_CLEAR;
    return replaces && s->durable.staged ? s->durable.staged_order.order_number : 0;
}

void queue_apply(struct kr_station *s, uint16_t kind, uint16_t recipe, const struct kr_order *order)
{
    struct kr_durable *d = &s->durable;
    switch ((enum kr_request_kind)kind) {
    case KR_REQUEST_STAGE:
    case KR_REQUEST_STAGE_RECIPE: stage(d, order); break;
    case KR_REQUEST_QUEUE:
    case KR_REQUEST_QUEUE_RECIPE:
        if (!d->staged)
            stage(d, order);
        else
            d->queue[d->n_queued++] = *order;
        break;
    case KR_REQUEST_CANCEL: move_up(d); break;
    case KR_REQUEST_CLEAR:
        d->staged = 0;
        d->n_queued = 0;
        break;
    case KR_REQUEST_STORE_RECIPE: d->recipe[recipe - 1] = *order; break;
    case KR_REQUEST_DROP_RECIPE: d->recipe[recipe - 1].n_slits = 0; break;
    case KR_REQUEST_CHECK: break;
    }
}

void queue_keep(const struct kr_station *s, uint16_t recipe, struct waiting *before)
{
    before->staged = s->durable.staged;
    before->n_queued = s->durable.n_queued;
    before->staged_order = s->durable.staged_order;
    memcpy(before->queue, s->durable.queue, sizeof before->queue);
    if (recipe >= 1 && recipe <= KR_RECIPES_MAX)
        before->recipe = s->durable.recipe[recipe - 1];
}

void queue_restore(struct kr_station *s, uint16_t recipe, const struct waiting *before)
{
    s->durable.staged = before->staged;
    s->durable.n_queued = before->n_queued;
    s->durable.staged_order = before->staged_order;
    memcpy(s->durable.queue, before->queue, sizeof before->queue);
    if (recipe >= 1 && recipe <= KR_RECIPES_MAX)
        s->durable.recipe[recipe - 1] = before->recipe;
}

void queue_stored(struct kr_station *s, uint16_t kind, int32_t time_ms)
{
    bool in_front = stages(kind) || (queues(kind) && !s->intake.before.staged);
    if (in_front)
        s->staged_ms = time_ms;
    else if (kind == KR_REQUEST_CANCEL || kind == KR_REQUEST_CLEAR)
        s->staged_ms = 0;
}

static uint32_t number_of(bool there, const struct kr_order *order)
{
    return there ? order->order_number : 0;
}

/* While a Start or a verdict is being stored, as it was before: a master never sees what a power cut could take back. */
struct orders_shown queue_shown(const struct kr_station *s)
{
    const struct kr_durable *d = &s->durable;
    const struct waiting *before = &s->intake.before;
    bool storing = s->intake.step == INTAKE_STORING;
    struct orders_shown shown = {.in_force = number_of(d->in_force, &d->order)};
    if (s->start_storing)
        return s->before_start;
    shown.staged =
        storing ? number_of(before->staged, &before->staged_order) : number_of(d->staged, &d->staged_order);
    shown.n_queued = storing ? before->n_queued : d->n_queued;
    for (uint16_t i = 0; i < shown.n_queued; i++)
        shown.queue[i] = (storing ? before->queue : d->queue)[i].order_number;
    return shown;
}

void queue_start(struct kr_station *s)
{
    if (!s->durable.staged)
        return;
    s->before_start = queue_shown(s);
    s->start_storing = true;
    s->in_force_ms = s->staged_ms;
    s->staged_ms = 0; /* the next one's was planned from other places */
    struct kr_order order = s->durable.staged_order;
    move_up(&s->durable);
    order_into_force(s, &order);
}
