/* What must hold in every cycle of every interleaving. */
#include "world.h"

#include <stdlib.h>
#include <string.h>

#include "line.h"

#define SAME_PLACE_UM 50

static void must(struct world *w, bool holds, const char *invariant)
{
    if (!holds && w->broken == NULL)
        w->broken = invariant;
}

bool judge_same_verdict(const struct kr_verdict *a, const struct kr_verdict *b)
{
    return a->session == b->session && a->number == b->number && a->kind == b->kind &&
           a->result.code == b->result.code && a->order_number == b->order_number &&
           a->replaced_order == b->replaced_order && a->sum_nm == b->sum_nm && a->slit_count == b->slit_count;
}

static void move_up(struct orders *o)
{
    o->staged = o->n_queued > 0 ? o->queue[0] : ORDER_NONE;
    if (o->n_queued > 0)
        o->n_queued--;
    memmove(&o->queue[0], &o->queue[1], sizeof o->queue - sizeof o->queue[0]);
    o->queue[QUEUE_SEEN - 1] = ORDER_NONE;
}

static void put_behind(struct orders *o, uint8_t order)
{
    if (o->staged == ORDER_NONE)
        o->staged = order;
    else
        o->queue[o->n_queued++] = order;
}

/* What there is once the verdict is a fact, by the meaning that the map gives its kind. */
static struct orders once_accepted(const struct kr_verdict *v, struct orders o)
{
    if (v->number == 0 || v->result.code != KR_OK)
        return o;
    switch ((enum kr_request_kind)v->kind) {
    case KR_REQUEST_STAGE: o.staged = (uint8_t)v->order_number; break;
    case KR_REQUEST_QUEUE: put_behind(&o, (uint8_t)v->order_number); break;
    case KR_REQUEST_CANCEL: move_up(&o); break;
    case KR_REQUEST_CLEAR: o = (struct orders){.in_force = o.in_force, .recipe = o.recipe}; break;
    case KR_REQUEST_STORE_RECIPE: o.recipe = (uint8_t)v->order_number; break;
    case KR_REQUEST_STAGE_RECIPE: o.staged = o.recipe; break;
    case KR_REQUEST_QUEUE_RECIPE: put_behind(&o, o.recipe); break;
    case KR_REQUEST_DROP_RECIPE: o.recipe = ORDER_NONE; break;
    case KR_REQUEST_CHECK: break;
    }
    return o;
}

static struct orders once_started(struct orders o)
{
    if (o.staged == ORDER_NONE)
        return o;
    o.in_force = o.staged;
    move_up(&o);
    return o;
}

static bool same_orders(struct orders a, struct orders b)
{
    return memcmp(&a, &b, sizeof a) == 0; /* bytes without padding */
}

void judge_remember(const struct world *w, struct seen *seen)
{
    *seen = (struct seen){.verdict = w->station.intake.published,
                          .edited = w->station.editing.published,
                          .storing = w->station.editing.step != EDIT_FREE && w->station.editing.step != EDIT_ASKING,
                          .state = w->station.unit.state,
                          .axis = w->out.axis[0]};
}

/* ---- what the PLC is told ----------------------------------------------------------------------------------- */

static void judge_verdict(struct world *w, const struct seen *before)
{
    const struct kr_verdict *v = &w->station.intake.published;
    struct plc *plc = &w->plc;
    if (judge_same_verdict(v, &before->verdict))
        return;
    plc->verdict = *v;
    if (v->result.code == KR_NOT_STORED)
        return;
    must(w, judge_same_verdict(v, &w->disk.verdict), "a verdict is published only when it is stored");
    plc->stored = *v;
    bool replaces = v->kind == KR_REQUEST_STAGE || v->kind == KR_REQUEST_STAGE_RECIPE || v->kind == KR_REQUEST_CANCEL ||
                    v->kind == KR_REQUEST_CLEAR;
    bool recalls = v->kind == KR_REQUEST_STAGE_RECIPE || v->kind == KR_REQUEST_QUEUE_RECIPE;
    must(w, !recalls || v->result.code != KR_OK || plc->told.recipe != ORDER_NONE, "only a stored recipe is recalled");
    must(w, v->replaced_order == (replaces && v->result.code == KR_OK ? plc->told.staged : ORDER_NONE),
         "an acceptance names the staged order that it replaces");
    plc->told = once_accepted(v, plc->told);
    must(w, same_orders(world_orders(&w->disk), plc->told), "what is accepted is stored");
}

static void judge_start(struct world *w, const struct seen *before)
{
    const struct kr_station *s = &w->station;
    struct plc *plc = &w->plc;
    bool runs = s->unit.state == KR_STATE_STARTING || s->unit.state == KR_STATE_EXECUTE;
    bool started = before->state == KR_STATE_IDLE && runs;
    bool resumed = (before->state == KR_STATE_HELD && s->unit.state == KR_STATE_UNHOLDING) ||
                   (before->state == KR_STATE_SUSPENDED && s->unit.state == KR_STATE_UNSUSPENDING);
    must(w, !runs || before->state != KR_STATE_STOPPED, "nothing leads from Stopped into a job");
    plc->go = started || resumed || (plc->go && unit_in_job(s->unit.state));
    if (s->unit.state == KR_STATE_HELD || s->unit.state == KR_STATE_SUSPENDED)
        plc->go = false;
    if (started && s->job.kind == KR_JOB_CHANGEOVER && plc->told.staged != ORDER_NONE) {
        plc->starting = true;
        plc->before_start = plc->told;
        plc->told = once_started(plc->told);
    }
    if (durable_stored(&s->in, s->starting.serial))
        plc->starting = false;
}

static bool leads_on(enum kr_unit_state state)
{
    return state == KR_STATE_STARTING || state == KR_STATE_EXECUTE || state == KR_STATE_UNHOLDING ||
           state == KR_STATE_UNSUSPENDING;
}

/* Whatever was under way, and whatever command came with it: once a halt was taken nothing moves on, and nothing is
 * about to, until a later command says so. */
static void judge_halt(struct world *w, const struct seen *before)
{
    enum kr_unit_state state = w->station.unit.state;
    if (before->halt == 0)
        return;
    must(w, !leads_on(state), "after a HALT nothing runs and nothing is about to");
    must(w, before->halt != KR_COMMAND_ABORT || state == KR_STATE_ABORTING || state == KR_STATE_ABORTED,
         "a HALT Abort leads to Aborted from everywhere");
    must(w, !before->overtaken || !(before->state == KR_STATE_STOPPED && state == KR_STATE_RESETTING),
         "a command that a HALT has overtaken does nothing");
    w->plc.go = false;
}

static void judge_orders(struct world *w)
{
    const struct kr_station *s = &w->station;
    struct orders expected = w->plc.told;
    if (s->intake.step == INTAKE_STORING)
        expected = once_accepted(&s->intake.verdict, expected);
    must(w, same_orders(world_orders(&s->durable), expected), "orders are those that were accepted and started");
}

static uint32_t register_32(const struct kr_image *image, enum kr_reg reg, uint16_t index)
{
    const uint16_t *word = &image->word[kr_reg_address(reg, 0, index)];
    return (uint32_t)word[0] << 16 | word[1];
}

static uint16_t register_16(const struct kr_image *image, enum kr_reg reg, uint16_t index)
{
    return image->word[kr_reg_address(reg, 0, index)];
}

/* What a power cut now could take back is not shown. */
static void judge_shown_orders(struct world *w, const struct kr_image *image)
{
    const struct orders *told = w->plc.starting ? &w->plc.before_start : &w->plc.told;
    bool right = register_32(image, KR_REG_ORDER_STAGED, 0) == told->staged &&
                 register_32(image, KR_REG_ORDER_IN_FORCE, 0) == told->in_force &&
                 register_16(image, KR_REG_QUEUE_COUNT, 0) == told->n_queued &&
                 register_16(image, KR_REG_RECIPES_STORED, 0) == (told->recipe != ORDER_NONE);
    for (uint16_t i = 0; i < told->n_queued; i++)
        right = right && register_32(image, KR_REG_QUEUE_ORDER, i) == told->queue[i];
    must(w, right, "orders are shown when they are stored, and not before");
}

static bool proves(enum kr_edge edge)
{
    return edge == KR_EDGE_BENCH || edge == KR_EDGE_FEELER || edge == KR_EDGE_TEST_CUT;
}

/* What was proven is shown once it is stored; what is not any more at once. */
static bool edge_is_shown(const struct world *w, uint16_t i, enum kr_edge shown)
{
    enum kr_edge told = (enum kr_edge)w->plc.set.edge[i], is = (enum kr_edge)w->station.durable.holder[0][i].edge;
    return shown == (proves(told) && !proves(is) ? is : told);
}

static void judge_shown_holders(struct world *w, const struct kr_image *image)
{
    const struct settings *set = &w->plc.set;
    bool right = true;
    for (uint16_t i = 0; i < TOY_HOLDERS; i++)
        right = right && (int32_t)register_32(image, KR_REG_HOLDER_KNIFE, i) == set->knife[i] &&
                (int32_t)register_32(image, KR_REG_HOLDER_OFFSET, i) == set->offset_um[i] &&
                register_16(image, KR_REG_HOLDER_STATE, i) == set->state[i] &&
                edge_is_shown(w, i, (enum kr_edge)register_16(image, KR_REG_HOLDER_EDGE, i));
    must(w, right, "holders' data are shown when they are stored, and not before");
}

static void judge_image(struct world *w)
{
    static struct kr_image image;
    kr_station_image(&w->station, &image);
    judge_shown_orders(w, &image);
    judge_shown_holders(w, &image);
}

/* ---- maintenance requests -------------------------------------------------------------------------------------- */

bool judge_same_edit(const struct kr_edit *a, const struct kr_edit *b)
{
    return a->session == b->session && a->number == b->number && a->kind == b->kind && a->holder == b->holder &&
           a->edge_offset_um == b->edge_offset_um && a->result.code == b->result.code;
}

static bool takes_knife_off(const struct kr_edit *edit)
{
    return edit->rail != 0 &&
           (edit->kind == KR_EDIT_DISMOUNT || edit->kind == KR_EDIT_BROKEN || edit->kind == KR_EDIT_SCRAP);
}

/* The knife that a request is about: the one on the holder that it names, or the one that it names. */
static int knife_of(const struct kr_edit *edit, const struct plc *plc)
{
    bool is_on_holder = edit->kind == KR_EDIT_SWAP || edit->kind == KR_EDIT_REGRIND || takes_knife_off(edit) ||
                        (edit->kind == KR_EDIT_REGROUND && edit->rail != 0);
    return is_on_holder ? plc->set.knife[edit->holder - 1] : plc->asked_knife[edit->number % 4];
}

static enum kr_knife_place place_once_edited(const struct kr_edit *edit)
{
    switch (edit->kind) {
    case KR_EDIT_MOUNT:
    case KR_EDIT_REGRIND: return KR_KNIFE_HOLDER;
    case KR_EDIT_REGROUND: return edit->rail != 0 ? KR_KNIFE_HOLDER : KR_KNIFE_SHELF;
    case KR_EDIT_BROKEN: return KR_KNIFE_BROKEN;
    case KR_EDIT_SCRAP: return KR_KNIFE_SCRAPPED;
    default: return KR_KNIFE_SHELF;
    }
}

/* The ledger, once the edit is a fact. */
static struct ledger once_entered(const struct kr_edit *edit, const struct plc *plc)
{
    struct ledger ledger = plc->ledger;
    bool of_knife = (edit->kind >= KR_EDIT_ENTER && edit->kind <= KR_EDIT_SCRAP) || edit->kind == KR_EDIT_SWAP;
    int knife = of_knife && edit->number != 0 && edit->result.code == KR_OK ? knife_of(edit, plc) : 0;
    if (knife == 0)
        return ledger;
    enum kr_knife_place place = place_once_edited(edit);
    ledger.place[knife - 1] = (uint8_t)place;
    ledger.holder[knife - 1] = (uint8_t)(place == KR_KNIFE_HOLDER ? edit->holder : 0);
    return ledger;
}

static bool same_ledger(const struct ledger *a, const struct ledger *b)
{
    return memcmp(a, b, sizeof *a) == 0; /* bytes without padding */
}

/* What holders have and what the ledger says of knives are one fact. */
static void judge_ledger(struct world *w)
{
    must(w, same_ledger(&w->ledger, &w->plc.ledger), "the ledger has what maintenance was told, and nothing else");
    for (uint32_t k = 1; k <= WORLD_KNIVES; k++)
        for (int i = 0; i < TOY_HOLDERS; i++)
            must(w,
                 (w->disk.holder[0][i].knife == k) ==
                     (w->ledger.place[k - 1] == KR_KNIFE_HOLDER && w->ledger.holder[k - 1] == i + 1),
                 "a knife is on the holder that the ledger says, and on no other");
}

/* What there is once the edit is a fact, by the meaning that the map gives its kind. */
static struct settings once_edited(const struct kr_edit *edit, const struct plc *plc)
{
    struct settings set = plc->set;
    uint16_t h = (uint16_t)(edit->holder - 1);
    if (edit->number == 0 || edit->result.code != KR_OK)
        return set;
    switch (edit->kind) {
    case KR_EDIT_MOUNT:
        set.knife[h] = knife_of(edit, plc);
        set.state[h] = KR_HOLDER_IN;
        set.offset_um[h] = world_edge_um(set.knife[h]);
        set.edge[h] = KR_EDGE_UNPROVEN;
        break;
    case KR_EDIT_REGROUND:
        set.offset_um[h] = edit->edge_offset_um;
        set.edge[h] = KR_EDGE_UNPROVEN;
        break;
    case KR_EDIT_DISMOUNT:
    case KR_EDIT_BROKEN:
    case KR_EDIT_SCRAP:
        if (!takes_knife_off(edit))
            break; /* the ledger alone changes */
        set.knife[h] = 0;
        set.state[h] = KR_HOLDER_OUT;
        set.edge[h] = KR_EDGE_UNPROVEN;
        break;
    case KR_EDIT_OFFSET:
    case KR_EDIT_SWAP:
        set.knife[h] = edit->kind == KR_EDIT_SWAP ? 0 : set.knife[h];
        set.offset_um[edit->holder - 1] = edit->edge_offset_um;
        set.edge[edit->holder - 1] = KR_EDGE_UNPROVEN;
        break;
    case KR_EDIT_BENCH:
        for (int i = 0; i < TOY_HOLDERS; i++)
            set.edge[i] = KR_EDGE_BENCH;
        break;
    case KR_EDIT_IN:
    case KR_EDIT_INSERT: set.state[edit->holder - 1] = KR_HOLDER_IN; break;
    case KR_EDIT_OUT: set.state[edit->holder - 1] = KR_HOLDER_OUT; break;
    case KR_EDIT_ABSENT: set.state[edit->holder - 1] = KR_HOLDER_ABSENT; break;
    case KR_EDIT_APPLY:
        for (int i = 0; i < TOY_HOLDERS; i++) {
            bool changes = plc->proposal.fitted[i] && plc->proposal.offset_um[i] != plc->set.offset_um[i];
            set.offset_um[i] = changes ? plc->proposal.offset_um[i] : plc->set.offset_um[i];
            set.edge[i] = changes ? KR_EDGE_UNPROVEN : plc->set.edge[i];
        }
        break;
    default: break; /* a test cut changes nothing */
    }
    return set;
}

/* ---- test cuts ------------------------------------------------------------------------------------------------- */

/* The strip's width by where the holders truly stand, and by the offsets that are proposed. */
static void judge_proposal(struct world *w)
{
    const struct toy *toy = &w->toy;
    const struct plc *plc = &w->plc;
    int first = -1, last = -1;
    int64_t sum_um = 0;
    for (int i = 0; i < TOY_HOLDERS; i++) {
        if (!plc->proposal.fitted[i])
            continue;
        first = first < 0 ? i : first;
        last = i;
        sum_um += plc->proposal.offset_um[i] - plc->set.offset_um[i];
    }
    must(w, first >= 0 && first != last, "a strip ties two holders");
    if (w->broken != NULL || w->station.unit.state != KR_STATE_COMPLETE)
        return; /* the holders may have been moved on since the strip was cut */
    int32_t width_um =
        toy->holder_um[last] + plc->proposal.offset_um[last] - toy->holder_um[first] - plc->proposal.offset_um[first];
    int32_t measured_um = world_slit_um((enum world_order)plc->told.in_force) + WORLD_STRIP_OFF_UM;
    must(w, abs(width_um - measured_um) <= 2 * SAME_PLACE_UM, "what is proposed explains the strip");
    must(w, sum_um >= -1 && sum_um <= 1, "what strips can't see stays as it is");
}

static void see_proposal(struct world *w)
{
    static struct kr_image image;
    struct plc *plc = &w->plc;
    kr_station_image(&w->station, &image);
    plc->proposal.stands = register_16(&image, KR_REG_PROPOSAL_RAIL, 0) == 1;
    for (uint16_t i = 0; i < TOY_HOLDERS; i++) {
        plc->proposal.fitted[i] = register_16(&image, KR_REG_PROPOSED, 0) >> i & 1;
        plc->proposal.offset_um[i] = (int32_t)register_32(&image, KR_REG_PROPOSED_OFFSET, i);
    }
    must(w, plc->proposal.stands, "an accepted test cut proposes");
    judge_proposal(w);
}

/* Strips of a knife say nothing of another one in its place. */
static void follow_proposal(struct world *w, const struct kr_edit *edit)
{
    struct plc *plc = &w->plc;
    bool other_knife = edit->kind == KR_EDIT_OFFSET || edit->kind == KR_EDIT_SWAP || edit->kind == KR_EDIT_ABSENT ||
                       edit->kind == KR_EDIT_INSERT || edit->kind == KR_EDIT_MOUNT || edit->kind == KR_EDIT_REGROUND ||
                       takes_knife_off(edit);
    if (edit->result.code != KR_OK)
        return;
    if (edit->kind == KR_EDIT_TEST_CUT)
        see_proposal(w);
    must(w, edit->kind != KR_EDIT_APPLY || plc->proposal.stands, "only what was proposed is applied");
    if (edit->kind == KR_EDIT_APPLY || (other_knife && plc->proposal.fitted[edit->holder - 1]))
        memset(&plc->proposal, 0, sizeof plc->proposal);
}

static bool same_settings(struct settings a, struct settings b)
{
    return memcmp(&a, &b, sizeof a) == 0; /* int32_t without padding */
}

static void judge_edit(struct world *w, const struct seen *before)
{
    const struct kr_station *s = &w->station;
    struct plc *plc = &w->plc;
    if (!judge_same_edit(&s->editing.published, &before->edited) && s->editing.published.result.code != KR_NOT_STORED) {
        must(w, judge_same_edit(&s->editing.published, &w->disk.edit),
             "a maintenance verdict is published only when it is stored");
        plc->ledger = once_entered(&s->editing.published, plc);
        plc->set = once_edited(&s->editing.published, plc);
        plc->edit_stored = s->editing.published;
        must(w, same_settings(world_settings(&w->disk), plc->set), "what maintenance was told is stored");
        follow_proposal(w, &s->editing.published);
    }
    struct settings expected = s->editing.step == EDIT_STORING ? once_edited(&s->editing.edit, plc) : plc->set;
    must(w, same_settings(world_settings(&s->durable), expected), "holders' data are what maintenance was told");
}

/* In the cycle in which a swap, or a holder off or on the rail, is taken. */
static void judge_hands(struct world *w, const struct seen *before)
{
    const struct kr_edit *edit = &w->station.editing.edit;
    bool hands = edit->kind == KR_EDIT_SWAP || edit->kind == KR_EDIT_ABSENT || edit->kind == KR_EDIT_INSERT ||
                 edit->kind == KR_EDIT_MOUNT || takes_knife_off(edit);
    if (before->storing || w->station.editing.step != EDIT_STORING || !hands || edit->result.code != KR_OK)
        return;
    if (edit->kind == KR_EDIT_INSERT)
        w->toy.by_hand[edit->holder - 1] = false; /* its place was told, and has to be that one now */
    for (int i = 0; i < TOY_HOLDERS; i++)
        must(w, w->station.durable.holder[0][i].known <= KR_REMEMBERED,
             "where hands have been no place is more than remembered");
    must(w, !(w->station.line.status & KR_LINE_MAY_RUN), "where hands have been the line may not run");
}

/* ---- motion --------------------------------------------------------------------------------------------------- */

static bool rises(uint16_t before, uint16_t now, unsigned bits)
{
    return (now & ~before & bits) != 0;
}

/* Hold-to-run: a set-point that leads away only while it is asked for anew and the device is pressed; else the carriage
 * comes to stand. */
static void judge_jog(struct world *w, const struct seen *before)
{
    const struct kr_station *s = &w->station;
    const struct kr_axis_out *out = &w->out.axis[0];
    const int refresh_cycles = KR_JOG_REFRESH_MS / WORLD_PERIOD_MS, to_stand = 4;
    if (s->unit.state != KR_STATE_EXECUTE || s->job.kind != KR_JOB_JOG)
        return;
    bool leads_away = rises(before->axis.controlword, out->controlword, KR_CW_NEW_SETPOINT) &&
                      abs(out->target_um - w->in.axis[0].position_um) > SAME_PLACE_UM;
    bool held = w->plc.unrefreshed_cycles < refresh_cycles && w->plc.loose_cycles == 0;
    must(w, !leads_away || held, "a jog goes on only while it is refreshed and the device is pressed");
    must(w, w->plc.unrefreshed_cycles < refresh_cycles + to_stand || !w->toy.moving,
         "a jog that is not refreshed stands");
}

/* What the carriage can't be at, as the drive says it. */
static bool position_is_impossible(const struct world *w)
{
    const struct kr_carriage_config *c = &w->station.config.carriage[0];
    int64_t at_um = w->in.axis[0].position_um, margin_um = c->travel_margin_um;
    return at_um < c->travel_min_um - margin_um || at_um > c->travel_max_um + margin_um;
}

static void judge_motion(struct world *w, const struct seen *before)
{
    const struct kr_station *s = &w->station;
    const struct kr_axis_out *out = &w->out.axis[0];
    bool permitted = w->plc.all_permitted && w->plc.silent_cycles * WORLD_PERIOD_MS < s->config.heartbeat_limit_ms &&
                     w->in.axis[0].link && !s->permits.control_lost;
    bool is_young = w->in.axis[0].age_ms <= s->config.carriage[0].answers_late_ms;
    bool begins = rises(before->axis.controlword, out->controlword, KR_CW_NEW_SETPOINT | KR_CW_ENABLE_OPERATION) ||
                  rises(before->axis.outputs, out->outputs, KR_DO_PIN_IN | KR_DO_BRAKE_OPEN | KR_DO_CLAMP_OPEN);
    must(w, !begins || s->unit.state == KR_STATE_EXECUTE, "motion begins in Execute only");
    must(w, !begins || w->plc.go, "motion begins by a command that carries the gateway's SESSION, and by nothing else");
    must(w, !begins || permitted, "motion begins only while all permissives are given");
    must(w, !begins || is_young, "nothing begins on an answer that is older than its limit");
    must(w, !begins || !position_is_impossible(w), "nothing begins at a position that can't be");
    must(w, !rises(before->axis.outputs, out->outputs, KR_DO_PIN_OUT) || permitted,
         "the pin is driven out only while all permissives are given");
    must(w, !(out->outputs & KR_DO_PIN_IN) || w->disk.docking[0] == s->rails.motion[0].docked,
         "a holder is docked only when it is stored that it may be in motion");
    must(w, !w->toy.crashed, "holders keep their spacing");
    must(w, !w->toy.tore, "the carriage moves only with the pin out or the brake open");
}

/* ---- what is claimed of the holders ---------------------------------------------------------------------------- */

static void judge_claims(struct world *w)
{
    for (int i = 0; i < TOY_HOLDERS; i++) {
        const struct kr_holder_data *holder = &w->station.durable.holder[0][i];
        int32_t off_um = holder->position_um - w->toy.holder_um[i];
        if (holder->known > KR_REMEMBERED)
            w->toy.by_hand[i] = false;
        w->toy.crept[i] = w->toy.crept[i] && abs(off_um) > SAME_PLACE_UM;
        must(w, holder->known == KR_UNKNOWN || w->toy.by_hand[i] || w->toy.crept[i] || abs(off_um) <= SAME_PLACE_UM,
             "a holder's place is right or unknown, where no hand has moved it");
        must(w, !w->toy.off[i] || holder->known <= KR_REMEMBERED, "nothing is measured that is not there");
    }
}

/* One whose edge is proven by what maintenance was told. */
static bool a_holder_cuts_at(const struct world *w, int32_t cut_um)
{
    for (int i = 0; i < TOY_HOLDERS; i++)
        if (!w->toy.off[i] && proves((enum kr_edge)w->plc.set.edge[i]) &&
            abs(w->toy.holder_um[i] + w->plc.set.offset_um[i] - cut_um) <= w->station.config.geometry.tolerance_um)
            return true;
    return false;
}

static void judge_line(struct world *w)
{
    if (!(w->station.line.status & (KR_LINE_MAY_START | KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER)))
        return;
    int32_t half_um = w->plc.told.in_force == ORDER_A ? 150000 : 200000; /* centred at 500 mm, see world.c */
    must(w, w->plc.told.in_force == ORDER_A || w->plc.told.in_force == ORDER_B,
         "the line runs with an order in force only");
    must(w, a_holder_cuts_at(w, 500000 - half_um) && a_holder_cuts_at(w, 500000 + half_um),
         "the line may run only when the knives stand where the order in force wants them");
    must(w, w->toy.pin == TOY_PIN_OUT, "the line may run only when nothing is docked");
}

void judge_cycle(struct world *w, const struct seen *before)
{
    judge_verdict(w, before);
    judge_start(w, before);
    judge_halt(w, before);
    judge_orders(w);
    judge_edit(w, before);
    judge_ledger(w);
    judge_image(w);
    judge_hands(w, before);
    judge_motion(w, before);
    judge_jog(w, before);
    judge_claims(w);
    judge_line(w);
}

/* ---- after a cut ----------------------------------------------------------------------------------------------- */

/* A Start, or a request, whose answer was not stored yet may have happened or not; nothing else may have changed. */
static void judge_kept_orders(struct world *w, const struct kr_verdict *under_way)
{
    struct orders kept = world_orders(&w->station.durable);
    const struct plc *plc = &w->plc;
    bool request_done = judge_same_verdict(&w->station.durable.verdict, under_way);
    struct orders expected = request_done ? once_accepted(under_way, plc->told) : plc->told;
    must(w, same_orders(kept, expected) || (plc->starting && same_orders(kept, plc->before_start)),
         "after a cut orders are as the PLC was told");
}

static void judge_kept_verdict(struct world *w, const struct kr_verdict *under_way)
{
    const struct kr_verdict *v = &w->station.intake.published;
    bool claims_nothing = v->result.code == KR_NOT_STORED;
    must(w, claims_nothing || judge_same_verdict(v, &w->plc.stored) || judge_same_verdict(v, under_way),
         "after a cut the verdict is the last one, or that of the request under way");
    bool denied = w->plc.verdict.result.code == KR_NOT_STORED && v->result.code == KR_OK &&
                  v->session == w->plc.verdict.session && v->number == w->plc.verdict.number &&
                  !judge_same_verdict(v, &w->plc.stored);
    must(w, !denied, "what was refused because it could not be stored is not accepted after a cut");
}

static void judge_kept_settings(struct world *w, const struct kr_edit *under_way)
{
    const struct kr_durable *d = &w->station.durable;
    bool done = judge_same_edit(&d->edit, under_way);
    struct settings expected = done ? once_edited(under_way, &w->plc) : w->plc.set;
    struct ledger ledger = done ? once_entered(under_way, &w->plc) : w->plc.ledger;
    bool claims_nothing = d->edit.result.code == KR_NOT_STORED;
    must(w, same_settings(world_settings(d), expected), "after a cut holders' data are as maintenance was told");
    must(w, same_ledger(&w->ledger, &ledger), "after a cut the ledger is as maintenance was told");
    w->plc.ledger = w->ledger;
    must(w, done || claims_nothing || judge_same_edit(&d->edit, &w->plc.edit_stored),
         "after a cut the maintenance verdict is the last one, or that of the request under way");
    w->plc.set = world_settings(d);
    w->plc.edit_stored = d->edit;
    memset(&w->plc.proposal, 0, sizeof w->plc.proposal); /* proposals do not survive */
}

void judge_restart(struct world *w, const struct kr_verdict *under_way, const struct kr_edit *edit_under_way)
{
    struct kr_durable *d = &w->station.durable;
    judge_kept_orders(w, under_way);
    judge_kept_verdict(w, under_way);
    judge_kept_settings(w, edit_under_way);
    for (int i = 0; i < TOY_HOLDERS; i++)
        must(w, d->holder[0][i].known <= KR_REMEMBERED, "after a cut no place is known better than remembered");
    judge_claims(w);
    w->plc.told = world_orders(d); /* the PLC reads anew what is so */
    w->plc.verdict = w->plc.stored = w->station.intake.published;
    w->plc.starting = w->plc.go = false;
}
