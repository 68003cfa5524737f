#include "world.h"

#include <stdlib.h>
#include <string.h>

/* ---- the station's config ------------------------------------------------------------------------------------- */

static void configure(struct kr_station_config *c)
{
    memset(c, 0, sizeof *c);
    memcpy(c->name, "toy", 4);
    c->period_us = 1000 * WORLD_PERIOD_MS;
    c->deadband_um = 50;
    c->pair_window_um = c->slit_tolerance_um = 300;
    c->heartbeat_limit_ms = c->control_limit_ms = 3 * WORLD_PERIOD_MS;
    c->plan_limit_ms = 100 * WORLD_PERIOD_MS;
    c->need_scan = c->need_drag = c->need_home = c->need_jog = 0x1F;
    c->access = KR_PERMIT_GUARDS_CLOSED;
    c->geometry = (struct kr_geometry){
        .n_rails = 1,
        .rails_together = true,
        .n_sizes = 3,
        /* 1, 2, 3 in: common practice, no published source */
        .size_spacing_um = {TOY_SPACING_UM, 50800, 76200},
        .web_centre_um = 500000,
        .web_max_nm = 900000000,
        .trim_min_nm = 5000000,
        .trim_max_nm = 300000000,
        .shift_max_um = 50000,
        .compensation_max_ppm = 20000,
        .tolerance_um = 203, /* 0.008 in: common practice, no published source */
        .tolerance_max_um = 1000,
        .idle_policy = KR_IDLE_ANYWHERE,
        .rail[0] = {.role = KR_UPPER,
                    .n_holders = TOY_HOLDERS,
                    .max_um = 1000000,
                    .empty = {1000000, 100000000},
                    .drag = {1000000, 100000000},
                    .dock_us = 100000,
                    .undock_us = 100000},
    };
    c->brakes_hold = true;
    c->carriage[0] = (struct kr_carriage_config){
        .clamping = KR_CLAMP_PER_HOLDER,
        .travel_min_um = -200000,
        .travel_max_um = 1200000,
        .travel_margin_um = 5000,
        .drift_um = 20000,
        .park_um = -50000,
        .park_window_um = 1000,
        .scan_speed_um_per_s = 1000000,
        .setup_speed_um_per_s = 500000,
        .passes_apart_um = 1000,
        .flag_width_um = TOY_FLAG_UM,
        .displaced_um = 1000,
        .alike_um = 100,
        .jump_um = 2000000000, /* the toy jumps */
        .enable_limit_ms = 2000,
        .setpoint_limit_ms = 1000,
        .pin_limit_ms = 1000,
        .brake_limit_ms = 1000,
        .clamp_limit_ms = 1000,
        .home_limit_ms = 1000,
        .answers_late_ms = 250,
        .move_margin_ms = 3000,
        .dock_tries = 1,
    };
}

static void seed(const struct toy *toy, struct kr_durable *durable)
{
    memset(durable, 0, sizeof *durable);
    durable->serial = 1;
    for (int i = 0; i < TOY_HOLDERS; i++)
        durable->holder[0][i] = (struct kr_holder_data){
            .position_um = toy->holder_um[i], .known = KR_REMEMBERED, .holder_size = 1, .state = KR_HOLDER_IN};
}

static void come_up(struct world *w)
{
    struct kr_station_config config;
    configure(&config);
    if (w->drifts)
        config.carriage[0].drift_um = 0;
    memset(&w->in, 0, sizeof w->in);
    memset(&w->out, 0, sizeof w->out);
    memset(&w->disk.knife_event, 0, sizeof w->disk.knife_event); /* the book has that in its ledger alone */
    memset(&w->disk.test_cut, 0, sizeof w->disk.test_cut);       /* and that in its history */
    kr_station_init(&w->station, &config, w->session, &w->disk);
    w->in.committed_serial = w->disk.serial;
    w->in.controlled = true;
    w->in.control_generation = 1;
    w->landed_event = w->knife_ticket = 0;
    w->knife_waits = w->ledger_answers = w->ledger_fails = false;
    w->knife_asked = 0;
    w->busy = w->failed = w->retry = w->answered = w->planning = w->plan_done = w->in_doubt = false;
    w->asked_ticket = 0;
}

/* Maintenance has confirmed the edges before the search begins: nothing may run without that. */
static void confirm_edges(struct world *w)
{
    const struct asked asked = {KR_EDIT_BENCH, .holder = 0};
    world_edit(w, w->session, asked, 1);
    do {
        w->answered = w->answered_well = w->busy;
        world_cycle(w);
    } while (w->out.edit_busy);
}

void world_init(struct world *w)
{
    memset(w, 0, sizeof *w);
    toy_init(&w->toy);
    seed(&w->toy, &w->disk);
    w->session = 10;
    w->ledger.place[0] = w->plc.ledger.place[0] = KR_KNIFE_SHELF;
    w->plc.beats = w->plc.all_permitted = true;
    w->toy.jog_device = true;
    come_up(w);
    confirm_edges(w);
}

/* ---- orders ---------------------------------------------------------------------------------------------------- */

static const int32_t slit_um[] = {
    [ORDER_A] = 300000, [ORDER_B] = 400000, [ORDER_TOO_WIDE] = 950000, [ORDER_ALTERED] = 0};

int32_t world_slit_um(enum world_order order)
{
    return slit_um[order];
}

static enum world_order order_of(uint8_t there, const struct kr_order *order)
{
    static const struct kr_order plain;
    if (!there)
        return ORDER_NONE;
    struct kr_order expected = plain;
    expected.order_number = order->order_number;
    expected.n_slits = 1;
    expected.web_width_nm = 600000000;
    if (order->order_number < ORDER_A || order->order_number > ORDER_TOO_WIDE)
        return ORDER_ALTERED;
    expected.width_nm[0] = expected.sum_nm = 1000LL * slit_um[order->order_number];
    return memcmp(&expected, order, sizeof expected) == 0 ? (enum world_order)order->order_number : ORDER_ALTERED;
}

struct orders world_orders(const struct kr_durable *d)
{
    struct orders orders = {.in_force = (uint8_t)order_of(d->in_force, &d->order),
                            .staged = (uint8_t)order_of(d->staged, &d->staged_order),
                            .n_queued = (uint8_t)d->n_queued};
    for (uint16_t i = 0; i < d->n_queued && i < QUEUE_SEEN; i++)
        orders.queue[i] = (uint8_t)order_of(1, &d->queue[i]);
    orders.recipe = (uint8_t)order_of(d->recipe[0].n_slits > 0, &d->recipe[0]);
    return orders;
}

struct settings world_settings(const struct kr_durable *d)
{
    struct settings set;
    for (int i = 0; i < TOY_HOLDERS; i++) {
        set.knife[i] = (int32_t)d->holder[0][i].knife;
        set.offset_um[i] = d->holder[0][i].edge_offset_um;
        set.state[i] = d->holder[0][i].state;
        set.edge[i] = d->holder[0][i].edge;
    }
    return set;
}

/* ---- what the PLC writes --------------------------------------------------------------------------------------- */

static void put(struct kr_snapshot *snapshot, enum kr_block_id block, enum kr_reg reg, int32_t value)
{
    uint16_t *word = &snapshot->word[kr_reg_address(reg, 0, 0) - kr_block_info(block)->first];
    if (kr_reg_words(kr_reg_info(reg)->type) == 1) {
        word[0] = (uint16_t)value;
        return;
    }
    word[0] = (uint16_t)((uint32_t)value >> 16);
    word[1] = (uint16_t)((uint32_t)value & 0xFFFFu);
}

void world_request(struct world *w, uint16_t session, enum kr_request_kind kind, enum world_order order,
                   uint16_t number)
{
    struct kr_snapshot *r = &w->in.request;
    memset(r, 0, sizeof *r);
    put(r, KR_BLOCK_ORDER, KR_REG_REQUEST_SESSION, session);
    put(r, KR_BLOCK_ORDER, KR_REG_REQUEST_KIND, (int32_t)kind);
    put(r, KR_BLOCK_ORDER, KR_REG_REQUEST_NUMBER, number);
    put(r, KR_BLOCK_ORDER, KR_REG_ORDER_NUMBER, (int32_t)order);
    bool of_recipe = kind >= KR_REQUEST_STORE_RECIPE && kind <= KR_REQUEST_DROP_RECIPE;
    put(r, KR_BLOCK_ORDER, KR_REG_RECIPE, of_recipe);
    put(r, KR_BLOCK_ORDER, KR_REG_SLIT_COUNT, 1);
    put(r, KR_BLOCK_ORDER, KR_REG_WEB_WIDTH, 600000);
    put(r, KR_BLOCK_ORDER, KR_REG_WIDTH_SUM, slit_um[order]);
    put(r, KR_BLOCK_ORDER, KR_REG_WIDTH, slit_um[order]);
    r->present = true;
    w->plc.request_number = number;
}

void world_repeat_request(struct world *w)
{
    w->in.request = w->station.intake.last;
}

void world_command(struct world *w, uint16_t session, enum kr_command command, enum kr_job job, uint16_t number)
{
    struct kr_snapshot *c = &w->in.command;
    memset(c, 0, sizeof *c);
    put(c, KR_BLOCK_COMMAND, KR_REG_COMMAND_SESSION, session);
    put(c, KR_BLOCK_COMMAND, KR_REG_COMMAND, (int32_t)command);
    put(c, KR_BLOCK_COMMAND, KR_REG_COMMAND_JOB, (int32_t)job);
    put(c, KR_BLOCK_COMMAND, KR_REG_COMMAND_RAIL, job == KR_JOB_JOG);
    put(c, KR_BLOCK_COMMAND, KR_REG_COMMAND_NUMBER, number);
    c->present = true;
    w->plc.command_number = number;
}

void world_repeat_command(struct world *w)
{
    w->in.command = w->station.command.last;
}

void world_refresh_jog(struct world *w)
{
    w->in.jog_refresh ^= 1;
    w->in.jog_direction = w->toy.at_um < 500000 ? 1 : -1;
    w->plc.unrefreshed_cycles = -1; /* none, once the next cycle is made */
}

/* Knives are called A and B. */
static void put_knife(struct kr_snapshot *e, struct asked asked)
{
    const uint16_t first = kr_block_info(KR_BLOCK_EDIT)->first;
    if (asked.knife != 0)
        e->word[kr_reg_address(KR_REG_EDIT_KNIFE, 0, 0) - first] = (uint16_t)(('A' + asked.knife - 1) << 8);
    e->word[kr_reg_address(KR_REG_EDIT_KNIFE_KIND, 0, 0) - first] = 'x' << 8;
    put(e, KR_BLOCK_EDIT, KR_REG_EDIT_KNIFE_TO, KR_KNIFE_SHELF);
    put(e, KR_BLOCK_EDIT, KR_REG_EDIT_KNIFE_GIVEN, asked.kind == KR_EDIT_REGROUND ? KR_KNIFE_GIVEN_OFFSET : 0);
}

void world_edit(struct world *w, uint16_t session, struct asked asked, uint16_t number)
{
    struct kr_snapshot *e = &w->in.edit;
    memset(e, 0, sizeof *e);
    put(e, KR_BLOCK_EDIT, KR_REG_EDIT_SESSION, session);
    put(e, KR_BLOCK_EDIT, KR_REG_EDIT_NUMBER, number);
    put(e, KR_BLOCK_EDIT, KR_REG_EDIT_KIND, (int32_t)asked.kind);
    put(e, KR_BLOCK_EDIT, KR_REG_EDIT_RAIL, asked.knife == 0 || asked.holder != 0);
    put(e, KR_BLOCK_EDIT, KR_REG_EDIT_HOLDER, asked.holder);
    put(e, KR_BLOCK_EDIT, KR_REG_EDIT_SIZE, 1);
    put(e, KR_BLOCK_EDIT, KR_REG_EDIT_OFFSET, asked.offset_um);
    put(e, KR_BLOCK_EDIT, KR_REG_EDIT_POSITION, asked.position_um);
    put(e, KR_BLOCK_EDIT, KR_REG_EDIT_WIDTH_COUNT, 1);
    put(e, KR_BLOCK_EDIT, KR_REG_EDIT_WIDTH, asked.width_um);
    put_knife(e, asked);
    e->present = true;
    w->plc.asked_knife[number] = asked.knife;
    w->plc.edit_number = number;
}

/* ---- the daemon ------------------------------------------------------------------------------------------------ */

static void plan_answers(struct world *w)
{
    static void *workspace;
    w->in.plan.ticket = 0;
    if (!w->plan_done)
        return;
    if (workspace == NULL && (workspace = malloc(kr_plan_workspace_size())) == NULL)
        abort();
    w->in.plan.ticket = w->asked_ticket;
    w->in.plan.result = kr_plan_make(&w->asked, workspace, &w->in.plan.plan);
    w->planning = w->plan_done = false;
}

static void plan_asked(struct world *w)
{
    if (w->out.plan_ticket == 0 || w->planning || w->out.plan_ticket == w->asked_ticket)
        return;
    w->asked = *kr_station_plan_request(&w->station);
    w->asked_ticket = w->out.plan_ticket;
    w->planning = true;
}

/* What became of a knife is entered in the transaction that stores the rest (src/book/write.c). */
static void land(struct world *w, const struct kr_durable *stored)
{
    const struct kr_knife_event *e = &stored->knife_event;
    uint32_t knife = e->kind == KR_EDIT_ENTER ? (uint32_t)(e->name[0] - 'A' + 1) : e->knife;
    if (e->number != 0 && e->number != w->landed_event && knife >= 1 && knife <= WORLD_KNIVES) {
        w->ledger.place[knife - 1] = (uint8_t)e->to;
        w->ledger.holder[knife - 1] = (uint8_t)(e->to == KR_KNIFE_HOLDER ? e->holder : 0);
    }
    w->landed_event = e->number;
    w->disk = *stored;
}

static void commit_answers(struct world *w)
{
    if (w->answered && w->answered_well) {
        land(w, &w->writing);
        w->in.committed_serial = w->disk.serial;
    } else if (w->answered) {
        w->doubtful = w->writing;
    }
    if (w->answered) {
        w->in_doubt = !w->answered_well;
        w->failed = !w->answered_well;
        w->busy = w->answered = false;
    }
    w->in.book_failed = w->failed;
}

int32_t world_edge_um(int knife)
{
    return knife == 1 ? 3000 : -2000;
}

/* A knife is looked up between two commits, as src/daemon/committer.c does it. */
static void ledger_answers(struct world *w)
{
    if (!w->ledger_answers)
        return;
    uint8_t place = w->ledger_fails ? KR_KNIFE_NONE : w->ledger.place[w->knife_asked - 1];
    w->in.knife = (struct kr_knife_answer){.ticket = w->knife_ticket, .failed = w->ledger_fails, .place = place};
    if (place != KR_KNIFE_NONE) {
        w->in.knife.knife = w->knife_asked;
        w->in.knife.edge_known = 1;
        w->in.knife.edge_um = world_edge_um(w->knife_asked);
    }
    w->knife_waits = w->ledger_answers = w->ledger_fails = false;
}

static void ledger_asked(struct world *w)
{
    if (w->out.knife_ticket == 0 || w->out.knife_ticket == w->knife_ticket)
        return;
    w->knife_ticket = w->out.knife_ticket;
    w->knife_asked = (uint8_t)(w->out.knife_name[0] - 'A' + 1);
    w->knife_waits = true;
}

static void commit_begins(struct world *w)
{
    const struct kr_durable *durable = kr_station_durable(&w->station);
    if (w->busy || durable->serial == w->in.committed_serial || (w->failed && !w->retry))
        return;
    w->writing = *durable;
    w->busy = true;
    w->retry = false;
}

/* ---- what clients write in each cycle -------------------------------------------------------------------------- */

/* Whoever beats writes the permissives with it; a PLC that does not can still take one away. */
static void write_line(struct world *w)
{
    uint16_t *beat = &w->holding[kr_reg_address(KR_REG_PLC_HEARTBEAT, 0, 0)];
    uint16_t *permissives = &w->holding[kr_reg_address(KR_REG_PERMISSIVES, 0, 0)];
    uint16_t word[KR_FACE_LINE_WORDS];
    *permissives = w->plc.all_permitted ? 0x1F : 0x1F & ~KR_PERMIT_GUARDS_CLOSED;
    *beat = (uint16_t)(*beat + (w->plc.beats ? 1 : 0));
    w->holding[kr_reg_address(KR_REG_ACCESS_COUNT, 0, 0)] = w->plc.accesses;
    if (w->plc.beats)
        face_line_written(&w->line, w->holding, kr_reg_address(KR_REG_PLC_HEARTBEAT, 0, 0),
                          w->plc.accesses != 0 ? kr_reg_address(KR_REG_ACCESS_COUNT, 0, 0) + 1 : 2);
    else
        face_line_written(&w->line, w->holding, kr_reg_address(KR_REG_PERMISSIVES, 0, 0), 1);
    if (w->plc.second_beats) {
        ++*beat;
        face_line_written(&w->line, w->holding, kr_reg_address(KR_REG_PLC_HEARTBEAT, 0, 0), 1);
    }
    face_line_take(&w->line, w->holding, word);
    w->in.plc_heartbeat = word[kr_reg_address(KR_REG_PLC_HEARTBEAT, 0, 0)];
    w->in.permissives = word[kr_reg_address(KR_REG_PERMISSIVES, 0, 0)];
    w->in.access_count = word[kr_reg_address(KR_REG_ACCESS_COUNT, 0, 0)];
}

/* ---- a cycle --------------------------------------------------------------------------------------------------- */

void world_cycle(struct world *w)
{
    struct seen before;
    judge_remember(w, &before);
    before.halt = w->in.halt;
    before.overtaken = w->in.command.present && w->in.command.overtaken;
    w->in.dt_us = w->in.wall_dt_us = 1000 * WORLD_PERIOD_MS;
    w->plc.silent_cycles = w->plc.beats ? 0 : w->plc.silent_cycles + 1;
    w->plc.unrefreshed_cycles++;
    w->plc.loose_cycles = w->toy.jog_device ? 0 : w->plc.loose_cycles + 1;
    write_line(w);
    toy_step(&w->toy, &w->out.axis[0], &w->in.axis[0]);
    commit_answers(w);
    plan_answers(w);
    ledger_answers(w);
    kr_station_step(&w->station, &w->in, &w->out);
    w->station.storing.grown_us =
        w->station.clock.wall_us; /* the notice of a late book is left out: it changes nothing else */
    w->in.request.present = w->in.command.present = w->in.edit.present = false;
    w->in.halt = 0;
    plan_asked(w);
    ledger_asked(w);
    commit_begins(w);
    judge_cycle(w, &before);
}

/* Of what the disk has now, the answer that the client was still waiting for; nothing, if it has none. */
static struct kr_verdict verdict_unheard(const struct world *w)
{
    const struct intake *intake = &w->station.intake;
    const struct kr_verdict *v = &w->disk.verdict;
    bool is = intake_is_storing(intake) && v->number == intake->number && v->session == intake->session;
    return is && !judge_same_verdict(v, &w->plc.stored) ? *v : (struct kr_verdict){0};
}

static struct kr_edit edit_unheard(const struct world *w)
{
    const struct editing *editing = &w->station.editing;
    const struct kr_edit *e = &w->disk.edit;
    bool is = editing->step != EDIT_FREE && e->number == editing->edit.number && e->session == editing->edit.session;
    return is && !judge_same_edit(e, &w->plc.edit_stored) ? *e : (struct kr_edit){0};
}

void world_restart(struct world *w, enum world_landing landing)
{
    if (w->busy && (w->answered ? w->answered_well : landing == WORLD_UNDER_WAY_LANDS))
        land(w, &w->writing);
    else if (w->in_doubt && landing == WORLD_FAILED_LANDED)
        land(w, &w->doubtful);
    struct kr_verdict verdict = verdict_unheard(w);
    struct kr_edit edit = edit_unheard(w);
    w->session++;
    w->toy.late = false;
    w->line = (struct face_line){0}; /* what clients wrote before is nothing to a new gateway */
    come_up(w);
    judge_restart(w, &verdict, &edit);
}
