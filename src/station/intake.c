/* Requests: one order block at a time is judged, its verdict stored, then published. What is in force, and what moves,
 * is never touched by it. */
#include "state.h"

#include <string.h>

/* ---- plans by ticket: one at a time, for a request or for the job ------------------------------------------------ */

bool plan_ask(struct kr_station *s, enum plan_user user)
{
    if (s->plan_user != PLAN_FOR_NOBODY)
        return false;
    s->plan_user = user;
    s->plan_ticket = ++s->tickets ? s->tickets : ++s->tickets; /* 0 is none */
    s->plan_asked_us = s->wall_us;
    return true;
}

void plan_drop(struct kr_station *s)
{
    s->plan_user = PLAN_FOR_NOBODY;
    s->plan_ticket = 0;
}

const struct kr_plan_answer *plan_answer(struct kr_station *s, enum plan_user user)
{
    if (s->plan_user != user || s->in.plan.ticket != s->plan_ticket)
        return NULL;
    plan_drop(s);
    return &s->in.plan;
}

/* Where a holder is unknown, a judgement assumes it evenly spread between its known neighbours: the verdict's time is
 * an estimate then; the plan that moves is made after the scan. */
static void spread_unknown(const struct kr_rail_geometry *rail, const struct kr_holder_data row[],
                           struct kr_holder holder[])
{
    int64_t left_um = rail->min_um;
    uint16_t i = 0;
    while (i < rail->n_holders) {
        uint16_t end = i;
        while (end < rail->n_holders && (!holder_present(&row[end]) || row[end].known == KR_UNKNOWN))
            end++;
        int64_t right_um = end < rail->n_holders ? row[end].position_um : rail->max_um;
        for (uint16_t k = i; k < end; k++)
            holder[k].position_um = (int32_t)(left_um + (right_um - left_um) * (k - i + 1) / (end - i + 1));
        left_um = right_um;
        i = (uint16_t)(end + 1);
    }
}

void plan_positions(const struct kr_station *s, struct kr_plan_request *request)
{
    for (uint16_t r = 0; r < s->config.geometry.n_rails; r++) {
        const struct kr_rail_geometry *rail = &s->config.geometry.rail[r];
        const struct kr_holder_data *row = s->durable.holder[r];
        const struct kr_axis_in *axis = &s->in.axis[r];
        bool at_known_place = axis->link && axis->referenced;
        request->rail[r].carriage_um = at_known_place ? axis->position_um : s->config.carriage[r].park_um;
        for (uint16_t i = 0; i < rail->n_holders; i++)
            request->rail[r].holder[i] = (struct kr_holder){row[i].position_um, row[i].edge_offset_um,
                                                            row[i].holder_class, row[i].state};
        spread_unknown(rail, row, request->rail[r].holder);
    }
}

/* ---- decoding ------------------------------------------------------------------------------------------------------ */

static uint16_t u16(const struct kr_station *s, enum kr_reg reg)
{
    return kr_snapshot_u16(&s->in.request, KR_BLOCK_ORDER, reg, 0);
}

static int32_t i32(const struct kr_station *s, enum kr_reg reg)
{
    return kr_snapshot_i32(&s->in.request, KR_BLOCK_ORDER, reg, 0, s->config.format);
}

static int64_t nm(const struct kr_station *s, enum kr_reg reg, uint16_t index)
{
    return kr_snapshot_nm(&s->in.request, KR_BLOCK_ORDER, reg, index, s->config.format);
}

static uint16_t widths_of(const struct kr_order *order)
{
    return order->n_slits < KR_SLITS_MAX ? order->n_slits : KR_SLITS_MAX;
}

static void decode(const struct kr_station *s, struct kr_order *order)
{
    memset(order, 0, sizeof *order);
    order->order_number = (uint32_t)i32(s, KR_REG_ORDER_NUMBER);
    order->n_slits = u16(s, KR_REG_SLIT_COUNT);
    order->edge_flags = u16(s, KR_REG_EDGE_FLAGS);
    order->alignment = u16(s, KR_REG_ALIGNMENT);
    order->compensation_ppm = i32(s, KR_REG_COMPENSATION);
    order->tolerance_um = kr_um_from_nm(nm(s, KR_REG_TOLERANCE, 0));
    order->web_width_nm = nm(s, KR_REG_WEB_WIDTH, 0);
    order->trim_nm = nm(s, KR_REG_TRIM, 0);
    order->shift_nm = nm(s, KR_REG_SHIFT, 0);
    order->sum_nm = nm(s, KR_REG_WIDTH_SUM, 0);
    for (uint16_t i = 0; i < widths_of(order); i++)
        order->width_nm[i] = nm(s, KR_REG_WIDTH, i);
}

/* ---- the verdict ---------------------------------------------------------------------------------------------------- */

static void verdict_begin(struct kr_station *s)
{
    struct intake *t = &s->intake;
    memset(&t->verdict, 0, sizeof t->verdict);
    t->verdict.session = t->session;
    t->verdict.number = t->number;
    t->verdict.kind = t->kind;
    t->verdict.order_number = t->order.order_number;
    t->verdict.slit_count = t->order.n_slits;
    for (uint16_t i = 0; i < widths_of(&t->order); i++)
        t->verdict.sum_nm += t->order.width_nm[i];
}

/* From here on the verdict is a fact as soon as the book has it. */
static void verdict_store(struct kr_station *s, struct kr_result result)
{
    struct intake *t = &s->intake;
    t->verdict.result = result;
    queue_keep(s, t->recipe, &t->before);
    if (result.code == KR_OK) {
        t->verdict.replaced_order = queue_replaced(s, t->kind);
        queue_apply(s, t->kind, t->recipe, &t->order);
    }
    s->durable.verdict = t->verdict;
    durable_touch(s);
    t->serial = s->durable.serial;
    t->step = INTAKE_STORING;
}

static void verdict_withdraw(struct kr_station *s)
{
    struct intake *t = &s->intake;
    queue_restore(s, t->recipe, &t->before);
    s->verdict = t->verdict;
    s->verdict.replaced_order = 0;
    s->verdict.result = (struct kr_result){.code = KR_NOT_STORED};
    s->durable.verdict = s->verdict;
    durable_touch(s);
    t->step = INTAKE_FREE;
}

/* What can be said without a plan; KR_OK: a plan has to say the rest. */
static struct kr_result judge_form(const struct kr_station *s, bool reused)
{
    const struct intake *t = &s->intake;
    if (t->session != s->session)
        return (struct kr_result){.code = KR_STALE_SESSION, .value = t->session, .limit = s->session};
    if (reused)
        return (struct kr_result){.code = KR_NUMBER_REUSED, .value = t->number};
    if (t->kind < KR_REQUEST_STAGE || t->kind > KR_REQUEST_LAST)
        return (struct kr_result){.code = KR_UNKNOWN_KIND, .value = t->kind, .limit = KR_REQUEST_LAST};
    if (s->in.book_failed)
        return (struct kr_result){.code = KR_NOT_STORED};
    struct kr_result result = queue_judge(s, t->kind, t->recipe);
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
    uint16_t number = u16(s, KR_REG_REQUEST_NUMBER), session = u16(s, KR_REG_REQUEST_SESSION);
    if (number == 0)
        return; /* 0 is no request */
    bool reused = t->last.present && number == t->number && session == t->session;
    t->last = *request;
    t->number = number;
    t->session = session;
    t->kind = u16(s, KR_REG_REQUEST_KIND);
    t->recipe = u16(s, KR_REG_RECIPE);
    decode(s, &t->order);
    queue_recall(s, t->kind, t->recipe, &t->order);
    verdict_begin(s);
    struct kr_result result = judge_form(s, reused);
    if (result.code == KR_OK && queue_needs_plan(t->kind))
        t->step = INTAKE_WAITS;
    else
        verdict_store(s, result);
}

static void ask_for_plan(struct kr_station *s)
{
    if (!plan_ask(s, PLAN_FOR_REQUEST))
        return;
    struct kr_plan_request *request = &s->plan_request;
    memset(request, 0, sizeof *request);
    request->geometry = s->config.geometry;
    request->deadband_um = s->config.deadband_um;
    request->order = s->intake.order;
    plan_positions(s, request);
    s->intake.step = INTAKE_PLANNING;
}

/* A request is never busy for ever; what is still planned for it is dropped when it comes. */
static void plan_overdue(struct kr_station *s)
{
    int64_t waited_ms = (s->wall_us - s->plan_asked_us) / 1000;
    if (waited_ms < s->config.plan_limit_ms)
        return;
    plan_drop(s);
    verdict_store(s, (struct kr_result){.code = KR_NO_PLAN_IN_TIME,
                                        .value = (int32_t)waited_ms,
                                        .limit = s->config.plan_limit_ms});
}

static void plan_made(struct kr_station *s)
{
    const struct kr_plan_answer *answer = plan_answer(s, PLAN_FOR_REQUEST);
    if (answer == NULL) {
        plan_overdue(s);
        return;
    }
    if (answer->result.code == KR_OK) {
        int64_t ms = (answer->plan.time_us + 500) / 1000;
        s->intake.verdict.time_ms = ms < INT32_MAX ? (int32_t)ms : INT32_MAX;
    }
    /* The book may have failed since the request was taken. What it tries again later must not hold an order that is
     * refused now. */
    verdict_store(s, s->in.book_failed ? (struct kr_result){.code = KR_NOT_STORED} : answer->result);
}

static void stored(struct kr_station *s)
{
    if (durable_committed(s, s->intake.serial)) {
        s->verdict = s->intake.verdict;
        if (s->verdict.result.code == KR_OK)
            queue_stored(s, s->intake.kind, s->verdict.time_ms);
        s->intake.step = INTAKE_FREE;
    } else if (s->in.book_failed) {
        verdict_withdraw(s);
    }
}

void intake_step(struct kr_station *s)
{
    if (s->intake.step == INTAKE_FREE && s->in.request.present)
        take(s);
    switch (s->intake.step) {
    case INTAKE_WAITS: ask_for_plan(s); break;
    case INTAKE_PLANNING: plan_made(s); break;
    case INTAKE_STORING: stored(s); break;
    case INTAKE_FREE: break;
    }
}
