#include "edit.h"

#include <stdio.h>
#include <string.h>

#include "metres.h"
#include "offset_step.h"
#include "state.h"
#include "verify.h"

static uint16_t u16(const struct kr_snapshot *block, enum kr_reg reg)
{
    return kr_snapshot_u16(block, KR_BLOCK_EDIT, reg, 0);
}

static int32_t um(const struct kr_snapshot *block, enum kr_reg reg, struct kr_format format)
{
    return kr_um_from_nm(kr_snapshot_nm(block, KR_BLOCK_EDIT, reg, 0, format));
}

static void decode(const struct kr_station_in *in, struct kr_format format, struct kr_edit *edit)
{
    const struct kr_snapshot *block = &in->edit;
    memset(edit, 0, sizeof *edit);
    edit->session = u16(block, KR_REG_EDIT_SESSION);
    edit->number = u16(block, KR_REG_EDIT_NUMBER);
    edit->kind = u16(block, KR_REG_EDIT_KIND);
    edit->rail = u16(block, KR_REG_EDIT_RAIL);
    edit->holder = u16(block, KR_REG_EDIT_HOLDER);
    edit->holder_size = u16(block, KR_REG_EDIT_SIZE);
    edit->edge_offset_um = um(block, KR_REG_EDIT_OFFSET, format);
    edit->position_um = um(block, KR_REG_EDIT_POSITION, format);
    snprintf(edit->origin, sizeof edit->origin, "%s", in->edit_origin);
}

/* ---- judgement ------------------------------------------------------------------------------------------------- */

static struct kr_result no(enum kr_code code, const struct kr_edit *edit, int32_t value, int32_t limit)
{
    return (struct kr_result){code, edit->rail, edit->holder, value, limit};
}

static const struct kr_result yes = {.code = KR_OK};

/* The request is allowed where nothing is under way, or where the job will look and plan again before it moves. */
static bool unit_allows(enum kr_unit_state state)
{
    return state == KR_STATE_STOPPED || state == KR_STATE_IDLE || state == KR_STATE_COMPLETE ||
           state == KR_STATE_HELD || state == KR_STATE_SUSPENDED || state == KR_STATE_ABORTED;
}

static bool kind_is_known(uint16_t kind)
{
#define X(name, number, text) || kind == (number)
    return false KR_EDIT_KINDS(X);
#undef X
}

static struct kr_result judge_handshake(const struct kr_edit *edit, bool book_failed, uint16_t session, bool reused,
                                        enum kr_unit_state state)
{
    if (book_failed)
        return (struct kr_result){.code = KR_NOT_STORED};
    if (edit->session != session)
        return (struct kr_result){.code = KR_STALE_SESSION, .value = edit->session, .limit = session};
    if (reused)
        return (struct kr_result){.code = KR_NUMBER_REUSED, .value = edit->number};
    if (!kind_is_known(edit->kind))
        return (struct kr_result){.code = KR_UNKNOWN_KIND, .value = edit->kind, .limit = KR_EDIT_LAST};
    bool of_settings = frames_own_kind(edit->kind) || switches_own_kind(edit->kind) || times_own_kind(edit->kind);
    bool allowed = of_settings ? unit_is_idle(state) : unit_allows(state);
    if (!allowed && edit->kind != KR_EDIT_TRACE)
        return (struct kr_result){.code = KR_NOT_IN_THIS_STATE, .value = (int32_t)state};
    return yes;
}

static struct kr_result judge_holder(const struct rails *rails, const struct kr_station_config *config,
                                     const struct kr_durable *durable, const struct kr_edit *edit)
{
    uint16_t n_rails = config->geometry.n_rails;
    if (edit->rail < 1 || edit->rail > n_rails)
        return (struct kr_result){.code = KR_UNKNOWN_RAIL, .value = edit->rail, .limit = n_rails};
    uint16_t r = (uint16_t)(edit->rail - 1), n = config->geometry.rail[r].n_holders;
    if (edit->holder < 1 || edit->holder > n)
        return (struct kr_result){.code = KR_UNKNOWN_HOLDER, .rail = edit->rail, .value = edit->holder, .limit = n};
    if (kr_motion_docked(&rails->motion[r]) == edit->holder || durable->docking[r] == edit->holder)
        return no(KR_HOLDER_DOCKED, edit, 0, 0);
    bool present = holder_present(&durable->holder[r][edit->holder - 1]);
    if (edit->kind == KR_EDIT_INSERT && present)
        return no(KR_ON_RAIL_ALREADY, edit, 0, 0);
    bool needs_it = (edit->kind >= KR_EDIT_IN && edit->kind <= KR_EDIT_FIXED) || knife_own_kind(edit->kind);
    return needs_it && !present ? no(KR_NOT_ON_RAIL, edit, 0, 0) : yes;
}

static bool sets_offset(const struct kr_edit *edit)
{
    return edit->kind == KR_EDIT_OFFSET || edit->kind == KR_EDIT_REGRIND || edit->kind == KR_EDIT_SWAP ||
           knife_sets_offset(edit);
}

static bool sets_size(uint16_t kind)
{
    return kind == KR_EDIT_SWAP || kind == KR_EDIT_SIZE;
}

static struct kr_result judge_values(const struct kr_edit *edit, uint16_t n_sizes)
{
    int32_t limit_um = KR_EDGE_OFFSET_MAX_UM;
    if (sets_size(edit->kind) && (edit->holder_size < 1 || edit->holder_size > n_sizes))
        return no(KR_HOLDER_SIZE, edit, edit->holder_size, n_sizes);
    if (sets_offset(edit) && (edit->edge_offset_um > limit_um || edit->edge_offset_um < -limit_um))
        return no(KR_EDGE_OFFSET, edit, edit->edge_offset_um, edit->edge_offset_um < 0 ? -limit_um : limit_um);
    return yes;
}

/* The rail of a request. */
struct row {
    const struct kr_station_config *config;
    const struct kr_rail_geometry *rail;
    const struct kr_holder_data *holder;
};

/* The nearest holder on one side with a known position, and the distance from a holder of this size that it, and the
 * holders with unknown positions between, need. 0: there is none. */
static uint16_t known_neighbour(const struct row *row, uint16_t holder, uint8_t holder_size, int side, int32_t *need_um)
{
    *need_um = 0;
    for (int i = holder - 1 + side; i >= 0 && i < row->rail->n_holders; i += side) {
        if (!holder_present(&row->holder[i]))
            continue;
        /* two holders within their deadbands may be nearer by two deadbands */
        *need_um += kr_spacing_um(&row->config->geometry, holder_size, row->holder[i].holder_size) -
                    2 * row->config->deadband_um;
        holder_size = row->holder[i].holder_size;
        if (row->holder[i].known != KR_UNKNOWN)
            return (uint16_t)(i + 1);
    }
    return 0;
}

/* Checks the room on one side of a place. A gap that is already too narrow may stay as it is. */
static struct kr_result judge_room(const struct row *row, const struct kr_edit *edit, const struct kr_holder_data *is,
                                   int side)
{
    const struct kr_holder_data *was = &row->holder[edit->holder - 1];
    int32_t need_um, needed_um;
    uint16_t neighbour = known_neighbour(row, edit->holder, is->holder_size, side, &need_um);
    if (neighbour == 0)
        return yes;
    (void)known_neighbour(row, edit->holder, was->holder_size, side, &needed_um);
    int32_t gap_um = side * (row->holder[neighbour - 1].position_um - is->position_um);
    bool no_worse = holder_present(was) && need_um <= needed_um;
    return gap_um < need_um && !no_worse ? no(KR_SPACING, edit, gap_um, need_um) : yes;
}

static struct kr_result judge_place(const struct row *row, const struct kr_edit *edit)
{
    struct kr_holder_data is = row->holder[edit->holder - 1];
    if (sets_size(edit->kind))
        is.holder_size = (uint8_t)edit->holder_size;
    if (edit->kind == KR_EDIT_INSERT) {
        is.position_um = edit->position_um;
        if (is.position_um < row->rail->min_um)
            return no(KR_HOLDER_OFF_RAIL, edit, is.position_um, row->rail->min_um);
        if (is.position_um > row->rail->max_um)
            return no(KR_HOLDER_OFF_RAIL, edit, is.position_um, row->rail->max_um);
    } else if (!sets_size(edit->kind) || !holder_present(&is) || is.known == KR_UNKNOWN) {
        return yes;
    }
    struct kr_result left = judge_room(row, edit, &is, -1);
    return left.code == KR_OK ? judge_room(row, edit, &is, 1) : left;
}

/* Judges a request after the handshake. */
static struct kr_result judge(const struct rails *rails, const struct kr_station_config *config,
                              const struct kr_durable *durable, const struct kr_edit *edit)
{
    struct kr_result result = judge_holder(rails, config, durable, edit);
    if (result.code == KR_OK)
        result = judge_values(edit, config->geometry.n_sizes);
    if (result.code != KR_OK)
        return result;
    uint16_t r = (uint16_t)(edit->rail - 1);
    struct row row = {config, &config->geometry.rail[r], durable->holder[r]};
    return judge_place(&row, edit);
}

/* ---- execution ------------------------------------------------------------------------------------------------- */

static void change(struct kr_holder_data *data, const struct editing *e, const struct kr_knife_answer *ledger)
{
    const struct kr_edit *edit = &e->asked;
    if (sets_offset(edit)) {
        data->edge_offset_um = edit->edge_offset_um;
        data->edge = KR_EDGE_UNPROVEN;
    }
    if (sets_size(edit->kind))
        data->holder_size = (uint8_t)edit->holder_size;
    switch ((enum kr_edit_kind)edit->kind) {
    case KR_EDIT_SWAP:
        data->metres = 0;
        data->dock_retries = 0;
        data->knife = data->knife_kind = 0;
        break;
    case KR_EDIT_REGRIND: data->metres = 0; break;
    case KR_EDIT_IN: data->state = KR_HOLDER_IN; break;
    case KR_EDIT_OUT: data->state = KR_HOLDER_OUT; break;
    case KR_EDIT_FIXED: data->state = KR_HOLDER_FIXED; break;
    case KR_EDIT_ABSENT: data->state = KR_HOLDER_ABSENT; break;
    case KR_EDIT_INSERT: data->state = KR_HOLDER_IN; break;
    case KR_EDIT_ENTER:
    case KR_EDIT_MOUNT:
    case KR_EDIT_DISMOUNT:
    case KR_EDIT_REGROUND:
    case KR_EDIT_BROKEN:
    case KR_EDIT_SCRAP: knife_change(data, edit, &e->knife, ledger); break;
    case KR_EDIT_OFFSET:
    case KR_EDIT_SIZE:
    case KR_EDIT_TEST_CUT:
    case KR_EDIT_TEST_CUT_MORE:
    case KR_EDIT_APPLY:
    case KR_EDIT_DATUM:
    case KR_EDIT_SHIFT:
    case KR_EDIT_BENCH:
    case KR_EDIT_FEELER:
    case KR_EDIT_TRIAL:
    case KR_EDIT_FRAME:
    case KR_EDIT_FRAME_BACK:
    case KR_EDIT_SWITCH:
    case KR_EDIT_SWITCH_BACK:
    case KR_EDIT_TIMES:
    case KR_EDIT_TIMES_BACK:
    case KR_EDIT_TRACE: break;
    }
}

/* A person who takes off a holder or its knife, or puts one on, has had hands among its neighbours. */
static bool hands_were_there(const struct kr_edit *edit)
{
    return edit->kind == KR_EDIT_SWAP || edit->kind == KR_EDIT_ABSENT || edit->kind == KR_EDIT_INSERT ||
           knife_comes_or_goes(edit);
}

/* The event of a knife is stored with the request. before is the holder's data; NULL: the knife is on no holder. */
static void tell_knife(struct editing *e, const struct kr_holder_data *before, const struct kr_knife_answer *ledger,
                       struct kr_durable *durable)
{
    struct kr_knife_event event;
    if (!knife_tell(&e->asked, &e->knife, before, ledger, &event))
        return;
    event.number = ++e->events;
    event.fell_known = event.kind == KR_EDIT_BROKEN && durable->fell;
    event.fell_metres = event.fell_known ? durable->fell_metres : 0;
    durable_set_knife_event(durable, &event);
}

static void apply(struct kr_station *s, const struct kr_edit *edit)
{
    uint16_t r = (uint16_t)(edit->rail - 1), h = (uint16_t)(edit->holder - 1);
    metres_give(s); /* the metres until now belong to the knife as it was */
    struct kr_holder_data data = s->editing.before = s->durable.holder[r][h];
    bool cuts = plan_cuts(&s->planning, r, h);
    change(&data, &s->editing, &s->in.knife);
    if (cuts && edit->kind == KR_EDIT_BROKEN) /* VERIFIED becomes 0 by that, if it is still 1 */
        metres_note_verified(&s->metres, &s->durable, false, s->in.line_metres);
    tell_knife(&s->editing, &s->editing.before, &s->in.knife, &s->durable);
    durable_set_holder(&s->durable, r, h, &data);
    rail_holder_changed(&s->rails, &s->durable, r, h);
    if (edit->kind == KR_EDIT_ABSENT)
        rail_told(s, r, edit->holder, data.position_um, KR_UNKNOWN);
    else if (edit->kind == KR_EDIT_INSERT)
        rail_told(s, r, edit->holder, edit->position_um, KR_REMEMBERED);
    if (sets_offset(edit) || hands_were_there(edit))
        s->edges.trial[r][h] = false;
    if (cuts) {
        verify_undo(&s->placement);
        plan_outdated(&s->planning);
    }
    if (sets_offset(edit) || hands_were_there(edit))
        test_cuts_touched(&s->test_cuts, r, edit->holder);
    if (hands_were_there(edit)) {
        rail_doubt(s, r, DOUBT_TO_STAY);
        verify_places_changed(&s->placement, 1);
    }
}

static struct kr_result judge_knife(const struct editing *e, const struct kr_knife_answer *ledger,
                                    const struct kr_durable *durable)
{
    const struct kr_edit *edit = &e->asked;
    if (!knife_own_kind(edit->kind))
        return yes;
    if (!knife_is_on_holder(edit))
        return knife_judge(edit, &e->knife, NULL, ledger);
    return knife_judge(edit, &e->knife, &durable->holder[edit->rail - 1][edit->holder - 1], ledger);
}

static struct kr_result do_edit(struct kr_station *s, const struct kr_edit *edit)
{
    struct kr_result result = judge(&s->rails, &s->config, &s->durable, edit);
    if (result.code == KR_OK)
        result = judge_knife(&s->editing, &s->in.knife, &s->durable);
    if (result.code == KR_OK && sets_offset(edit) && !offset_step_meant(&s->editing.edit, edit))
        result =
            offset_step_judge(s->config.offset_step_um, edit->rail, edit->holder,
                              s->durable.holder[edit->rail - 1][edit->holder - 1].edge_offset_um, edit->edge_offset_um);
    if (result.code == KR_OK)
        apply(s, edit);
    return result;
}

static bool of_test_cut(uint16_t kind)
{
    return kind >= KR_EDIT_TEST_CUT && kind <= KR_EDIT_APPLY;
}

/* ---- statements about a rail: its carriage's datum, a shift of its holders, its frame, switch and times ---------- */

#define DATUM_AGREES_UM 2000 /* accuracy of a tape at a standing carriage */

static struct kr_result judge_datum(const struct rails *rails, const struct kr_station_config *config,
                                    const struct kr_axis_in axis_of[], const struct kr_edit *edit)
{
    const struct kr_motion *motion = &rails->motion[edit->rail - 1];
    const struct kr_axis_in *axis = &axis_of[edit->rail - 1];
    if (!kr_motion_awaits_datum(motion) || !kr_motion_at_rest(motion) || !axis->link || !axis->referenced)
        return (struct kr_result){.code = KR_NO_DATUM_TO_CONFIRM, .rail = edit->rail};
    int32_t place_um = kr_frame_place_um(&config->carriage[edit->rail - 1].frame, axis->position_um);
    int64_t off_um = (int64_t)edit->position_um - place_um;
    if (off_um > DATUM_AGREES_UM || off_um < -DATUM_AGREES_UM)
        return (struct kr_result){KR_DATUM_DIFFERS, edit->rail, 0, place_um, DATUM_AGREES_UM};
    return yes;
}

#define SHIFT_SAME_UM 10 /* accuracy of a display, in inches too */

static struct kr_result judge_shift(const struct kr_durable *durable, const struct kr_edit *edit)
{
    int32_t shift_um = durable->shift_um[edit->rail - 1];
    if (shift_um == 0)
        return (struct kr_result){.code = KR_NO_SHIFT_TO_CONFIRM, .rail = edit->rail};
    int64_t off_um = (int64_t)edit->position_um - shift_um;
    if (off_um > SHIFT_SAME_UM || off_um < -SHIFT_SAME_UM)
        return (struct kr_result){KR_SHIFT_DIFFERS, edit->rail, 0, shift_um, edit->position_um};
    return yes;
}

static bool is_of_rail(uint16_t kind)
{
    return kind == KR_EDIT_DATUM || kind == KR_EDIT_SHIFT || frames_own_kind(kind) || switches_own_kind(kind) ||
           times_own_kind(kind);
}

static struct kr_result judge_rail(const struct editing *e, const struct rails *rails,
                                   const struct kr_station_config *config, const struct kr_axis_in axis[],
                                   const struct kr_durable *durable)
{
    const struct kr_edit *edit = &e->asked;
    uint16_t n_rails = config->geometry.n_rails, r = (uint16_t)(edit->rail - 1);
    if (edit->rail < 1 || edit->rail > n_rails)
        return (struct kr_result){.code = KR_UNKNOWN_RAIL, .value = edit->rail, .limit = n_rails};
    if (edit->kind == KR_EDIT_DATUM)
        return judge_datum(rails, config, axis, edit);
    if (edit->kind == KR_EDIT_SHIFT)
        return judge_shift(durable, edit);
    if (times_own_kind(edit->kind))
        return times_judge(edit, &e->times.asked, config, durable);
    if (switches_own_kind(edit->kind))
        return switches_judge(edit, &e->switches.asked, &config->geometry.rail[r], &rails->told[r], durable);
    return frames_judge(edit, &e->frames.asked, &config->geometry.rail[r], &rails->told[r], durable);
}

/* Returns the previous value: the shift, or the correction of the scale or of the switch by references. */
static int32_t rail_before(const struct editing *e)
{
    return frames_own_kind(e->edit.kind)     ? e->frames.found_scale_ppb
           : switches_own_kind(e->edit.kind) ? e->switches.found_um
                                             : e->shift_before_um;
}

static struct kr_result confirm(struct kr_station *s, const struct kr_edit *edit)
{
    struct kr_result result = judge_rail(&s->editing, &s->rails, &s->config, s->in.axis, &s->durable);
    if (result.code != KR_OK)
        return result;
    if (times_own_kind(edit->kind)) {
        times_take(&s->editing.times, edit, &s->durable);
        times_tell(&s->config, &s->durable);
        return result;
    }
    uint16_t r = (uint16_t)(edit->rail - 1);
    s->editing.shift_before_um = s->durable.shift_um[r];
    if (frames_own_kind(edit->kind))
        frames_take(&s->editing.frames, edit, &s->durable);
    if (switches_own_kind(edit->kind))
        switches_take(&s->editing.switches, edit, &s->durable);
    rail_confirmed(s, r, (enum kr_edit_kind)edit->kind, true, s->editing.shift_before_um);
    return result;
}

static bool is_of_a_named_knife(const struct kr_edit *edit)
{
    return knife_own_kind(edit->kind) && !knife_is_on_holder(edit);
}

/* Withdraws the statement of a person. Knowledge about positions that came meanwhile stays. */
static void undo(struct kr_station *s, const struct kr_edit *edit)
{
    if (edit->result.code != KR_OK || edges_own_kind(edit->kind) || edit->kind == KR_EDIT_TRACE)
        return;
    if (is_of_a_named_knife(edit))
        return; /* only the ledger would have changed */
    if (times_own_kind(edit->kind)) {
        times_withdraw(&s->editing.times, edit, &s->durable);
        times_tell(&s->config, &s->durable);
        return;
    }
    if (is_of_rail(edit->kind)) {
        if (frames_own_kind(edit->kind))
            frames_withdraw(&s->editing.frames, edit, &s->durable);
        if (switches_own_kind(edit->kind))
            switches_withdraw(&s->editing.switches, edit, &s->durable);
        rail_confirmed(s, (uint16_t)(edit->rail - 1), (enum kr_edit_kind)edit->kind, false, rail_before(&s->editing));
        return;
    }
    if (of_test_cut(edit->kind)) {
        test_cuts_end(&s->test_cuts, &s->durable, edit->kind, false);
        return;
    }
    uint16_t r = (uint16_t)(edit->rail - 1), h = (uint16_t)(edit->holder - 1);
    struct kr_holder_data before = s->editing.before;
    if (s->durable.holder[r][h].edge == KR_EDGE_STRUCK)
        before.edge = KR_EDGE_STRUCK; /* perhaps by a crash that came meanwhile */
    durable_set_holder(&s->durable, r, h, &before);
    rail_holder_changed(&s->rails, &s->durable, r, h);
    if (edit->kind == KR_EDIT_ABSENT || edit->kind == KR_EDIT_INSERT)
        rail_told(s, r, edit->holder, before.position_um, KR_UNKNOWN);
    verify_places_changed(&s->placement, 1);
}

static void withdraw(struct editing *e, struct kr_durable *durable)
{
    static const struct kr_knife_event none = {.number = 0};
    static const struct kr_test_cut no_strips = {.number = 0};
    e->edit.result = (struct kr_result){.code = KR_NOT_STORED};
    durable_set_edit(durable, &e->edit);
    durable_set_knife_event(durable, &none);
    durable_set_test_cut(durable, &no_strips);
    e->serial = durable->serial;
    e->step = EDIT_WITHDRAWING;
}

/* ---- the handshake --------------------------------------------------------------------------------------------- */

/* Publishes the verdict. From now on clients see the new values. */
static void tell_change(struct editing *editing, struct placement *placement)
{
    const struct kr_edit *edit = &editing->edit;
    bool proposes = edit->kind == KR_EDIT_TEST_CUT || edit->kind == KR_EDIT_TEST_CUT_MORE;
    if (edit->result.code != KR_OK || proposes || edit->kind == KR_EDIT_TRACE)
        return;
    verify_shown_changed(placement);
    editing->generation++;
}

static void publish(struct editing *e, struct placement *placement)
{
    e->published = e->edit;
    e->step = EDIT_FREE;
    tell_change(e, placement);
}

/* Tells whether the request states that a person has looked at each pair. A value that an earlier request left in the
 * register states nothing, not even if a client comes back to the number of that request. */
static bool states_pairs(const struct editing *e, const struct kr_snapshot *block)
{
    uint16_t stated = u16(block, KR_REG_EDIT_PAIRS_LOOKED_AT);
    return stated == u16(block, KR_REG_EDIT_NUMBER) &&
           (!e->last.present || stated != u16(&e->last, KR_REG_EDIT_PAIRS_LOOKED_AT));
}

/* Judges a new request as far as possible without other data. True: it is to be decided now. */
static bool hear(struct editing *e, const struct kr_station_in *in, struct kr_format format, uint16_t session,
                 enum kr_unit_state state)
{
    struct kr_edit *edit = &e->asked;
    if (!in->edit.present || (e->last.present && memcmp(e->last.word, in->edit.word, sizeof e->last.word) == 0))
        return false; /* the same number with the same block changes nothing */
    decode(in, format, edit);
    knife_decode(&in->edit, format, &e->knife);
    frames_decode(&in->edit, format, &e->frames.asked);
    switches_decode(&in->edit, format, &e->switches.asked);
    times_decode(&in->edit, format, &e->times.asked);
    bool reused = e->last.present && edit->number == e->edit.number && edit->session == e->edit.session;
    edit->result = judge_handshake(edit, in->book_failed, session, reused, state);
    if (edit->result.code == KR_OK && knife_own_kind(edit->kind))
        edit->result = knife_judge_asked(edit, &e->knife);
    e->states_pairs = states_pairs(e, &in->edit);
    e->last = in->edit;
    if (edit->result.code != KR_OK || !knife_asks_ledger(edit))
        return true;
    e->step = EDIT_ASKING;
    e->ticket = e->ticket == UINT32_MAX ? 1 : e->ticket + 1;
    return false;
}

/* Takes the ledger's answer about a knife. Meanwhile a job may have begun, and the book may fail. */
static bool hear_ledger(struct editing *e, const struct kr_station_in *in, enum kr_unit_state state)
{
    struct kr_edit *edit = &e->asked;
    if (in->knife.ticket != e->ticket)
        return false;
    if (in->knife.failed || in->book_failed)
        edit->result = (struct kr_result){.code = KR_NOT_STORED};
    else if (!unit_allows(state))
        edit->result = (struct kr_result){.code = KR_NOT_IN_THIS_STATE, .value = (int32_t)state};
    else
        knife_take_edge(edit, &e->knife, &in->knife);
    return true;
}

static struct kr_result do_named(struct editing *e, const struct kr_knife_answer *ledger, struct kr_durable *durable)
{
    struct kr_result result = judge_knife(e, ledger, durable);
    if (result.code == KR_OK)
        tell_knife(e, NULL, ledger, durable);
    return result;
}

static void decide(struct kr_station *s)
{
    struct editing *e = &s->editing;
    struct kr_edit edit = e->asked;
    edges_wait(&s->edges, &s->durable);
    /* The daemon handles KR_EDIT_TRACE, and no state changes. */
    if (edit.result.code == KR_OK && edit.kind != KR_EDIT_TRACE)
        edit.result = of_test_cut(edit.kind)  ? test_cuts_request(s, &edit)
                      : is_of_rail(edit.kind) ? confirm(s, &edit)
                      : edges_own_kind(edit.kind)
                          ? edges_request(view_of_edges(s), &s->edges, &s->durable, &edit, s->in.crash)
                      : is_of_a_named_knife(&edit) ? do_named(e, &s->in.knife, &s->durable)
                                                   : do_edit(s, &edit);
    if (edit.result.code != KR_OK)
        edges_stored(&s->edges); /* nothing has changed */
    e->edit = edit;
    durable_set_edit(&s->durable, &edit);
    e->serial = s->durable.serial;
    e->step = EDIT_STORING;
    if (edit.result.code == KR_NOT_STORED)
        publish(e, &s->placement); /* the book is known to fail, and has received nothing */
}

static void stored(struct kr_station *s)
{
    struct editing *e = &s->editing;
    if (durable_stored(&s->in, e->serial)) {
        publish(e, &s->placement);
        if (of_test_cut(e->edit.kind) && e->edit.result.code == KR_OK)
            test_cuts_end(&s->test_cuts, &s->durable, e->edit.kind, true);
        edges_stored(&s->edges);
        edges_name(view_of_edges(s), s->placement.verified, &s->alarms);
    } else if (s->in.book_failed && e->step == EDIT_STORING) {
        undo(s, &e->edit);
        edges_take_back(&s->edges, &s->durable);
        withdraw(e, &s->durable);
    }
}

bool edit_is_waiting(const struct editing *e)
{
    return e->step == EDIT_STORING || e->step == EDIT_WITHDRAWING;
}

int32_t edit_shift_shown(const struct editing *e, const struct kr_durable *durable, uint16_t rail)
{
    bool is_changing = e->step == EDIT_STORING && e->edit.result.code == KR_OK && e->edit.kind == KR_EDIT_SHIFT &&
                       e->edit.rail == rail + 1;
    return is_changing ? e->shift_before_um : durable->shift_um[rail];
}

struct frame_kept edit_frame_shown(const struct editing *e, const struct kr_durable *durable, uint16_t rail)
{
    bool is_changing = e->step == EDIT_STORING && e->edit.result.code == KR_OK && frames_own_kind(e->edit.kind) &&
                       e->edit.rail == rail + 1;
    return is_changing ? e->frames.was : durable_frame(durable, rail);
}

struct switch_kept edit_switch_shown(const struct editing *e, const struct kr_durable *durable, uint16_t rail)
{
    bool is_changing = e->step == EDIT_STORING && e->edit.result.code == KR_OK && switches_own_kind(e->edit.kind) &&
                       e->edit.rail == rail + 1;
    return is_changing ? e->switches.was : durable_switch(durable, rail);
}

struct times_kept edit_times_shown(const struct editing *e, const struct kr_durable *durable, uint16_t rail)
{
    bool is_changing = e->step == EDIT_STORING && e->edit.result.code == KR_OK && times_own_kind(e->edit.kind) &&
                       e->edit.rail == rail + 1;
    return is_changing ? e->times.was : durable_times(durable, rail);
}

struct kr_holder_data edit_shown(const struct kr_station *s, uint16_t rail, uint16_t h)
{
    const struct editing *e = &s->editing;
    struct kr_holder_data shown = s->durable.holder[rail][h];
    if (e->step != EDIT_STORING || e->edit.result.code != KR_OK)
        return shown;
    if (e->edit.kind == KR_EDIT_APPLY)
        shown.edge_offset_um = test_cuts_before_um(&s->test_cuts, &s->durable, rail, h);
    if (of_test_cut(e->edit.kind) || is_of_rail(e->edit.kind) || edges_own_kind(e->edit.kind) ||
        e->edit.kind == KR_EDIT_TRACE || e->edit.rail != rail + 1 || e->edit.holder != h + 1)
        return shown;
    shown.edge_offset_um = e->before.edge_offset_um;
    shown.metres = e->before.metres;
    shown.knife = e->before.knife;
    shown.knife_kind = e->before.knife_kind;
    shown.holder_size = e->before.holder_size;
    shown.state = e->before.state;
    if (e->edit.kind == KR_EDIT_INSERT) {
        shown.position_um = e->before.position_um;
        shown.known = KR_UNKNOWN;
    }
    return shown;
}

void edit_step(struct kr_station *s)
{
    struct editing *e = &s->editing;
    bool heard = (e->step == EDIT_FREE && hear(e, &s->in, s->config.format, s->session, s->unit.state)) ||
                 (e->step == EDIT_ASKING && hear_ledger(e, &s->in, s->unit.state));
    if (heard)
        decide(s);
    if (e->step == EDIT_STORING || e->step == EDIT_WITHDRAWING)
        stored(s);
}
