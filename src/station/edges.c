#include "edges.h"

#include <string.h>

#include "durable.h"

static const struct kr_result yes = {.code = KR_OK};

bool edge_is_proven(enum kr_edge edge)
{
    return edge == KR_EDGE_BENCH || edge == KR_EDGE_FEELER || edge == KR_EDGE_TEST_CUT;
}

/* ---- while a request is being stored --------------------------------------------------------------------------- */

void edges_wait(struct edges *edges, const struct kr_durable *durable)
{
    edges->waits = true;
    memcpy(edges->trial_before, edges->trial, sizeof edges->trial_before);
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++)
            edges->edge_before[r][h] = durable->holder[r][h].edge;
}

void edges_stored(struct edges *edges)
{
    edges->waits = false;
}

void edges_take_back(struct edges *edges, struct kr_durable *durable)
{
    if (!edges->waits)
        return;
    edges->waits = false;
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++) {
            if (durable->holder[r][h].edge == KR_EDGE_STRUCK)
                continue;
            edges->trial[r][h] = edges->trial_before[r][h];
            if (durable->holder[r][h].edge != edges->edge_before[r][h])
                durable_set_edge(durable, r, h, (enum kr_edge)edges->edge_before[r][h]);
        }
}

enum kr_edge edge_shown(const struct edges *edges, const struct kr_durable *durable, uint16_t rail, uint16_t holder)
{
    enum kr_edge is = (enum kr_edge)durable->holder[rail][holder].edge,
                 was = (enum kr_edge)edges->edge_before[rail][holder];
    return edges->waits && edge_is_proven(is) && !edge_is_proven(was) ? was : is;
}

bool edge_proven_by_strips(const struct edges *edges, const struct kr_durable *durable, uint16_t rail, uint16_t holder)
{
    enum kr_edge was = (enum kr_edge)edges->edge_before[rail][holder];
    return edges->waits && durable->holder[rail][holder].edge == KR_EDGE_TEST_CUT && !edge_is_proven(was);
}

bool edge_on_trial(const struct edges *edges, uint16_t rail, uint16_t holder)
{
    return edges->trial[rail][holder] && (!edges->waits || edges->trial_before[rail][holder]);
}

/* ---- the use that edges allow ------------------------------------------------------------------------------------ */

static uint16_t cut_of(struct edge_view v, uint16_t r, uint16_t h)
{
    return v.planning->valid ? v.planning->plan.rail[r].holder[h].cut : 0;
}

static enum kr_edge shown(struct edge_view v, uint16_t r, uint16_t h)
{
    return edge_shown(v.edges, v.durable, r, h);
}

static enum edge_use allows(struct edge_view v, uint16_t r, uint16_t h)
{
    if (edge_is_proven(shown(v, r, h)))
        return EDGE_FOR_ALL;
    bool on_trial = shown(v, r, h) == KR_EDGE_UNPROVEN && edge_on_trial(v.edges, r, h);
    return on_trial ? EDGE_FOR_TEST_CUT : EDGE_FOR_NOTHING;
}

enum edge_use edges_allow(struct edge_view v)
{
    enum edge_use least = v.edges->crash ? EDGE_FOR_NOTHING : EDGE_FOR_ALL;
    for (uint16_t r = 0; r < v.geometry->n_rails; r++)
        for (uint16_t h = 0; h < v.geometry->rail[r].n_holders; h++)
            if (cut_of(v, r, h) != 0 && allows(v, r, h) < least)
                least = allows(v, r, h);
    return least;
}

/* ---- alarms ------------------------------------------------------------------------------------------------------ */

static bool is_unproven(struct edge_view v, uint16_t r, uint16_t h)
{
    return cut_of(v, r, h) != 0 && shown(v, r, h) == KR_EDGE_UNPROVEN;
}

static bool was_struck(struct edge_view v, uint16_t r, uint16_t h)
{
    return v.durable->holder[r][h].state == KR_HOLDER_IN && shown(v, r, h) == KR_EDGE_STRUCK;
}

/* Names the first one of a rail and their number, because a hundred alarms would displace others. */
static struct kr_alarm alarm_of_rail(struct edge_view v, uint16_t r, enum kr_alarm_code code,
                                     bool (*is_one)(struct edge_view v, uint16_t r, uint16_t h))
{
    struct kr_alarm alarm = {.code = (uint16_t)code, .rail = (uint16_t)(r + 1)};
    for (uint16_t h = 0; h < v.geometry->rail[r].n_holders; h++) {
        if (!is_one(v, r, h))
            continue;
        alarm.item = alarm.item ? alarm.item : (uint16_t)(h + 1);
        alarm.value++;
    }
    return alarm;
}

static void name(struct edge_view v, struct alarms *alarms, enum kr_alarm_code code,
                 bool (*is_one)(struct edge_view v, uint16_t r, uint16_t h))
{
    for (uint16_t r = 0; r < v.geometry->n_rails; r++) {
        struct kr_alarm alarm = alarm_of_rail(v, r, code, is_one);
        if (alarm.value > 0)
            alarm_list(alarms, alarm);
    }
}

void edges_name(struct edge_view v, bool verified, struct alarms *alarms)
{
    alarm_end(alarms, KR_ALARM_KNIFE_STRUCK);
    alarm_end(alarms, KR_ALARM_EDGE_UNPROVEN);
    name(v, alarms, KR_ALARM_KNIFE_STRUCK, was_struck);
    if (verified)
        name(v, alarms, KR_ALARM_EDGE_UNPROVEN, is_unproven);
}

/* ---- requests -------------------------------------------------------------------------------------------------- */

bool edges_own_kind(uint16_t kind)
{
    return kind >= KR_EDIT_BENCH && kind <= KR_EDIT_TRIAL;
}

static struct kr_result no(enum kr_code code, uint16_t rail, uint16_t item)
{
    return (struct kr_result){.code = code, .rail = rail, .item = item};
}

static struct kr_result judge(struct edge_view v, const struct kr_edit *edit, uint16_t crash)
{
    uint16_t n_rails = v.geometry->n_rails;
    if (edit->rail < 1 || edit->rail > n_rails)
        return (struct kr_result){.code = KR_UNKNOWN_RAIL, .value = edit->rail, .limit = n_rails};
    uint16_t n = v.geometry->rail[edit->rail - 1].n_holders;
    if (edit->holder > n)
        return (struct kr_result){.code = KR_UNKNOWN_HOLDER, .rail = edit->rail, .value = edit->holder, .limit = n};
    if (crash)
        return (struct kr_result){.code = KR_CRASH_STANDS, .value = crash};
    return yes;
}

/* A person who confirms a whole rail has not inspected the single knife that was struck. */
static struct kr_result confirm(struct edge_view v, struct edges *edges, struct kr_durable *durable,
                                const struct kr_edit *edit)
{
    uint16_t r = (uint16_t)(edit->rail - 1);
    uint16_t first = edit->holder ? (uint16_t)(edit->holder - 1) : 0;
    uint16_t end = edit->holder ? edit->holder : v.geometry->rail[r].n_holders;
    for (uint16_t h = first; h < end && edit->holder == 0; h++)
        if (durable->holder[r][h].edge == KR_EDGE_STRUCK)
            return no(KR_LOOK_FIRST, edit->rail, (uint16_t)(h + 1));
    for (uint16_t h = first; h < end; h++) {
        edges->trial[r][h] = false;
        durable_set_edge(durable, r, h, edit->kind == KR_EDIT_BENCH ? KR_EDGE_BENCH : KR_EDGE_FEELER);
    }
    return yes;
}

/* Tells whether a holder makes a cut of the meant holder: it is the same holder, or its partner on another rail. */
static bool makes_a_cut_meant(struct edge_view v, const struct kr_edit *edit, uint16_t r, uint16_t h)
{
    uint16_t cut = cut_of(v, r, h);
    return cut != 0 &&
           (edit->holder == 0 || cut == cut_of(v, (uint16_t)(edit->rail - 1), (uint16_t)(edit->holder - 1)));
}

static struct kr_result judge_trial(struct edge_view v, const struct kr_edit *edit)
{
    if (!v.planning->valid)
        return no(KR_NOT_PLACED, 0, 0);
    if (edit->holder != 0 && cut_of(v, (uint16_t)(edit->rail - 1), (uint16_t)(edit->holder - 1)) == 0)
        return no(KR_NOT_CUTTING, edit->rail, edit->holder);
    for (uint16_t r = 0; r < v.geometry->n_rails; r++)
        for (uint16_t h = 0; h < v.geometry->rail[r].n_holders; h++)
            if (makes_a_cut_meant(v, edit, r, h) && v.durable->holder[r][h].edge == KR_EDGE_STRUCK)
                return no(KR_LOOK_FIRST, (uint16_t)(r + 1), (uint16_t)(h + 1));
    return yes;
}

static struct kr_result try_by_test_cut(struct edge_view v, struct edges *edges, const struct kr_edit *edit)
{
    struct kr_result result = judge_trial(v, edit);
    if (result.code != KR_OK)
        return result;
    for (uint16_t r = 0; r < v.geometry->n_rails; r++)
        for (uint16_t h = 0; h < v.geometry->rail[r].n_holders; h++)
            if (makes_a_cut_meant(v, edit, r, h) && !edge_is_proven((enum kr_edge)v.durable->holder[r][h].edge))
                edges->trial[r][h] = true;
    return yes;
}

struct kr_result edges_request(struct edge_view v, struct edges *edges, struct kr_durable *durable,
                               const struct kr_edit *edit, uint16_t crash)
{
    struct kr_result result = judge(v, edit, crash);
    if (result.code != KR_OK)
        return result;
    return edit->kind == KR_EDIT_TRIAL ? try_by_test_cut(v, edges, edit) : confirm(v, edges, durable, edit);
}

/* ---- test cuts ------------------------------------------------------------------------------------------------- */

void edges_strips_entered(struct edge_view v, struct edges *edges, struct kr_durable *durable, uint16_t cut,
                          uint16_t proven_on)
{
    for (uint16_t r = 0; r < v.geometry->n_rails; r++)
        for (uint16_t h = 0; h < v.geometry->rail[r].n_holders; h++) {
            if (!edges->trial[r][h] || cut_of(v, r, h) != cut)
                continue;
            edges->trial[r][h] = false;
            if (proven_on >> r & 1)
                durable_set_edge(durable, r, h, KR_EDGE_TEST_CUT);
        }
}

void edges_end_trials(struct edges *edges)
{
    memset(edges->trial, 0, sizeof edges->trial);
    memset(edges->trial_before, 0, sizeof edges->trial_before);
}

/* ---- a crash --------------------------------------------------------------------------------------------------- */

/* A new bit, or a new cut. A PLC that clears the number before the bits does not report another cut. */
bool edges_new_crash(struct edges *edges, uint16_t crash, uint16_t cut)
{
    bool is_new = (crash & ~edges->crash) != 0 || (crash != 0 && cut != 0 && cut != edges->crash_cut);
    edges->crash_ended = edges->crash_ended || (edges->crash != 0 && crash == 0);
    edges->crash = crash;
    edges->crash_cut = cut;
    return is_new;
}

static bool any_struck(struct edge_view v)
{
    for (uint16_t r = 0; r < v.geometry->n_rails; r++)
        for (uint16_t h = 0; h < v.geometry->rail[r].n_holders; h++)
            if (was_struck(v, r, h))
                return true;
    return false;
}

static bool is_hit(struct edge_view v, uint16_t r, uint16_t h)
{
    uint16_t cut = v.edges->crash_cut;
    bool one = cut >= 1 && cut <= v.planning->cuts.n_cuts;
    if (!v.planning->valid) /* it is unknown which holders cut */
        return v.durable->holder[r][h].state == KR_HOLDER_IN;
    return one ? cut_of(v, r, h) == cut : cut_of(v, r, h) != 0;
}

uint16_t edges_strike(struct edge_view v, struct edges *edges, struct kr_durable *durable)
{
    uint16_t rails = 0;
    if (!v.planning->valid && any_struck(v) && !edges->crash_ended)
        return 0; /* after a restart the PLC still reports an earlier crash */
    for (uint16_t r = 0; r < v.geometry->n_rails; r++)
        for (uint16_t h = 0; h < v.geometry->rail[r].n_holders; h++) {
            if (!is_hit(v, r, h))
                continue;
            rails |= (uint16_t)(1u << r);
            edges->trial[r][h] = false;
            durable_set_edge(durable, r, h, KR_EDGE_STRUCK);
        }
    return rails;
}
