/* Writes the station's registers from its state. */
#include "edit.h"
#include "intake.h"
#include "metres.h"
#include "progress.h"
#include "state.h"
#include "temperature.h"
#include "unit.h"

static uint16_t bit(bool set, unsigned mask)
{
    return set ? (uint16_t)mask : 0;
}

/* Writes a value whose kind follows from the code: lengths in the station's unit, all others unchanged. */
static void by_code(struct kr_image *image, enum kr_reg reg, uint16_t index, enum kr_value_kind kind, int32_t value)
{
    if (kind == KR_VALUE_LENGTH)
        kr_image_set_um(image, reg, 0, index, value);
    else
        kr_image_set_32(image, reg, 0, index, (uint32_t)value);
}

static bool recipe_is_kept(const struct intake *intake, const struct kr_durable *durable, uint16_t index)
{
    bool is_changing = intake->step == INTAKE_STORING && intake->recipe == index + 1;
    return (is_changing ? intake->before.recipe.n_slits : durable->recipe[index].n_slits) > 0;
}

static uint16_t all_rails(const struct rails *rails, const struct kr_station_config *config,
                          const struct kr_axis_in axis_of[])
{
    unsigned all = KR_STATUS_LINK | KR_STATUS_REFERENCED | KR_STATUS_PINS_OUT | KR_STATUS_CLAMPED | KR_STATUS_PARKED;
    for (uint16_t r = 0; r < config->geometry.n_rails; r++) {
        const struct kr_motion *motion = &rails->motion[r];
        const struct kr_carriage_config *carriage = &config->carriage[r];
        const struct kr_axis_in *axis = &axis_of[r];
        all &= ~(unsigned)(bit(!axis->link, KR_STATUS_LINK) |
                           bit(!kr_motion_has_datum(motion, carriage, axis), KR_STATUS_REFERENCED) |
                           bit(!kr_motion_pin_is_out(axis), KR_STATUS_PINS_OUT) |
                           bit(!kr_motion_clamped(carriage, axis), KR_STATUS_CLAMPED) |
                           bit(!kr_motion_parked(motion, carriage, axis), KR_STATUS_PARKED));
    }
    return (uint16_t)all;
}

static uint16_t missing_for_changeover(const struct permits *permits, const struct kr_station_config *config)
{
    return permit_missing(permits, permit_needed(config, KR_JOB_CHANGEOVER, KR_PHASE_NONE));
}

static uint16_t status(const struct kr_station *s)
{
    struct orders_shown orders = orders_shown(&s->starting, &s->intake, &s->durable);
    bool moving = s->unit.state == KR_STATE_EXECUTE || !rails_at_rest(&s->rails, s->config.geometry.n_rails);
    return (uint16_t)(all_rails(&s->rails, &s->config, s->in.axis) | bit(s->placement.verified, KR_STATUS_VERIFIED) |
                      bit(orders.staged != 0, KR_STATUS_STAGED) | bit(orders.in_force != 0, KR_STATUS_IN_FORCE) |
                      bit(moving, KR_STATUS_MOVING) |
                      bit(scan_is_shown_due(&s->config, &s->durable, s->unit.state), KR_STATUS_SCAN_DUE) |
                      bit(s->permits.heartbeat_fresh, KR_STATUS_HEARTBEAT_FRESH) |
                      bit(!s->in.book_failed, KR_STATUS_BOOK) |
                      bit(unit_in_job(s->unit.state) && s->job.reduced, KR_STATUS_REDUCED_SPEED) |
                      bit(missing_for_changeover(&s->permits, &s->config) == 0, KR_STATUS_PERMITTED));
}

static void run_block(const struct kr_station *s, struct kr_image *i)
{
    int64_t left_ms = job_left_us(s) / 1000;
    kr_image_set_32(i, KR_REG_WORD_ORDER_PROOF, 0, 0, KR_MAP_WORD_ORDER_PROOF);
    kr_image_set_u16(i, KR_REG_MAP_VERSION, 0, 0, KR_MAP_VERSION);
    kr_image_set_u16(i, KR_REG_SESSION, 0, 0, s->session);
    kr_image_set_u16(i, KR_REG_HEARTBEAT, 0, 0, (uint16_t)(s->clock.wall_us / 1000000 + 1));
    kr_image_set_u16(i, KR_REG_PLC_HEARTBEAT_ECHO, 0, 0, s->permits.plc_heartbeat);
    kr_image_set_u16(i, KR_REG_UNIT_STATE, 0, 0, (uint16_t)s->unit.state);
    kr_image_set_u16(i, KR_REG_JOB, 0, 0, s->job.kind);
    kr_image_set_u16(i, KR_REG_PHASE, 0, 0, (uint16_t)s->job.phase);
    kr_image_set_u16(i, KR_REG_STATUS, 0, 0, status(s));
    kr_image_set_u16(i, KR_REG_LINE_STATUS, 0, 0, s->line.status);
    kr_image_set_u16(i, KR_REG_PERMISSIVES_SEEN, 0, 0, s->permits.given);
    kr_image_set_u16(i, KR_REG_PERMISSIVES_MISSING, 0, 0, missing_for_changeover(&s->permits, &s->config));
    kr_image_set_u16(i, KR_REG_PROGRESS, 0, 0, s->job.percent);
    kr_image_set_32(i, KR_REG_TIME_LEFT, 0, 0, (uint32_t)(left_ms < INT32_MAX ? left_ms : INT32_MAX));
}

static void alarm_registers(const struct alarms *a, struct kr_image *i)
{
    kr_image_set_u16(i, KR_REG_ALARM_COUNT, 0, 0, alarms_listed(a));
    kr_image_set_u16(i, KR_REG_ALARMS_LOST, 0, 0, alarms_unlisted(a));
    for (uint16_t k = 0; k < alarms_listed(a); k++) {
        const struct kr_alarm *alarm = &a->at[k];
        enum kr_value_kind kind = kr_alarm_info(alarm->code)->value;
        kr_image_set_u16(i, KR_REG_ALARM_CODES, 0, k, alarm->code);
        kr_image_set_u16(i, KR_REG_ALARM_RAILS, 0, k, alarm->rail);
        kr_image_set_u16(i, KR_REG_ALARM_ITEMS, 0, k, alarm->item);
        by_code(i, KR_REG_ALARM_VALUES, k, kind, alarm->value);
        by_code(i, KR_REG_ALARM_LIMITS, k, kind, alarm->limit);
    }
    if (a->n == 0)
        return;
    kr_image_set_u16(i, KR_REG_ALARM_CODE, 0, 0, a->at[0].code);
    kr_image_set_u16(i, KR_REG_ALARM_RAIL, 0, 0, a->at[0].rail);
    kr_image_set_u16(i, KR_REG_ALARM_ITEM, 0, 0, a->at[0].item);
    by_code(i, KR_REG_ALARM_VALUE, 0, kr_alarm_info(a->at[0].code)->value, a->at[0].value);
}

static void line_proof(const struct hands *hands, const struct kr_durable *durable, struct kr_image *i)
{
    kr_image_set_u16(i, KR_REG_ACCESS_COUNT_SEEN, 0, 0, hands->count);
    kr_image_set_u16(i, KR_REG_LINE_DOUBTS, 0, 0, hands->doubts);
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        kr_image_set_u16(i, KR_REG_ACCESS_COUNT_PROVEN, 0, r, durable->access_count[r]);
}

static uint32_t seconds(int64_t us)
{
    return (uint32_t)(us / 1000000);
}

static void alarm_times(const struct alarm_times *times, int64_t wall_us, struct kr_image *i)
{
    for (uint16_t k = 0; k < times->n && k < KR_ALARMS_MAX; k++)
        kr_image_set_32(i, KR_REG_ALARM_AGES, 0, k, seconds(wall_us - times->standing[k].since_us));
    kr_image_set_u16(i, KR_REG_GONE_GENERATION, 0, 0, times->generation);
    kr_image_set_u16(i, KR_REG_GONE_COUNT, 0, 0, times->n_gone);
    for (uint16_t k = 0; k < times->n_gone; k++) {
        const struct timed_alarm *gone = &times->gone[k];
        enum kr_value_kind kind = kr_alarm_info(gone->alarm.code)->value;
        kr_image_set_u16(i, KR_REG_GONE_CODES, 0, k, gone->alarm.code);
        kr_image_set_u16(i, KR_REG_GONE_RAILS, 0, k, gone->alarm.rail);
        kr_image_set_u16(i, KR_REG_GONE_ITEMS, 0, k, gone->alarm.item);
        kr_image_set_32(i, KR_REG_GONE_AGES, 0, k, seconds(wall_us - gone->gone_us));
        kr_image_set_32(i, KR_REG_GONE_STOOD, 0, k, seconds(gone->gone_us - gone->since_us));
        by_code(i, KR_REG_GONE_VALUES, k, kind, gone->alarm.value);
        by_code(i, KR_REG_GONE_LIMITS, k, kind, gone->alarm.limit);
    }
}

static void state_times(const struct state_times *times, struct kr_image *i)
{
    kr_image_set_32(i, KR_REG_IN_STATE, 0, 0, seconds(times->in_state_us));
    for (uint16_t k = 0; k < kr_reg_info(KR_REG_STATE_TIMES)->n; k++) /* the first is state 1 */
        kr_image_set_32(i, KR_REG_STATE_TIMES, 0, k, seconds(times->us[k + 1]));
}

static void refusal(const struct kr_result *r, struct kr_image *i)
{
    if (r == NULL)
        return;
    enum kr_value_kind kind = kr_code_info((int)r->code)->value;
    kr_image_set_u16(i, KR_REG_REFUSAL_CODE, 0, 0, (uint16_t)r->code);
    kr_image_set_u16(i, KR_REG_REFUSAL_RAIL, 0, 0, r->rail);
    kr_image_set_u16(i, KR_REG_REFUSAL_ITEM, 0, 0, r->item);
    by_code(i, KR_REG_REFUSAL_VALUE, 0, kind, r->value);
    by_code(i, KR_REG_REFUSAL_LIMIT, 0, kind, r->limit);
}

static void commanded(const struct commanded *command, struct kr_image *i)
{
    const struct kr_result *c = &command->result;
    enum kr_value_kind kind = kr_code_info((int)c->code)->value;
    kr_image_set_u16(i, KR_REG_COMMAND_ECHO, 0, 0, command->number);
    kr_image_set_u16(i, KR_REG_COMMAND_RESULT, 0, 0, (uint16_t)c->code);
    kr_image_set_u16(i, KR_REG_COMMAND_RESULT_RAIL, 0, 0, c->rail);
    kr_image_set_u16(i, KR_REG_COMMAND_RESULT_ITEM, 0, 0, c->item);
    by_code(i, KR_REG_COMMAND_RESULT_VALUE, 0, kind, c->value);
    by_code(i, KR_REG_COMMAND_RESULT_LIMIT, 0, kind, c->limit);
}

static void verdict(const struct intake *intake, struct kr_image *i)
{
    const struct kr_verdict *v = &intake->published;
    enum kr_value_kind kind = kr_code_info((int)v->result.code)->value;
    kr_image_set_u16(i, KR_REG_REQUEST_BUSY, 0, 0, intake->step != INTAKE_FREE);
    kr_image_set_u16(i, KR_REG_VERDICT_SESSION, 0, 0, v->session);
    kr_image_set_u16(i, KR_REG_VERDICT_NUMBER, 0, 0, v->number);
    kr_image_set_u16(i, KR_REG_VERDICT_KIND, 0, 0, v->kind);
    kr_image_set_u16(i, KR_REG_VERDICT_CODE, 0, 0, (uint16_t)v->result.code);
    kr_image_set_u16(i, KR_REG_VERDICT_RAIL, 0, 0, v->result.rail);
    kr_image_set_u16(i, KR_REG_VERDICT_ITEM, 0, 0, v->result.item);
    kr_image_set_u16(i, KR_REG_VERDICT_SLIT_COUNT, 0, 0, v->slit_count);
    by_code(i, KR_REG_VERDICT_VALUE, 0, kind, v->result.value);
    by_code(i, KR_REG_VERDICT_LIMIT, 0, kind, v->result.limit);
    kr_image_set_32(i, KR_REG_VERDICT_ORDER, 0, 0, v->order_number);
    kr_image_set_32(i, KR_REG_VERDICT_SUM, 0, 0, (uint32_t)kr_count_from_nm(v->sum_nm, i->format.length_unit));
    kr_image_set_32(i, KR_REG_VERDICT_TIME, 0, 0, (uint32_t)v->time_ms);
    kr_image_set_32(i, KR_REG_VERDICT_REPLACED, 0, 0, v->replaced_order);
    kr_image_set_32(i, KR_REG_VERDICT_VERIFIED, 0, 0, (uint32_t)v->verified_ms);
    kr_image_set_32(i, KR_REG_VERDICT_SCANS, 0, 0, (uint32_t)v->scans_ms);
}

static void waiting(const struct starting *starting, const struct intake *intake, const struct kr_durable *durable,
                    struct kr_image *i)
{
    uint16_t stored[KR_RECIPES_MAX / 16] = {0};
    for (uint16_t k = 0; k < KR_RECIPES_MAX; k++)
        if (recipe_is_kept(intake, durable, k))
            stored[k / 16] |= (uint16_t)(1u << k % 16);
    for (uint16_t w = 0; w < KR_RECIPES_MAX / 16; w++)
        kr_image_set_u16(i, KR_REG_RECIPES_STORED, 0, w, stored[w]);
    struct orders_shown orders = orders_shown(starting, intake, durable);
    kr_image_set_u16(i, KR_REG_QUEUE_COUNT, 0, 0, orders.n_queued);
    for (uint16_t k = 0; k < orders.n_queued; k++)
        kr_image_set_32(i, KR_REG_QUEUE_ORDER, 0, k, orders.queue[k]);
}

static void edited(const struct editing *editing, struct kr_image *i)
{
    const struct kr_edit *e = &editing->published;
    enum kr_value_kind kind = kr_code_info((int)e->result.code)->value;
    kr_image_set_u16(i, KR_REG_EDIT_BUSY, 0, 0, editing->step != EDIT_FREE);
    kr_image_set_u16(i, KR_REG_EDIT_GENERATION, 0, 0, editing->generation);
    kr_image_set_u16(i, KR_REG_EDITED_SESSION, 0, 0, e->session);
    kr_image_set_u16(i, KR_REG_EDITED_NUMBER, 0, 0, e->number);
    kr_image_set_u16(i, KR_REG_EDITED_KIND, 0, 0, e->kind);
    kr_image_set_u16(i, KR_REG_EDITED_RAIL, 0, 0, e->rail);
    kr_image_set_u16(i, KR_REG_EDITED_HOLDER, 0, 0, e->holder);
    kr_image_set_u16(i, KR_REG_EDITED_CODE, 0, 0, (uint16_t)e->result.code);
    kr_image_set_u16(i, KR_REG_EDITED_ITEM, 0, 0, e->result.item);
    by_code(i, KR_REG_EDITED_VALUE, 0, kind, e->result.value);
    by_code(i, KR_REG_EDITED_LIMIT, 0, kind, e->result.limit);
}

static void proposal(const struct test_cuts *o, struct kr_image *i)
{
    uint16_t mask[KR_HOLDERS_MAX / 16] = {0};
    if (!o->proposed)
        return;
    kr_image_set_u16(i, KR_REG_PROPOSAL_RAIL, 0, 0, (uint16_t)(o->placed.rail + 1));
    kr_image_set_u16(i, KR_REG_PROPOSAL_TEST_CUTS, 0, 0, o->test_cuts);
    kr_image_set_u16(i, KR_REG_PROPOSAL_SPARE, 0, 0, o->fit.spare < UINT16_MAX ? (uint16_t)o->fit.spare : UINT16_MAX);
    kr_image_set_u16(i, KR_REG_PROPOSAL_PAIRS, 0, 0, o->pairs_looked_at);
    kr_image_set_um(i, KR_REG_PROPOSAL_SD, 0, 0, (int32_t)(o->fit.sd_um + 0.5));
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++) {
        if (!o->fit.fitted[h])
            continue;
        mask[h / 16] |= (uint16_t)(1u << h % 16);
        kr_image_set_um(i, KR_REG_PROPOSED_OFFSET, 0, h, o->fit.offset_um[h]);
    }
    for (uint16_t w = 0; w < KR_HOLDERS_MAX / 16; w++)
        kr_image_set_u16(i, KR_REG_PROPOSED, 0, w, mask[w]);
    for (uint16_t k = 0; k < o->n_residuals; k++)
        kr_image_set_um(i, KR_REG_RESIDUAL, 0, k, o->residual_um[k]);
}

static void about(const struct kr_station *s, struct kr_image *i)
{
    struct orders_shown orders = orders_shown(&s->starting, &s->intake, &s->durable);
    kr_image_set_u16(i, KR_REG_LENGTH_UNIT, 0, 0, (uint16_t)i->format.length_unit);
    kr_image_set_u16(i, KR_REG_WORD_ORDER, 0, 0, i->format.low_word_first);
    kr_image_set_u16(i, KR_REG_RAIL_COUNT, 0, 0, s->config.geometry.n_rails);
    kr_image_set_u16(i, KR_REG_RAILS_MAX, 0, 0, KR_RAILS_MAX);
    kr_image_set_u16(i, KR_REG_HOLDERS_MAX, 0, 0, KR_HOLDERS_MAX);
    kr_image_set_u16(i, KR_REG_SLITS_MAX, 0, 0, KR_SLITS_MAX);
    kr_image_set_u16(i, KR_REG_PERIOD, 0, 0, (uint16_t)(s->config.period_us / 1000));
    kr_image_set_u16(i, KR_REG_ORDER_GENERATION, 0, 0, s->planning.order_generation);
    kr_image_set_32(i, KR_REG_CYCLES, 0, 0, s->in.cycles);
    kr_image_set_32(i, KR_REG_OVERRUNS, 0, 0, s->in.overruns);
    kr_image_set_32(i, KR_REG_ORDER_IN_FORCE, 0, 0, orders.in_force);
    kr_image_set_32(i, KR_REG_ORDER_STAGED, 0, 0, orders.staged);
    kr_image_set_u16(i, KR_REG_POSITION_GENERATION, 0, 0, s->placement.generation);
    kr_image_set_u16(i, KR_REG_PERMISSIVES_NEEDED, 0, 0, permit_needed(&s->config, KR_JOB_CHANGEOVER, KR_PHASE_NONE));
    kr_image_set_text(i, KR_REG_STATION_NAME, s->config.name);
}

static void record(const struct kr_record *r, struct kr_image *i)
{
    kr_image_set_u16(i, KR_REG_RECORD_NUMBER, 0, 0, r->number);
    kr_image_set_u16(i, KR_REG_RECORD_RESULT, 0, 0, r->outcome);
    kr_image_set_32(i, KR_REG_RECORD_ORDER, 0, 0, r->order_number);
    kr_image_set_32(i, KR_REG_RECORD_PLANNED, 0, 0, (uint32_t)r->planned_ms);
    kr_image_set_32(i, KR_REG_RECORD_ACTUAL, 0, 0, (uint32_t)r->actual_ms);
    kr_image_set_32(i, KR_REG_RECORD_TOTAL, 0, 0, (uint32_t)r->total_ms);
    kr_image_set_32(i, KR_REG_RECORD_TOLD, 0, 0, (uint32_t)r->told_ms);
    kr_image_set_um(i, KR_REG_RECORD_WORST_PAIR, 0, 0, r->worst_pair_um);
    kr_image_set_um(i, KR_REG_RECORD_WORST_SLIT, 0, 0, r->worst_slit_um);
    for (uint16_t k = 0; k < KR_RAILS_MAX; k++) {
        kr_image_set_u16(i, KR_REG_RECORD_MOVES, 0, k, r->rail[k].moves);
        kr_image_set_u16(i, KR_REG_RECORD_CORRECTIONS, 0, k, r->rail[k].corrections);
        kr_image_set_u16(i, KR_REG_RECORD_RETRIES, 0, k, r->rail[k].retries);
        kr_image_set_u16(i, KR_REG_RECORD_WORST_HOLDER, 0, k, r->rail[k].worst_holder);
        kr_image_set_um(i, KR_REG_RECORD_WORST, 0, k, r->rail[k].worst_um);
    }
}

static void cuts(const struct kr_cut_registers *of, const struct kr_cuts *cuts, struct kr_image *i)
{
    const int32_t web_um[2] = {cuts->web_left_um, cuts->web_right_um};
    kr_image_set_u16(i, of->count, 0, 0, cuts->n_cuts);
    for (int side = 0; side < 2; side++) {
        kr_image_set_32(i, of->trim[side], 0, 0,
                        (uint32_t)kr_count_from_nm(cuts->trim_nm[side], i->format.length_unit));
        kr_image_set_um(i, of->web[side], 0, 0, web_um[side]);
    }
    for (uint16_t k = 0; k < cuts->n_cuts; k++)
        kr_image_set_um(i, of->line, 0, k, cuts->cut_um[k]);
}

/* It is computed in every cycle, which takes some microseconds, so that it follows the order, the geometry and the
 * book. */
static void staged(const struct kr_order *order, const struct kr_geometry *geometry, struct kr_image *i)
{
    struct kr_cuts made;
    if (order != NULL && kr_cuts_make(geometry, order, &made).code == KR_OK)
        cuts(&kr_cuts_staged, &made, i);
}

static void measured_slits(const struct placement *placement, uint16_t n_slits, struct kr_image *i)
{
    for (uint16_t k = 0; placement->slits_measured && k < n_slits; k++)
        kr_image_set_um(i, KR_REG_SLIT_MEASURED, 0, k, placement->slit_um[k]);
}

static uint16_t in_ms(int64_t us)
{
    return (uint16_t)(us / 1000 < UINT16_MAX ? us / 1000 : UINT16_MAX);
}

static void silences(const struct kr_station_config *config, const struct permits *permits, const struct clock *clock,
                     struct kr_image *i)
{
    kr_image_set_u16(i, KR_REG_HEARTBEAT_LIMIT, 0, 0, (uint16_t)config->heartbeat_limit_ms);
    kr_image_set_u16(i, KR_REG_HEARTBEAT_GAP, 0, 0, in_ms(permits->gap_us));
    kr_image_set_32(i, KR_REG_CONTROL_LIMIT, 0, 0, (uint32_t)config->control_limit_ms);
    kr_image_set_u16(i, KR_REG_OWN_GAP, 0, 0, in_ms(clock->own_gap_us));
    kr_image_set_32(i, KR_REG_OWN_GAP_AGE, 0, 0, seconds(clock->wall_us - clock->own_gap_at_us));
}

static void sizes(const struct kr_station_config *config, struct kr_image *i)
{
    const struct kr_geometry *geometry = &config->geometry;
    kr_image_set_u16(i, KR_REG_SIZE_COUNT, 0, 0, geometry->n_sizes);
    for (uint16_t k = 0; k < geometry->n_sizes; k++) {
        kr_image_set_um(i, KR_REG_SIZE_SPACING, 0, k, geometry->size_spacing_um[k]);
        kr_image_set_text(i, (enum kr_reg)(KR_REG_SIZE_NAME_1 + k), config->size_name[k]);
    }
}
_Static_assert(KR_REG_SIZE_NAME_8 == KR_REG_SIZE_NAME_1 + KR_SIZES_MAX - 1, "the names are rows side by side");

static void rail_wire(const struct kr_wire_figures *wire, uint16_t r, struct kr_image *i)
{
    kr_image_set_u16(i, KR_REG_DRIVE_LONGEST_ANSWER, 0, r, wire->longest_ms);
    kr_image_set_u16(i, KR_REG_DRIVE_RETRIES, 0, r, wire->retries);
    kr_image_set_u16(i, KR_REG_DRIVE_ANSWERS_LOST, 0, r, wire->lost_answers);
    kr_image_set_u16(i, KR_REG_DRIVE_LINKS_LOST, 0, r, wire->lost_links);
}

/* Writes why a drive is refused, by which item, and the value seen. */
static void rail_refusal(const struct kr_drive_refusal *refusal, uint16_t r, struct kr_image *i)
{
    kr_image_set_u16(i, KR_REG_DRIVE_REFUSED, 0, r, refusal->why);
    kr_image_set_u16(i, KR_REG_DRIVE_PARAMETER, 0, r, refusal->address);
    kr_image_set_32(i, KR_REG_DRIVE_PARAMETER_SEEN, 0, r, (uint32_t)refusal->seen);
    kr_image_set_32(i, KR_REG_DRIVE_PARAMETER_EXPECTED, 0, r, (uint32_t)refusal->expected);
    kr_image_set_text(i, (enum kr_reg)(KR_REG_DRIVE_PARAMETER_NAME_1 + r), refusal->name);
}
_Static_assert(KR_REG_DRIVE_PARAMETER_NAME_4 == KR_REG_DRIVE_PARAMETER_NAME_1 + KR_RAILS_MAX - 1,
               "the names are rows side by side");

/* The position was taken at the time of the question or up to span_us later. The part that whole milliseconds cut off
 * is added. */
static void carriage_time(const struct kr_axis_in *axis, int64_t now_us, uint16_t r, struct kr_image *i)
{
    int64_t asked_us = now_us - 1000LL * axis->age_ms, whole_us = asked_us - ((asked_us % 1000) + 1000) % 1000;
    kr_image_set_32(i, KR_REG_CARRIAGE_TIME, r, 0, (uint32_t)(whole_us / 1000));
    kr_image_set_u16(i, KR_REG_CARRIAGE_SPAN, r, 0, in_ms(asked_us - whole_us + axis->span_us + 999));
}

static void rail_header(const struct kr_station *s, uint16_t r, struct kr_image *i)
{
    const struct kr_motion *motion = &s->rails.motion[r];
    const struct kr_axis_in *axis = &s->in.axis[r];
    const struct kr_frame *frame = &s->config.carriage[r].frame;
    struct kr_motion_in in = rail_in(s, r);
    struct kr_axis_out out;
    uint16_t docked = kr_motion_docked(motion);
    kr_motion_outputs(motion, &in, &out);
    kr_image_set_u16(i, KR_REG_RAIL_ROLE, r, 0, (uint16_t)s->config.geometry.rail[r].role);
    kr_image_set_u16(i, KR_REG_RAIL_HOLDERS, r, 0, s->config.geometry.rail[r].n_holders);
    kr_image_set_u16(i, KR_REG_CARRIAGE_PHASE, r, 0, (uint16_t)kr_motion_phase(motion));
    kr_image_set_u16(i, KR_REG_DOCKED_HOLDER, r, 0, docked == 0 && !kr_motion_pin_is_out(axis) ? UINT16_MAX : docked);
    kr_image_set_um(i, KR_REG_CARRIAGE_POSITION, r, 0, kr_frame_place_um(frame, axis->position_um));
    kr_image_set_um(i, KR_REG_CARRIAGE_TARGET, r, 0, kr_frame_place_um(frame, kr_motion_target_um(motion)));
    kr_image_set_u16(i, KR_REG_MOVES_DONE, r, 0, s->planning.valid ? s->rails.moves_done[r] : 0);
    kr_image_set_u16(i, KR_REG_MOVES_PLANNED, r, 0, s->planning.valid ? s->planning.plan.rail[r].n_moves : 0);
    kr_image_set_u16(i, KR_REG_DRIVE_STATUSWORD, r, 0, axis->statusword);
    kr_image_set_u16(i, KR_REG_DRIVE_ERROR, r, 0, axis->error_code);
    kr_image_set_u16(i, KR_REG_RAIL_INPUTS, r, 0, axis->inputs);
    kr_image_set_u16(i, KR_REG_RAIL_OUTPUTS, r, 0, out.outputs);
    kr_image_set_u16(i, KR_REG_RAIL_LINK, r, 0, axis->link);
    kr_image_set_u16(i, KR_REG_RAIL_REFERENCED, r, 0, kr_motion_has_datum(motion, &s->config.carriage[r], axis));
    carriage_time(axis, s->clock.now_us, r, i);
}

static void set_wear(const struct wear_of_rail *wear, uint16_t r, struct kr_image *i)
{
    kr_image_set_u16(i, KR_REG_GRINDS_SOON, 0, r, wear->n_soon);
    kr_image_set_u16(i, KR_REG_GRINDS_DUE, 0, r, wear->n_due);
    kr_image_set_u16(i, KR_REG_GRIND_NEXT, 0, r, wear->next);
    kr_image_set_32(i, KR_REG_GRIND_LEFT, 0, r, (uint32_t)wear->left_metres);
    for (uint16_t w = 0; w < KR_HOLDERS_MAX / 16; w++) {
        kr_image_set_u16(i, KR_REG_GRINDS_SOON_MASK, 0, (uint16_t)(r * KR_HOLDERS_MAX / 16 + w), wear->soon[w]);
        kr_image_set_u16(i, KR_REG_GRINDS_DUE_MASK, 0, (uint16_t)(r * KR_HOLDERS_MAX / 16 + w), wear->due[w]);
    }
}

static void rail_holders(const struct kr_station *s, uint16_t r, struct kr_image *i)
{
    bool may_lower = s->line.status & KR_LINE_MAY_LOWER;
    uint16_t cutting[KR_HOLDERS_MAX / 16] = {0};
    struct wear_of_rail wear = {.next = 0};
    for (uint16_t h = 0; h < s->config.geometry.rail[r].n_holders; h++) {
        struct kr_holder_data data = edit_shown(s, r, h);
        wear_add(&s->config, &data, h, &wear);
        const struct kr_plan_holder *plan = &s->planning.plan.rail[r].holder[h];
        bool cuts_here = s->planning.valid && plan->cut != 0;
        kr_image_set_um(i, KR_REG_HOLDER_POSITION, r, h, data.position_um);
        kr_image_set_u16(i, KR_REG_HOLDER_KNOWN, r, h, data.known);
        kr_image_set_u16(i, KR_REG_HOLDER_STATE, r, h, data.state);
        kr_image_set_u16(i, KR_REG_HOLDER_SIZE, r, h, data.holder_size);
        kr_image_set_um(i, KR_REG_HOLDER_OFFSET, r, h, data.edge_offset_um);
        kr_image_set_32(i, KR_REG_HOLDER_KNIFE, r, h, data.knife);
        kr_image_set_32(i, KR_REG_HOLDER_METRES, r, h,
                        metres_sum(data.metres, metres_pending(&s->metres, &s->planning, r, h)));
        if (!s->planning.valid)
            continue;
        kr_image_set_um(i, KR_REG_HOLDER_TARGET, r, h, plan->target_um);
        kr_image_set_u16(i, KR_REG_HOLDER_CUT, r, h, plan->cut);
        if (cuts_here && data.known == KR_MEASURED)
            kr_image_set_um(i, KR_REG_HOLDER_DEVIATION, r, h, data.position_um - plan->target_um);
        if (cuts_here && may_lower)
            cutting[h / 16] |= (uint16_t)(1u << h % 16);
    }
    for (uint16_t w = 0; w < KR_HOLDERS_MAX / 16; w++)
        kr_image_set_u16(i, KR_REG_CUTTING, r, w, cutting[w]);
    set_wear(&wear, r, i);
}

static void rail_references(const struct kr_references *references, const struct kr_reference_knowledge *known,
                            uint16_t r, struct kr_image *i)
{
    kr_image_set_u16(i, KR_REG_REFERENCES, r, 0, references->n);
    kr_image_set_u16(i, KR_REG_REFERENCES_GOOD, r, 0, known->good);
    kr_image_set_um(i, KR_REG_DATUM_CORRECTION, r, 0, known->correction.datum_um);
    kr_image_set_um(i, KR_REG_SWITCH_CORRECTION, r, 0, known->correction.switch_um);
    kr_image_set_32(i, KR_REG_SCALE_CORRECTION, r, 0, (uint32_t)known->correction.scale_ppb);
    for (uint16_t k = 0; k < KR_REFERENCE_TREND; k++)
        kr_image_set_um(i, KR_REG_REFERENCE_TREND, r, k, known->trend_um[k]);
    for (uint16_t k = 0; k < references->n; k++)
        kr_image_set_um(i, KR_REG_REFERENCE_PLACE, r, k, references->flag[k].at_um);
}

static void rail_frame(const struct frame_kept *kept, uint16_t r, struct kr_image *i)
{
    kr_image_set_u16(i, KR_REG_FRAME_ORIGIN, r, 0, kept->origin);
    kr_image_set_u16(i, KR_REG_FRAME_POINTS, r, 0, kept->frame.n_points);
    kr_image_set_um(i, KR_REG_FRAME_OFFSET, r, 0, kept->frame.offset_um);
    kr_image_set_32(i, KR_REG_FRAME_SCALE, r, 0, (uint32_t)kept->frame.scale_ppb);
    kr_image_set_u16(i, KR_REG_FRAME_POINTS_BEFORE, r, 0, kept->before.n_points);
    kr_image_set_um(i, KR_REG_FRAME_OFFSET_BEFORE, r, 0, kept->before.offset_um);
    kr_image_set_32(i, KR_REG_FRAME_SCALE_BEFORE, r, 0, (uint32_t)kept->before.scale_ppb);
    for (uint16_t k = 0; k < kept->frame.n_points; k++) {
        kr_image_set_um(i, KR_REG_FRAME_TABLE, r, (uint16_t)(2 * k), kept->frame.point[k].at_um);
        kr_image_set_um(i, KR_REG_FRAME_TABLE, r, (uint16_t)(2 * k + 1), kept->frame.point[k].error_um);
    }
}

static void rail_switch(const struct switch_kept *kept, uint16_t r, struct kr_image *i)
{
    kr_image_set_u16(i, KR_REG_SWITCH_ORIGIN, r, 0, kept->origin);
    kr_image_set_um(i, KR_REG_SWITCH_OFFSET, r, 0, kept->is.offset_um);
    kr_image_set_um(i, KR_REG_SCAN_BIAS, r, 0, kept->is.bias_um);
    kr_image_set_um(i, KR_REG_SWITCH_OFFSET_BEFORE, r, 0, kept->before.offset_um);
    kr_image_set_um(i, KR_REG_SCAN_BIAS_BEFORE, r, 0, kept->before.bias_um);
}

static void rail_times(const struct times_kept *kept, uint16_t r, struct kr_image *i)
{
    const struct kr_rail_times *is = &kept->is, *before = &kept->before;
    kr_image_set_u16(i, KR_REG_TIMES_ORIGIN, 0, r, kept->origin);
    kr_image_set_32(i, KR_REG_DOCK_TIME, 0, r, (uint32_t)is->dock_us);
    kr_image_set_32(i, KR_REG_UNDOCK_TIME, 0, r, (uint32_t)is->undock_us);
    kr_image_set_32(i, KR_REG_SETPOINT_TIME, 0, r, (uint32_t)is->setpoint_us);
    kr_image_set_32(i, KR_REG_ROUNDING_TIME, 0, r, (uint32_t)is->rounding_us);
    kr_image_set_32(i, KR_REG_DOCK_TIME_BEFORE, 0, r, (uint32_t)before->dock_us);
    kr_image_set_32(i, KR_REG_UNDOCK_TIME_BEFORE, 0, r, (uint32_t)before->undock_us);
    kr_image_set_32(i, KR_REG_SETPOINT_TIME_BEFORE, 0, r, (uint32_t)before->setpoint_us);
    kr_image_set_32(i, KR_REG_ROUNDING_TIME_BEFORE, 0, r, (uint32_t)before->rounding_us);
}

static void rail_flags(const struct kr_flag_widths *w, uint16_t r, struct kr_image *i)
{
    kr_image_set_u16(i, KR_REG_FLAGS_SEEN, r, 0, w->n);
    kr_image_set_um(i, KR_REG_FLAG_MEAN, r, 0, w->n > 0 ? (int32_t)(w->sum_um / w->n) : 0);
    kr_image_set_um(i, KR_REG_FLAG_NARROWEST, r, 0, w->narrowest.width_um);
    kr_image_set_um(i, KR_REG_FLAG_NARROWEST_AT, r, 0, w->narrowest.at_um);
    kr_image_set_um(i, KR_REG_FLAG_WIDEST, r, 0, w->widest.width_um);
    kr_image_set_um(i, KR_REG_FLAG_WIDEST_AT, r, 0, w->widest.at_um);
}

static uint16_t count(uint32_t n)
{
    return (uint16_t)(n < UINT16_MAX ? n : UINT16_MAX);
}

static void rail_gauge(const struct kr_motion *motion, const struct kr_carriage_config *carriage, uint16_t r,
                       struct kr_image *i)
{
    struct kr_gauge_bias bias = kr_motion_gauge_bias(motion, carriage);
    struct kr_gauge_offset offset = kr_motion_gauge_offset(motion);
    kr_image_set_u16(i, KR_REG_BIAS_READINGS, r, 0, count(bias.n));
    kr_image_set_um(i, KR_REG_BIAS_FOUND, r, 0, bias.bias_um);
    kr_image_set_um(i, KR_REG_BIAS_UNCERTAINTY, r, 0, bias.uncertainty_um);
    kr_image_set_um(i, KR_REG_HYSTERESIS_FOUND, r, 0, bias.hysteresis_um);
    kr_image_set_32(i, KR_REG_DELAY_FOUND, r, 0, (uint32_t)bias.delay_us);
    kr_image_set_u16(i, KR_REG_SWITCH_READINGS, r, 0, count(offset.n));
    kr_image_set_u16(i, KR_REG_SWITCH_HOLDER, r, 0, offset.n ? kr_motion_gauge_holder(motion) : 0);
    kr_image_set_um(i, KR_REG_SWITCH_FOUND, r, 0, offset.offset_um);
    kr_image_set_um(i, KR_REG_SWITCH_UNCERTAINTY, r, 0, offset.uncertainty_um);
    kr_image_set_um(i, KR_REG_PLAY_FOUND, r, 0, offset.play_um);
}

static void rail_edges(struct edge_view v, uint16_t r, struct kr_image *i)
{
    uint16_t unproven[KR_HOLDERS_MAX / 16] = {0}, on_trial[KR_HOLDERS_MAX / 16] = {0};
    for (uint16_t h = 0; h < v.geometry->rail[r].n_holders; h++) {
        enum kr_edge edge = edge_shown(v.edges, v.durable, r, h);
        unsigned mask = 1u << h % 16;
        kr_image_set_u16(i, KR_REG_HOLDER_EDGE, r, h, (uint16_t)edge);
        unproven[h / 16] |= bit(!edge_is_proven(edge) && holder_present(&v.durable->holder[r][h]), mask);
        on_trial[h / 16] |= bit(edge_on_trial(v.edges, r, h), mask);
    }
    for (uint16_t w = 0; w < KR_HOLDERS_MAX / 16; w++) {
        kr_image_set_u16(i, KR_REG_EDGES_UNPROVEN, r, w, unproven[w]);
        kr_image_set_u16(i, KR_REG_EDGES_ON_TRIAL, r, w, on_trial[w]);
    }
}

void kr_station_image(const struct kr_station *s, struct kr_image *image)
{
    kr_image_clear(image, s->config.format);
    run_block(s, image);
    line_proof(&s->hands, &s->durable, image);
    alarm_registers(&s->alarms, image);
    alarm_times(&s->alarm_times, s->clock.wall_us, image);
    state_times(&s->state_times, image);
    refusal(kr_station_refusal(s), image);
    commanded(&s->command, image);
    verdict(&s->intake, image);
    about(s, image);
    record(&s->durable.record, image);
    edited(&s->editing, image);
    waiting(&s->starting, &s->intake, &s->durable, image);
    proposal(&s->test_cuts, image);
    if (s->durable.in_force && s->planning.cuts_valid && !s->starting.storing) {
        cuts(&kr_cuts_in_force, &s->planning.cuts, image);
        measured_slits(&s->placement, s->durable.order.n_slits, image);
    }
    staged(staged_shown(&s->starting, &s->intake, &s->durable), &s->config.geometry, image);
    int32_t expansion_ppb = s->durable.references[0].correction.expansion_ppb;
    kr_image_set_32(image, KR_REG_FRAME_EXPANSION, 0, 0, (uint32_t)expansion_ppb);
    kr_image_set_u16(image, KR_REG_FRAME_TEMPERATURE_COUNTS, 0, 0,
                     temperature_counts(&s->config.carriage[0], expansion_ppb));
    silences(&s->config, &s->permits, &s->clock, image);
    sizes(&s->config, image);
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++) {
        if (r >= s->config.geometry.n_rails) {
            kr_image_set_u16(image, KR_REG_RAIL_ROLE, r, 0, UINT16_MAX);
            continue;
        }
        rail_header(s, r, image);
        kr_image_set_um(image, KR_REG_RAIL_SHIFT, 0, r, edit_shift_shown(&s->editing, &s->durable, r));
        rail_wire(&s->in.axis[r].wire, r, image);
        rail_refusal(&s->in.axis[r].refusal, r, image);
        rail_holders(s, r, image);
        rail_edges(view_of_edges(s), r, image);
        rail_references(&s->config.carriage[r].references, &s->durable.references[r], r, image);
        struct frame_kept frame = edit_frame_shown(&s->editing, &s->durable, r);
        rail_frame(&frame, r, image);
        struct switch_kept of_switch = edit_switch_shown(&s->editing, &s->durable, r);
        rail_switch(&of_switch, r, image);
        struct times_kept times = edit_times_shown(&s->editing, &s->durable, r);
        rail_times(&times, r, image);
        rail_gauge(&s->rails.motion[r], &s->config.carriage[r], r, image);
        rail_flags(kr_motion_flag_widths(&s->rails.motion[r]), r, image);
    }
}
