/* Maintenance requests: one holder's data is changed, the change stored, then its verdict published. Nothing moves by
 * it; if the holder cuts in the order in force, that order is no longer verified and has to be planned anew. */
#include "state.h"

#include <stdio.h>
#include <string.h>

static uint16_t u16(const struct kr_station *s, enum kr_reg reg)
{
    return kr_snapshot_u16(&s->in.edit, KR_BLOCK_EDIT, reg, 0);
}

static int32_t um(const struct kr_station *s, enum kr_reg reg)
{
    return kr_um_from_nm(kr_snapshot_nm(&s->in.edit, KR_BLOCK_EDIT, reg, 0, s->config.format));
}

static void decode(const struct kr_station *s, struct kr_edit *edit)
{
    memset(edit, 0, sizeof *edit);
    edit->session = u16(s, KR_REG_EDIT_SESSION);
    edit->number = u16(s, KR_REG_EDIT_NUMBER);
    edit->kind = u16(s, KR_REG_EDIT_KIND);
    edit->rail = u16(s, KR_REG_EDIT_RAIL);
    edit->holder = u16(s, KR_REG_EDIT_HOLDER);
    edit->holder_class = u16(s, KR_REG_EDIT_CLASS);
    edit->edge_offset_um = um(s, KR_REG_EDIT_OFFSET);
    edit->position_um = um(s, KR_REG_EDIT_POSITION);
    snprintf(edit->origin, sizeof edit->origin, "%s", s->in.edit_origin);
}

/* ---- may it be? ------------------------------------------------------------------------------------------------- */

static struct kr_result no(enum kr_code code, const struct kr_edit *edit, int32_t value, int32_t limit)
{
    return (struct kr_result){code, edit->rail, edit->holder, value, limit};
}

static const struct kr_result yes = {.code = KR_OK};

/* Where nothing is under way, or where what is under way will look and plan anew before it moves again. */
static bool unit_allows(enum kr_unit_state state)
{
    return state == KR_STATE_STOPPED || state == KR_STATE_IDLE || state == KR_STATE_COMPLETE ||
           state == KR_STATE_HELD || state == KR_STATE_SUSPENDED || state == KR_STATE_ABORTED;
}

static struct kr_result judge_handshake(const struct kr_station *s, const struct kr_edit *edit, bool reused)
{
    if (edit->session != s->session)
        return (struct kr_result){.code = KR_STALE_SESSION, .value = edit->session, .limit = s->session};
    if (reused)
        return (struct kr_result){.code = KR_NUMBER_REUSED, .value = edit->number};
    if (edit->kind < KR_EDIT_OFFSET || edit->kind > KR_EDIT_LAST)
        return (struct kr_result){.code = KR_UNKNOWN_KIND, .value = edit->kind, .limit = KR_EDIT_LAST};
    if (s->in.book_failed)
        return (struct kr_result){.code = KR_NOT_STORED};
    if (!unit_allows(s->state))
        return (struct kr_result){.code = KR_NOT_IN_THIS_STATE, .value = (int32_t)s->state};
    return yes;
}

static struct kr_result judge_holder(const struct kr_station *s, const struct kr_edit *edit)
{
    uint16_t n_rails = s->config.geometry.n_rails;
    if (edit->rail < 1 || edit->rail > n_rails)
        return (struct kr_result){.code = KR_UNKNOWN_RAIL, .value = edit->rail, .limit = n_rails};
    uint16_t r = (uint16_t)(edit->rail - 1), n = s->config.geometry.rail[r].n_holders;
    if (edit->holder < 1 || edit->holder > n)
        return (struct kr_result){
            .code = KR_UNKNOWN_HOLDER, .rail = edit->rail, .value = edit->holder, .limit = n};
    if (kr_motion_docked(&s->motion[r]) == edit->holder || s->durable.docking[r] == edit->holder)
        return no(KR_HOLDER_DOCKED, edit, 0, 0);
    bool present = holder_present(&s->durable.holder[r][edit->holder - 1]);
    if (edit->kind == KR_EDIT_INSERT && present)
        return no(KR_ON_RAIL_ALREADY, edit, 0, 0);
    bool needs_it = edit->kind >= KR_EDIT_IN && edit->kind <= KR_EDIT_FIXED;
    return needs_it && !present ? no(KR_NOT_ON_RAIL, edit, 0, 0) : yes;
}

static bool sets_offset(uint16_t kind)
{
    return kind == KR_EDIT_OFFSET || kind == KR_EDIT_REGRIND || kind == KR_EDIT_SWAP;
}

static bool sets_class(uint16_t kind)
{
    return kind == KR_EDIT_SWAP || kind == KR_EDIT_CLASS;
}

static struct kr_result judge_values(const struct kr_edit *edit)
{
    int32_t limit_um = KR_EDGE_OFFSET_MAX_UM;
    if (sets_class(edit->kind) && (edit->holder_class < 1 || edit->holder_class > 3))
        return no(KR_HOLDER_CLASS, edit, edit->holder_class, 3);
    if (sets_offset(edit->kind) && (edit->edge_offset_um > limit_um || edit->edge_offset_um < -limit_um))
        return no(KR_EDGE_OFFSET, edit, edit->edge_offset_um,
                  edit->edge_offset_um < 0 ? -limit_um : limit_um);
    return yes;
}

/* The nearest holder on one side whose place is known, and the room that it, and those between whose places are not
 * known, must have from a holder of this class. 0: there is none. */
static uint16_t known_neighbour(const struct kr_station *s, const struct kr_edit *edit, uint8_t holder_class,
                                int side, int32_t *need_um)
{
    const struct kr_holder_data *row = s->durable.holder[edit->rail - 1];
    int n = s->config.geometry.rail[edit->rail - 1].n_holders;
    *need_um = 0;
    for (int i = edit->holder - 1 + side; i >= 0 && i < n; i += side) {
        if (!holder_present(&row[i]))
            continue;
        /* two that stand within their deadbands may be that much nearer */
        *need_um +=
            kr_spacing_um(&s->config.geometry, holder_class, row[i].holder_class) - 2 * s->config.deadband_um;
        holder_class = row[i].holder_class;
        if (row[i].known != KR_UNKNOWN)
            return (uint16_t)(i + 1);
    }
    return 0;
}

/* Room on one side of a place. A gap that was too narrow before may stay so. */
static struct kr_result judge_room(const struct kr_station *s, const struct kr_edit *edit,
                                   const struct kr_holder_data *is, int side)
{
    const struct kr_holder_data *was = &s->durable.holder[edit->rail - 1][edit->holder - 1];
    int32_t need_um, needed_um;
    uint16_t neighbour = known_neighbour(s, edit, is->holder_class, side, &need_um);
    if (neighbour == 0)
        return yes;
    (void)known_neighbour(s, edit, was->holder_class, side, &needed_um);
    int32_t gap_um = side * (s->durable.holder[edit->rail - 1][neighbour - 1].position_um - is->position_um);
    bool no_worse = holder_present(was) && need_um <= needed_um;
    return gap_um < need_um && !no_worse ? no(KR_SPACING, edit, gap_um, need_um) : yes;
}

static struct kr_result judge_place(const struct kr_station *s, const struct kr_edit *edit)
{
    const struct kr_rail_geometry *rail = &s->config.geometry.rail[edit->rail - 1];
    struct kr_holder_data is = s->durable.holder[edit->rail - 1][edit->holder - 1];
    if (sets_class(edit->kind))
        is.holder_class = (uint8_t)edit->holder_class;
    if (edit->kind == KR_EDIT_INSERT) {
        is.position_um = edit->position_um;
        if (is.position_um < rail->min_um)
            return no(KR_HOLDER_OFF_RAIL, edit, is.position_um, rail->min_um);
        if (is.position_um > rail->max_um)
            return no(KR_HOLDER_OFF_RAIL, edit, is.position_um, rail->max_um);
    } else if (!sets_class(edit->kind) || !holder_present(&is) || is.known == KR_UNKNOWN) {
        return yes;
    }
    struct kr_result left = judge_room(s, edit, &is, -1);
    return left.code == KR_OK ? judge_room(s, edit, &is, 1) : left;
}

/* After the handshake. */
static struct kr_result judge(const struct kr_station *s, const struct kr_edit *edit)
{
    struct kr_result result = judge_holder(s, edit);
    if (result.code == KR_OK)
        result = judge_values(edit);
    return result.code == KR_OK ? judge_place(s, edit) : result;
}

/* ---- doing it ------------------------------------------------------------------------------------------------------ */

static void change(struct kr_holder_data *data, const struct kr_edit *edit)
{
    if (sets_offset(edit->kind))
        data->edge_offset_um = edit->edge_offset_um;
    if (sets_class(edit->kind))
        data->holder_class = (uint8_t)edit->holder_class;
    switch ((enum kr_edit_kind)edit->kind) {
    case KR_EDIT_SWAP:
        data->metres = 0;
        data->dock_retries = 0;
        break;
    case KR_EDIT_REGRIND: data->metres = 0; break;
    case KR_EDIT_IN: data->state = KR_HOLDER_IN; break;
    case KR_EDIT_OUT: data->state = KR_HOLDER_OUT; break;
    case KR_EDIT_FIXED: data->state = KR_HOLDER_FIXED; break;
    case KR_EDIT_ABSENT: data->state = KR_HOLDER_ABSENT; break;
    case KR_EDIT_INSERT: data->state = KR_HOLDER_IN; break;
    case KR_EDIT_OFFSET:
    case KR_EDIT_CLASS:
    case KR_EDIT_TEST_CUT:
    case KR_EDIT_TEST_CUT_MORE:
    case KR_EDIT_APPLY: break;
    }
}

/* Whoever takes a holder off or puts one on has had his hands among its neighbours. */
static bool hands_were_there(uint16_t kind)
{
    return kind == KR_EDIT_SWAP || kind == KR_EDIT_ABSENT || kind == KR_EDIT_INSERT;
}

/* The plan in force no longer tells the truth about a holder that cuts in it. */
void plan_outdated(struct kr_station *s)
{
    s->verified = s->plan_valid = false;
    s->order_generation++;
}

static void place_told(struct kr_station *s, const struct kr_edit *edit, int32_t position_um,
                       enum kr_known known)
{
    uint16_t r = (uint16_t)(edit->rail - 1);
    struct kr_motion_in in = rail_in(s, r);
    kr_motion_told(&s->motion[r], &in, edit->holder, position_um, known);
    rail_learned(s, r);
}

static void apply(struct kr_station *s, const struct kr_edit *edit)
{
    uint16_t r = (uint16_t)(edit->rail - 1), h = (uint16_t)(edit->holder - 1);
    metres_give(s); /* what was cut until now was cut by the knife as it was */
    s->editing.before = s->durable.holder[r][h];
    bool cuts = s->plan_valid && s->plan.rail[r].holder[h].cut != 0;
    change(&s->durable.holder[r][h], edit);
    rail_holder_changed(s, r, h);
    if (edit->kind == KR_EDIT_ABSENT)
        place_told(s, edit, s->editing.before.position_um, KR_UNKNOWN);
    else if (edit->kind == KR_EDIT_INSERT)
        place_told(s, edit, edit->position_um, KR_REMEMBERED);
    if (cuts)
        plan_outdated(s);
    if (sets_offset(edit->kind) || hands_were_there(edit->kind))
        offsets_touched(s, r, edit->holder);
    if (hands_were_there(edit->kind)) {
        rail_doubt(s, r, KR_REMEMBERED);
        position_changed(s);
    }
}

static struct kr_result do_edit(struct kr_station *s, const struct kr_edit *edit)
{
    struct kr_result result = judge(s, edit);
    if (result.code == KR_OK)
        apply(s, edit);
    return result;
}

static bool of_test_cut(uint16_t kind)
{
    return kind >= KR_EDIT_TEST_CUT;
}

/* What a person said is taken back; what became known of the place meanwhile is not. */
static void withdraw(struct kr_station *s)
{
    const struct kr_edit *edit = &s->editing.edit;
    if (edit->result.code != KR_OK)
        return;
    if (of_test_cut(edit->kind)) {
        offsets_end(s, edit->kind, false);
        return;
    }
    struct kr_holder_data *data = &s->durable.holder[edit->rail - 1][edit->holder - 1];
    const struct kr_holder_data *before = &s->editing.before;
    data->edge_offset_um = before->edge_offset_um;
    data->holder_class = before->holder_class;
    data->metres = before->metres;
    data->dock_retries = before->dock_retries;
    data->state = before->state;
    rail_holder_changed(s, (uint16_t)(edit->rail - 1), (uint16_t)(edit->holder - 1));
    if (edit->kind == KR_EDIT_ABSENT || edit->kind == KR_EDIT_INSERT)
        place_told(s, edit, before->position_um, KR_UNKNOWN);
    position_changed(s);
}

/* ---- the handshake --------------------------------------------------------------------------------------------------- */

static void take(struct kr_station *s)
{
    struct editing *e = &s->editing;
    if (e->last.present && memcmp(e->last.word, s->in.edit.word, sizeof e->last.word) == 0)
        return; /* the same number with the same block changes nothing */
    struct kr_edit edit;
    decode(s, &edit);
    bool reused = e->last.present && edit.number == e->edit.number && edit.session == e->edit.session;
    edit.result = judge_handshake(s, &edit, reused);
    if (edit.result.code == KR_OK)
        edit.result = of_test_cut(edit.kind) ? offsets_request(s, edit.kind) : do_edit(s, &edit);
    e->last = s->in.edit;
    e->edit = edit;
    s->durable.edit = edit;
    durable_touch(s);
    e->serial = s->durable.serial;
    e->storing = true;
}

/* From now on the new values are shown. */
static void tell_change(struct kr_station *s)
{
    const struct kr_edit *edit = &s->editing.edit;
    bool proposes = edit->kind == KR_EDIT_TEST_CUT || edit->kind == KR_EDIT_TEST_CUT_MORE;
    if (edit->result.code != KR_OK || proposes)
        return;
    s->position_generation++;
    s->edit_generation++;
}

static void stored(struct kr_station *s)
{
    struct editing *e = &s->editing;
    if (durable_committed(s, e->serial)) {
        s->edited = e->edit;
        tell_change(s);
        if (of_test_cut(e->edit.kind) && e->edit.result.code == KR_OK)
            offsets_end(s, e->edit.kind, true);
        e->storing = false;
    } else if (s->in.book_failed) {
        withdraw(s);
        s->durable.edit = s->edited;
        durable_touch(s);
        s->edited = e->edit;
        s->edited.result = (struct kr_result){.code = KR_NOT_STORED};
        e->storing = false;
    }
}

/* Until a change is stored, a holder's data are shown as they were: the change may yet be withdrawn. What became doubtful
 * by it is doubtful at once. */
struct kr_holder_data edit_shown(const struct kr_station *s, uint16_t rail, uint16_t h)
{
    const struct editing *e = &s->editing;
    struct kr_holder_data shown = s->durable.holder[rail][h];
    if (!e->storing || e->edit.result.code != KR_OK)
        return shown;
    if (e->edit.kind == KR_EDIT_APPLY)
        shown.edge_offset_um = offsets_before_um(s, rail, h);
    if (of_test_cut(e->edit.kind) || e->edit.rail != rail + 1 || e->edit.holder != h + 1)
        return shown;
    shown.edge_offset_um = e->before.edge_offset_um;
    shown.metres = e->before.metres;
    shown.holder_class = e->before.holder_class;
    shown.state = e->before.state;
    if (e->edit.kind == KR_EDIT_INSERT) {
        shown.position_um = e->before.position_um;
        shown.known = KR_UNKNOWN;
    }
    return shown;
}

void edit_step(struct kr_station *s)
{
    if (!s->editing.storing && s->in.edit.present)
        take(s);
    if (s->editing.storing)
        stored(s);
}
