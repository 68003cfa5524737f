#include "intake.h"

#include <string.h>

#include "planning.h"
#include "queue.h"
#include "rails.h"
#include "state.h"

/* ---- decoding -------------------------------------------------------------------------------------------------- */

static uint16_t u16(const struct kr_snapshot *request, enum kr_reg reg)
{
    return kr_snapshot_u16(request, KR_BLOCK_ORDER, reg, 0);
}

static uint16_t widths_of(const struct kr_order *order)
{
    return order->n_slits < KR_SLITS_MAX ? order->n_slits : KR_SLITS_MAX;
}

static int64_t nm(const struct kr_snapshot *request, enum kr_reg reg, uint16_t index, struct kr_format format)
{
    return kr_snapshot_nm(request, KR_BLOCK_ORDER, reg, index, format);
}

static void decode(const struct kr_snapshot *request, struct kr_format format, struct kr_order *order)
{
    memset(order, 0, sizeof *order);
    order->order_number = (uint32_t)kr_snapshot_i32(request, KR_BLOCK_ORDER, KR_REG_ORDER_NUMBER, 0, format);
    order->n_slits = u16(request, KR_REG_SLIT_COUNT);
    order->edge_flags = u16(request, KR_REG_EDGE_FLAGS);
    order->alignment = u16(request, KR_REG_ALIGNMENT);
    order->compensation_ppm = kr_snapshot_i32(request, KR_BLOCK_ORDER, KR_REG_COMPENSATION, 0, format);
    order->tolerance_um = kr_um_from_nm(nm(request, KR_REG_TOLERANCE, 0, format));
    order->web_width_nm = nm(request, KR_REG_WEB_WIDTH, 0, format);
    order->trim_nm = nm(request, KR_REG_TRIM, 0, format);
    order->shift_nm = nm(request, KR_REG_SHIFT, 0, format);
    order->sum_nm = nm(request, KR_REG_WIDTH_SUM, 0, format);
    for (uint16_t i = 0; i < widths_of(order); i++)
        order->width_nm[i] = nm(request, KR_REG_WIDTH, i, format);
}

/* ---- the verdict ----------------------------------------------------------------------------------------------- */

static void verdict_begin(struct intake *t)
{
    memset(&t->verdict, 0, sizeof t->verdict);
    t->verdict.session = t->session;
    t->verdict.number = t->number;
    t->verdict.kind = t->kind;
    t->verdict.order_number = t->order.order_number;
    t->verdict.slit_count = t->order.n_slits;
    for (uint16_t i = 0; i < widths_of(&t->order); i++)
        t->verdict.sum_nm += t->order.width_nm[i];
}

static void verdict_withdraw(struct intake *t, struct kr_durable *durable)
{
    durable_restore_waiting(durable, t->recipe, &t->before);
    t->verdict.replaced_order = 0;
    t->verdict.result = (struct kr_result){.code = KR_NOT_STORED};
    durable_set_verdict(durable, &t->verdict);
    t->serial = durable->serial;
    t->step = INTAKE_WITHDRAWING;
}

static void verdict_publish(struct intake *t)
{
    t->published = t->verdict;
    t->step = INTAKE_FREE;
}

/* The book is known to fail, and has received nothing of the request, so that the refusal can be published at once. */
static void verdict_refuse(struct intake *t, struct kr_durable *durable)
{
    t->verdict.result = (struct kr_result){.code = KR_NOT_STORED};
    durable_set_verdict(durable, &t->verdict);
    verdict_publish(t);
}

/* From now on the verdict is a fact as soon as the book has stored it. The book may have failed since the request was
 * taken. Its later attempts must not store an order that is refused now. */
static void verdict_store(struct kr_station *s, struct kr_result result)
{
    struct intake *t = &s->intake;
    if (s->in.book_failed) {
        verdict_refuse(t, &s->durable);
        return;
    }
    t->verdict.result = result;
    durable_keep_waiting(&s->durable, t->recipe, &t->before);
    if (result.code == KR_OK) {
        t->verdict.replaced_order = queue_replaced(&s->durable, t->kind);
        queue_apply(&s->durable, t->kind, t->recipe, &t->order);
    }
    durable_set_verdict(&s->durable, &t->verdict);
    t->serial = s->durable.serial;
    t->step = INTAKE_STORING;
}

/* Judges what needs no plan. KR_OK: a plan must decide the rest. */
static struct kr_result judge_form(const struct intake *t, const struct kr_durable *durable, uint16_t session,
                                   bool reused, bool book_failed)
{
    if (book_failed)
        return (struct kr_result){.code = KR_NOT_STORED};
    if (t->session != session)
        return (struct kr_result){.code = KR_STALE_SESSION, .value = t->session, .limit = session};
    if (reused)
        return (struct kr_result){.code = KR_NUMBER_REUSED, .value = t->number};
    if (t->kind < KR_REQUEST_STAGE || t->kind > KR_REQUEST_LAST)
        return (struct kr_result){.code = KR_UNKNOWN_KIND, .value = t->kind, .limit = KR_REQUEST_LAST};
    struct kr_result result = queue_judge(durable, t->kind, t->recipe);
    if (result.code != KR_OK || !queue_needs_plan(t->kind))
        return result;
    if (t->order.order_number == 0 && t->kind != KR_REQUEST_STORE_RECIPE)
        return (struct kr_result){.code = KR_ORDER_NUMBER, .value = 0, .limit = 1};
    return (struct kr_result){.code = KR_OK};
}

static void take(struct kr_station *s)
{
    struct intake *t = &s->intake;
    const struct kr_snapshot *request = &s->in.request;
    if (t->last.present && memcmp(t->last.word, request->word, sizeof request->word) == 0)
        return; /* the same number with the same block changes nothing */
    uint16_t number = u16(request, KR_REG_REQUEST_NUMBER), session = u16(request, KR_REG_REQUEST_SESSION);
    if (number == 0)
        return; /* 0 is no request */
    bool reused = t->last.present && number == t->number && session == t->session;
    t->last = *request;
    t->number = number;
    t->session = session;
    t->kind = u16(request, KR_REG_REQUEST_KIND);
    t->recipe = u16(request, KR_REG_RECIPE);
    decode(request, s->config.format, &t->order);
    queue_recall(&s->durable, t->kind, t->recipe, &t->order);
    verdict_begin(t);
    struct kr_result result = judge_form(t, &s->durable, s->session, reused, s->in.book_failed);
    if (result.code == KR_OK && queue_needs_plan(t->kind))
        t->step = INTAKE_WAITS;
    else
        verdict_store(s, result);
}

static void ask_for_plan(struct kr_station *s)
{
    struct kr_plan_request *request = plan_ask(&s->planning, PLAN_FOR_REQUEST, s->clock.wall_us);
    if (request == NULL)
        return;
    request->geometry = s->config.geometry;
    request->deadband_um = s->config.deadband_um;
    request->order = s->intake.order;
    plan_positions(request, &s->config, &s->durable, s->in.axis);
    s->intake.step = INTAKE_PLANNING;
}

/* A request is not busy for ever. A plan that comes too late for it is dropped. */
static void plan_overdue(struct kr_station *s)
{
    int64_t waited_ms = (s->clock.wall_us - s->planning.asked_us) / 1000;
    if (waited_ms < s->config.plan_limit_ms)
        return;
    plan_drop(&s->planning, PLAN_FOR_REQUEST);
    verdict_store(s, (struct kr_result){
                         .code = KR_NO_PLAN_IN_TIME, .value = (int32_t)waited_ms, .limit = s->config.plan_limit_ms});
}

/* Calculates as if Start came now, at full speed. */
static void tell_times(struct kr_verdict *verdict, const struct kr_station_config *config,
                       const struct kr_durable *durable, const struct kr_plan_request *request,
                       const struct kr_plan *plan, uint16_t known)
{
    uint16_t rails = (uint16_t)((1u << config->geometry.n_rails) - 1);
    struct kr_telling how = {.moves = true, .verifies = true, .known = known};
    how.scans_first = config->scan_policy == KR_SCAN_ALWAYS || scan_is_due(config, durable, rails);
    struct kr_told told = kr_station_tell(config, request, plan, how);
    verdict->time_ms = kr_ms_from_us(told.moves_us);
    verdict->scans_ms = kr_ms_from_us(told.scans_us);
    verdict->verified_ms = kr_ms_from_us(told.verified_us);
}

static void plan_made(struct kr_station *s)
{
    const struct kr_plan_answer *answer = plan_answer(&s->planning, PLAN_FOR_REQUEST, &s->in.plan);
    if (answer == NULL) {
        plan_overdue(s);
        return;
    }
    if (answer->result.code == KR_OK)
        tell_times(&s->intake.verdict, &s->config, &s->durable, &s->planning.request, &answer->plan,
                   rails_flags_known(s));
    verdict_store(s, answer->result);
}

static void stored(struct kr_station *s)
{
    struct intake *t = &s->intake;
    if (durable_stored(&s->in, t->serial)) {
        verdict_publish(t);
        if (t->published.result.code == KR_OK)
            s->planning.staged_ms =
                queue_staged_ms(t->kind, t->before.staged, s->planning.staged_ms, t->published.time_ms);
    } else if (s->in.book_failed && t->step == INTAKE_STORING) {
        verdict_withdraw(t, &s->durable);
    }
}

bool intake_is_storing(const struct intake *intake)
{
    return intake->step == INTAKE_STORING || intake->step == INTAKE_WITHDRAWING;
}

void intake_step(struct kr_station *s)
{
    if (s->intake.step == INTAKE_FREE && s->in.request.present)
        take(s);
    switch (s->intake.step) {
    case INTAKE_WAITS: ask_for_plan(s); break;
    case INTAKE_PLANNING: plan_made(s); break;
    case INTAKE_STORING:
    case INTAKE_WITHDRAWING: stored(s); break;
    case INTAKE_FREE: break;
    }
}

struct orders_shown orders_shown(const struct starting *starting, const struct intake *intake,
                                 const struct kr_durable *durable)
{
    if (starting->storing)
        return starting->before;
    return queue_shown(durable, intake->step == INTAKE_STORING ? &intake->before : NULL);
}

/* A Start that is being stored has already put it in force. */
const struct kr_order *staged_shown(const struct starting *starting, const struct intake *intake,
                                    const struct kr_durable *durable)
{
    if (orders_shown(starting, intake, durable).staged == 0)
        return NULL;
    if (starting->storing)
        return &durable->order;
    return intake->step == INTAKE_STORING ? &intake->before.staged_order : &durable->staged_order;
}
