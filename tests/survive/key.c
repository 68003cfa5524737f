/* A number for all of a world that matters for what may come, and nothing else: times as ages, serials as 'stored or
 * not', sessions as 'this one, the one before, an older one'. Two worlds with one number are taken as one; that they
 * then behave as one is checked by sampling (interleave.c). */
#include "world.h"

static void add(uint64_t *key, int64_t number)
{
    uint64_t z = *key ^ ((uint64_t)number + 0x9E3779B97F4A7C15u);
    z = (z ^ z >> 30) * 0xBF58476D1CE4E5B9u;
    z = (z ^ z >> 27) * 0x94D049BB133111EBu;
    *key = z ^ z >> 31;
}

static int64_t capped(int64_t age, int64_t most)
{
    return age < most ? age : most;
}

static void add_session(uint64_t *key, const struct world *w, uint16_t session)
{
    add(key, capped(w->session - session, 2));
}

/* Whether what has this serial is stored, or is being stored. */
static void add_serial(uint64_t *key, const struct world *w, uint32_t serial)
{
    bool stored = (int32_t)(w->in.committed_serial - serial) >= 0;
    bool under_way = w->busy && (int32_t)(w->writing.serial - serial) >= 0;
    add(key, stored ? 2 : under_way);
}

static void add_verdict(uint64_t *key, const struct world *w, const struct kr_verdict *v)
{
    add_session(key, w, v->session);
    add(key, v->number);
    add(key, v->kind);
    add(key, (int64_t)v->result.code);
    add(key, v->order_number);
    add(key, v->replaced_order);
}

static void add_edit(uint64_t *key, const struct world *w, const struct kr_edit *e)
{
    add_session(key, w, e->session);
    add(key, e->number);
    add(key, e->kind);
    add(key, e->holder);
    add(key, e->edge_offset_um);
    add(key, (int64_t)e->result.code);
}

static void add_orders(uint64_t *key, struct orders o)
{
    add(key, o.in_force | o.staged << 8 | o.n_queued << 16);
    for (int i = 0; i < QUEUE_SEEN; i++)
        add(key, o.queue[i]);
    add(key, o.recipe);
}

static void add_durable(uint64_t *key, const struct world *w, const struct kr_durable *d)
{
    for (int i = 0; i < TOY_HOLDERS; i++) {
        add(key, d->holder[0][i].position_um);
        add(key, d->holder[0][i].known);
        add(key, d->holder[0][i].edge_offset_um);
        add(key, d->holder[0][i].state);
        add(key, d->holder[0][i].origin);
        add(key, d->holder[0][i].edge);
        add(key, d->holder[0][i].was_known | d->holder[0][i].cut << 8);
        add(key, d->holder[0][i].knife);
    }
    const struct kr_knife_event *event = &d->knife_event;
    bool is_new = event->number != 0 && event->number != w->landed_event;
    add(key, is_new ? 1 + event->kind + ((int64_t)event->knife << 8) + ((int64_t)event->to << 16) +
                          ((int64_t)event->holder << 24)
                    : 0);
    add(key, is_new ? event->name[0] : 0);
    add(key, d->access_count[0] | d->proof_inputs[0] << 16);
    add(key, d->proof[0]);
    add_edit(key, w, &d->edit);
    add(key, d->was_verified | d->fell << 1);
    add(key, d->docking[0]);
    add(key, d->rests[0]);
    add(key, d->rest_um[0]);
    add(key, d->shift_um[0]);
    add(key, d->references[0].correction.datum_um);
    add(key, d->references[0].trend_um[0]);
    add_orders(key, world_orders(d));
    add_verdict(key, w, &d->verdict);
}

static void add_snapshot(uint64_t *key, const struct world *w, const struct kr_snapshot *snapshot,
                         enum kr_block_id block, enum kr_reg session, enum kr_reg number, enum kr_reg what,
                         enum kr_reg more)
{
    add(key, snapshot->present);
    if (!snapshot->present)
        return;
    add_session(key, w, kr_snapshot_u16(snapshot, block, session, 0));
    add(key, kr_snapshot_u16(snapshot, block, number, 0));
    add(key, kr_snapshot_u16(snapshot, block, what, 0));
    add(key, kr_snapshot_u16(snapshot, block, more, 0));
    if (block == KR_BLOCK_EDIT) {
        add(key, kr_snapshot_u16(snapshot, block, KR_REG_EDIT_KNIFE, 0));
        add(key, kr_snapshot_i32(snapshot, block, KR_REG_EDIT_OFFSET, 0, (struct kr_format){0}));
    }
    if (block == KR_BLOCK_ORDER)
        add(key, kr_snapshot_i32(snapshot, block, KR_REG_ORDER_NUMBER, 0, (struct kr_format){0}));
}

static void add_intake(uint64_t *key, const struct world *w)
{
    const struct intake *t = &w->station.intake;
    add(key, (int64_t)t->step);
    add_snapshot(key, w, &t->last, KR_BLOCK_ORDER, KR_REG_REQUEST_SESSION, KR_REG_REQUEST_NUMBER, KR_REG_REQUEST_KIND,
                 KR_REG_SLIT_COUNT);
    add(key, t->number);
    if (t->step == INTAKE_FREE)
        return;
    add_session(key, w, t->session);
    add(key, t->kind);
    add(key, t->order.order_number);
    if (!intake_is_storing(t))
        return;
    add_verdict(key, w, &t->verdict);
    add(key, t->before.staged ? t->before.staged_order.order_number : 0);
    add(key, t->before.n_queued);
    for (uint16_t i = 0; i < t->before.n_queued; i++)
        add(key, t->before.queue[i].order_number);
    add(key, t->recipe ? t->before.recipe.n_slits * (int64_t)t->before.recipe.order_number : 0);
    add_serial(key, w, t->serial);
}

static void add_offsets(uint64_t *key, const struct world *w)
{
    const struct test_cuts *o = &w->station.test_cuts;
    add(key, o->placed.valid);
    for (int k = 0; o->placed.valid && k < o->placed.n_cuts; k++) {
        add(key, o->placed.holder[k]);
        add(key, o->placed.centre_um[k]);
    }
    add(key, o->n_strips);
    for (int i = 0; i < o->n_strips; i++) {
        add(key, o->strips[i].left | o->strips[i].right << 8);
        add(key, (int64_t)o->strips[i].sum_um);
    }
    add(key, o->proposed | o->pairs_looked_at << 1);
    for (int i = 0; i < TOY_HOLDERS; i++) {
        add(key, o->proposed && o->fit.fitted[i] ? o->fit.offset_um[i] : INT32_MIN);
        add(key, w->station.editing.step == EDIT_STORING ? o->before_um[i] : 0);
    }
}

static void add_jog(uint64_t *key, const struct world *w)
{
    const struct jog *jog = &w->station.jog;
    const struct kr_motion *m = &w->station.rails.motion[0];
    add(key, w->in.jog_refresh | jog->refresh << 1 | jog->refreshed << 2);
    add(key, w->in.jog_direction);
    add(key, capped((w->station.clock.wall_us - jog->refresh_us) / 1000, KR_JOG_REFRESH_MS));
    add(key, (int64_t)m->jog);
    add(key, m->jog_direction);
}

static void add_editing(uint64_t *key, const struct world *w)
{
    const struct editing *e = &w->station.editing;
    add_snapshot(key, w, &e->last, KR_BLOCK_EDIT, KR_REG_EDIT_SESSION, KR_REG_EDIT_NUMBER, KR_REG_EDIT_KIND,
                 KR_REG_EDIT_HOLDER);
    add_snapshot(key, w, &w->in.edit, KR_BLOCK_EDIT, KR_REG_EDIT_SESSION, KR_REG_EDIT_NUMBER, KR_REG_EDIT_KIND,
                 KR_REG_EDIT_HOLDER);
    add_edit(key, w, &w->station.editing.published);
    add_edit(key, w, &e->edit);
    add(key, (int64_t)e->step);
    if (e->step == EDIT_FREE)
        return;
    add_edit(key, w, &e->asked);
    add(key, e->knife.name[0] | (int64_t)e->before.knife << 8);
    if (e->step == EDIT_ASKING)
        return;
    add_serial(key, w, e->serial);
    add(key, e->before.edge_offset_um);
    add(key, e->before.state);
    add(key, e->before.position_um);
    add(key, e->before.known);
    for (int i = 0; i < TOY_HOLDERS; i++)
        add(key, w->station.edges.edge_before[0][i]);
}

static void add_plan(uint64_t *key, const struct world *w)
{
    const struct kr_station *s = &w->station;
    add(key, s->planning.user);
    add(key, s->planning.ticket != 0 && s->planning.ticket == w->asked_ticket);
    add(key, w->planning);
    if (s->planning.user != PLAN_FOR_NOBODY)
        add(key, capped((s->clock.wall_us - s->planning.asked_us) / 1000, s->config.plan_limit_ms));
    add(key, s->planning.valid);
    add(key, s->planning.cuts_valid);
    add(key, s->placement.verified);
    const struct kr_plan_rail *rail = &s->planning.plan.rail[0];
    for (int i = 0; i < TOY_HOLDERS; i++) {
        add(key, rail->holder[i].cut);
        add(key, rail->holder[i].target_um);
    }
    add(key, rail->n_moves);
    for (int i = 0; i < rail->n_moves && i < TOY_HOLDERS; i++) {
        add(key, rail->move[i].holder);
        add(key, rail->move[i].to_um);
    }
    if (!w->planning)
        return;
    add(key, w->asked.order.order_number);
    add(key, w->asked.park);
    for (int i = 0; i < TOY_HOLDERS; i++) {
        add(key, w->asked.rail[0].holder[i].position_um);
        add(key, w->asked.rail[0].holder[i].edge_offset_um);
        add(key, w->asked.rail[0].holder[i].state);
    }
}

static void add_carriage(uint64_t *key, const struct world *w)
{
    const struct kr_station *s = &w->station;
    const struct kr_motion *c = &s->rails.motion[0];
    add(key, (int64_t)c->phase);
    add(key, capped(s->clock.now_ms - c->since_ms, c->phase == KR_CARRIAGE_OFF ? 0 : 5200));
    add(key, (int32_t)(s->in.axis[0].answers - c->proof) >= 0);
    add(key, (int32_t)(w->out.axis[0].serial - c->proof) >= 0);
    add(key, (int64_t)c->task);
    add(key, c->task_done);
    add(key, c->docked);
    add(key, c->move);
    add(key, c->tries);
    add(key, c->leg);
    add(key, c->brake_is_open);
    add(key, c->clamp_open);
    add(key, c->rest_compared | c->encoder_blamed << 1 | c->homed_here << 2);
    add(key, (int64_t)c->wind_down);
    add_serial(key, w, c->docking_generation);
    add(key, c->track.n_samples);
    add(key, capped(s->clock.now_ms - c->track.still_since_ms, 200));
    add(key, c->track.still_um);
    add(key, c->drive.on | c->drive.halt << 1 | c->drive.quick_stop << 2 | c->drive.homing << 3);
    add(key, (int64_t)c->drive.setpoint);
    add(key, c->drive.target_um);
    bool waits = c->drive.setpoint != KR_SETPOINT_NONE && c->drive.setpoint != KR_SETPOINT_REACHED;
    add(key, waits ? capped(s->clock.now_ms - c->drive.since_ms, c->drive.limit_ms) : 0);
    add(key, waits ? (int32_t)(s->in.axis[0].answers - c->drive.proof) >= 0 : 0);
    if (c->phase != KR_CARRIAGE_SCANNING)
        return;
    add(key, (int64_t)c->scan.step);
    add(key, c->scan.pass);
    add(key, c->scan.of[KR_SWITCH_OF_HOLDERS].rise_pending);
    add(key, c->scan.of[KR_SWITCH_OF_HOLDERS].n_hits[0]);
    add(key, c->scan.of[KR_SWITCH_OF_HOLDERS].n_hits[1]);
}

static void add_signals(uint64_t *key, const struct world *w)
{
    const struct kr_station *s = &w->station;
    const struct hands_rail *h = &s->hands.rail[0];
    add(key, s->placement.set_aside | s->line.may_go_on << 1);
    add(key, h->aside | h->clear << 1 | h->unheard << 2 | h->back << 3 | h->inputs << 4);
    add(key, h->aside && h->back ? capped(s->clock.now_ms - h->back_ms, 2000) : 0);
    add(key, h->aside && h->back ? capped((int64_t)s->permits.beats - h->beats, 2) : 0);
    add(key, w->in.access_count | w->line.access_count << 16);
}

static bool state_has_limit(enum kr_unit_state state)
{
    return state == KR_STATE_RESETTING || state == KR_STATE_CLEARING || state == KR_STATE_UNHOLDING ||
           state == KR_STATE_UNSUSPENDING;
}

static void add_unit(uint64_t *key, const struct world *w)
{
    const struct kr_station *s = &w->station;
    add(key, (int64_t)s->unit.state);
    add(key, state_has_limit(s->unit.state) ? capped(s->clock.now_ms - s->unit.state_ms, 2100) : 0);
    add_serial(key, w, s->starting.serial);
    add(key, s->starting.storing);
    add_serial(key, w, s->job.stored_serial);
    add(key, s->job.kind);
    add(key, (int64_t)s->job.phase);
    add(key, s->job.phase_begun | s->job.scanned << 1 | s->job.correcting << 2 | s->job.replanned << 3);
    add(key, s->job.corrections);
    add(key, s->job.rail_mask);
    add_snapshot(key, w, &s->command.last, KR_BLOCK_COMMAND, KR_REG_COMMAND_SESSION, KR_REG_COMMAND_NUMBER,
                 KR_REG_COMMAND, KR_REG_COMMAND_JOB);
    add(key, s->permits.heartbeat_seen | s->permits.heartbeat_fresh << 1 | s->permits.control_lost << 2);
    add(key, capped((s->clock.wall_us - s->permits.heartbeat_us) / 1000, s->config.heartbeat_limit_ms));
    add(key, s->permits.given);
    add(key, s->metres.written);
    add(key, s->alarms.n);
    for (int i = 0; i < s->alarms.n; i++) {
        add(key, s->alarms.at[i].code);
        add(key, s->alarms.at[i].item);
    }
}

static void add_toy(uint64_t *key, const struct toy *t)
{
    for (int i = 0; i < TOY_HOLDERS; i++)
        add(key, t->holder_um[i]);
    add(key, t->at_um);
    add(key, t->moving ? t->target_um : t->at_um);
    add(key, t->drive | t->pin << 8 | (t->held + 1) << 16);
    add(key, t->link | t->acknowledges << 1 | t->moving << 2 | t->halfway << 3 | t->brake_open << 4 | t->probing << 5);
    add(key, t->mode);
    for (int i = 0; i < TOY_HOLDERS; i++)
        add(key, t->off[i] | t->by_hand[i] << 1);
    add(key, t->jog_device);
    for (int i = 0; i < TOY_HOLDERS; i++)
        add(key, t->crept[i]);
    add(key, t->late | t->swapped << 1);
    if (!t->late)
        return;
    add(key, t->told.controlword | t->told.outputs << 16);
    add(key, t->told.target_um);
    add(key, t->told.probe_function | t->told.mode << 16);
}

/* What was seen of the drive last, while an answer is awaited. */
static void add_image(uint64_t *key, const struct kr_axis_in *in)
{
    add(key, in->link | in->statusword << 1);
    add(key, capped(in->age_ms, 400));
    add(key, in->position_um);
    add(key, in->inputs | in->probe_status << 16);
    add(key, in->rise_count | (int64_t)in->fall_count << 16);
    add(key, in->rise_um);
    add(key, in->fall_um);
}

static void add_line(uint64_t *key, const struct world *w)
{
    add(key, w->line.given | w->line.taken << 16);
    add(key, w->holding[kr_reg_address(KR_REG_PLC_HEARTBEAT, 0, 0)] == w->line.heartbeat);
    add(key, w->plc.second_beats | w->drifts << 1);
}

static void add_plc(uint64_t *key, const struct world *w)
{
    const struct plc *p = &w->plc;
    add(key, p->beats | p->all_permitted << 1 | p->starting << 2 | p->go << 3);
    add(key, p->accesses);
    add(key, p->request_number);
    add(key, p->command_number);
    add(key, p->edit_number);
    for (int i = 0; i < TOY_HOLDERS; i++)
        add(key, p->set.offset_um[i] | (int64_t)p->set.state[i] << 32 | (int64_t)p->set.knife[i] << 40);
    for (int k = 0; k < WORLD_KNIVES; k++)
        add(key, p->ledger.place[k] | p->ledger.holder[k] << 8);
    add(key, p->asked_knife[p->edit_number]);
    add_edit(key, w, &p->edit_stored);
    add_orders(key, p->told);
    if (p->starting)
        add_orders(key, p->before_start);
    add(key, capped(p->silent_cycles, 4));
    add(key, capped(p->unrefreshed_cycles, 8));
    add(key, capped(p->loose_cycles, 1));
    add(key, p->proposal.stands);
    for (int i = 0; i < TOY_HOLDERS; i++)
        add(key, p->proposal.fitted[i] ? p->proposal.offset_um[i] : INT32_MIN);
    add_verdict(key, w, &p->verdict);
    add_verdict(key, w, &p->stored);
}

uint64_t world_key(const struct world *w)
{
    uint64_t key = 0;
    add(&key, w->busy | w->failed << 1 | w->retry << 2 | w->plan_done << 3);
    add(&key, w->answered ? 1 + w->answered_well : 0);
    add_snapshot(&key, w, &w->in.request, KR_BLOCK_ORDER, KR_REG_REQUEST_SESSION, KR_REG_REQUEST_NUMBER,
                 KR_REG_REQUEST_KIND, KR_REG_SLIT_COUNT);
    add(&key, w->out.axis[0].controlword);
    add(&key, w->out.axis[0].outputs);
    add_unit(&key, w);
    add_carriage(&key, w);
    add_intake(&key, w);
    add_editing(&key, w);
    add_offsets(&key, w);
    add_jog(&key, w);
    add_plan(&key, w);
    add_signals(&key, w);
    add_verdict(&key, w, &w->station.intake.published);
    add_durable(&key, w, &w->station.durable);
    add_durable(&key, w, &w->disk);
    if (w->busy)
        add_durable(&key, w, &w->writing);
    add(&key, w->in_doubt);
    if (w->in_doubt)
        add_durable(&key, w, &w->doubtful);
    add_serial(&key, w, w->station.durable.serial);
    for (int k = 0; k < WORLD_KNIVES; k++)
        add(&key, w->ledger.place[k] | w->ledger.holder[k] << 8);
    add(&key,
        w->knife_waits | w->ledger_answers << 1 | w->ledger_fails << 2 | (w->knife_waits ? w->knife_asked << 3 : 0));
    add_toy(&key, &w->toy);
    if (w->toy.late)
        add_image(&key, &w->in.axis[0]);
    add_line(&key, w);
    add_plc(&key, w);
    return key;
}
