#include "rig.h"

#include <string.h>

#include <check.h>

/* Wait for a verdict: longer than any plan and commit, unless a test never lets them end */
#define WAIT_CYCLES 1000

/* ---- writing --------------------------------------------------------------------------------------------------- */

static void put(const struct rig *rig, struct kr_snapshot *snapshot, enum kr_block_id block, enum kr_reg reg,
                uint16_t index, int32_t value)
{
    const struct kr_reg_info *info = kr_reg_info(reg);
    uint16_t *word = &snapshot->word[kr_reg_address(reg, 0, index) - kr_block_info(block)->first];
    if (kr_reg_words(info->type) == 1) {
        word[0] = (uint16_t)value;
        return;
    }
    bool low_first = rig->config.format.low_word_first;
    word[low_first] = (uint16_t)((uint32_t)value >> 16);
    word[!low_first] = (uint16_t)((uint32_t)value & 0xFFFFu);
}

int32_t rig_count(const struct rig *rig, int32_t um)
{
    return kr_count_from_um(um, rig->config.format.length_unit);
}

void rig_order_set(struct rig *rig, enum kr_reg reg, uint16_t index, int32_t value)
{
    put(rig, &rig->order, KR_BLOCK_ORDER, reg, index, value);
}

void rig_order(struct rig *rig, uint32_t number, int32_t web_um, const int32_t width_um[], uint16_t n)
{
    memset(&rig->order, 0, sizeof rig->order);
    int32_t sum = 0;
    for (uint16_t i = 0; i < n; i++) {
        rig_order_set(rig, KR_REG_WIDTH, i, rig_count(rig, width_um[i]));
        sum += rig_count(rig, width_um[i]);
    }
    rig_order_set(rig, KR_REG_ORDER_NUMBER, 0, (int32_t)number);
    rig_order_set(rig, KR_REG_SLIT_COUNT, 0, n);
    rig_order_set(rig, KR_REG_WEB_WIDTH, 0, rig_count(rig, web_um));
    rig_order_set(rig, KR_REG_WIDTH_SUM, 0, sum);
}

void rig_hand_over(struct rig *rig, uint16_t session, enum kr_request_kind kind, uint16_t number)
{
    rig_order_set(rig, KR_REG_REQUEST_SESSION, 0, session);
    rig_order_set(rig, KR_REG_REQUEST_KIND, 0, (int32_t)kind);
    rig_order_set(rig, KR_REG_REQUEST_NUMBER, 0, number);
    rig->in.request = rig->order;
    rig->in.request.present = true;
    rig_cycle(rig);
}

enum kr_code rig_request_numbered(struct rig *rig, uint16_t session, enum kr_request_kind kind, uint16_t number)
{
    rig_hand_over(rig, session, kind, number);
    for (int i = 0; i < WAIT_CYCLES && rig->out.request_busy; i++)
        rig_cycle(rig);
    return rig_verdict(rig);
}

enum kr_code rig_request(struct rig *rig, enum kr_request_kind kind)
{
    return rig_request_numbered(rig, rig->session, kind, ++rig->request_number);
}

static struct kr_snapshot *new_command(struct rig *rig, uint16_t session, enum kr_command command, uint16_t number)
{
    struct kr_snapshot *snapshot = &rig->in.command;
    memset(snapshot, 0, sizeof *snapshot);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_SESSION, 0, session);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND, 0, (int32_t)command);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_NUMBER, 0, number);
    snapshot->present = true;
    return snapshot;
}

enum kr_code rig_command_numbered(struct rig *rig, uint16_t session, enum kr_command command, enum kr_job job,
                                  uint16_t number)
{
    struct kr_snapshot *snapshot = new_command(rig, session, command, number);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_JOB, 0, (int32_t)job);
    rig_cycle(rig);
    return rig_answer(rig);
}

enum kr_code rig_command(struct rig *rig, enum kr_command command, enum kr_job job)
{
    return rig_command_numbered(rig, rig->session, command, job, ++rig->command_number);
}

enum kr_code rig_command_overtaken(struct rig *rig, enum kr_command command, enum kr_job job)
{
    struct kr_snapshot *snapshot = new_command(rig, rig->session, command, ++rig->command_number);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_JOB, 0, (int32_t)job);
    snapshot->overtaken = true;
    rig_cycle(rig);
    return rig_answer(rig);
}

enum kr_code rig_halt(struct rig *rig, enum kr_command command)
{
    rig->in.halt = (uint16_t)command;
    rig_cycle(rig);
    return rig->out.halt.code;
}

enum kr_code rig_command_start(struct rig *rig, struct start_values values)
{
    struct kr_snapshot *snapshot = new_command(rig, rig->session, KR_COMMAND_START, ++rig->command_number);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_JOB, 0, (int32_t)values.job);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_RAIL, 0, values.rail);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_HOLDER, 0, values.holder);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_SPEED, 0, values.speed);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_POSITION, 0, rig_count(rig, values.position_um));
    rig_cycle(rig);
    return rig_answer(rig);
}

enum kr_code rig_command_start_order(struct rig *rig, enum kr_job job, uint32_t order_number)
{
    struct kr_snapshot *snapshot = new_command(rig, rig->session, KR_COMMAND_START, ++rig->command_number);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_JOB, 0, (int32_t)job);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_ORDER, 0, (int32_t)order_number);
    rig_cycle(rig);
    return rig_answer(rig);
}

enum kr_code rig_command_try(struct rig *rig, uint16_t rail, uint16_t output)
{
    struct kr_snapshot *snapshot = new_command(rig, rig->session, KR_COMMAND_START, ++rig->command_number);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_JOB, 0, KR_JOB_TRY);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_RAIL, 0, rail);
    put(rig, snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_OUTPUT, 0, output);
    rig_cycle(rig);
    return rig_answer(rig);
}

static void put_edit(struct rig *rig, enum kr_reg reg, uint16_t index, int32_t value)
{
    put(rig, &rig->in.edit, KR_BLOCK_EDIT, reg, index, value);
}

static void new_edit(struct rig *rig, uint16_t session, enum kr_edit_kind kind, uint16_t number)
{
    memset(&rig->in.edit, 0, sizeof rig->in.edit);
    put_edit(rig, KR_REG_EDIT_SESSION, 0, session);
    put_edit(rig, KR_REG_EDIT_KIND, 0, (int32_t)kind);
    put_edit(rig, KR_REG_EDIT_NUMBER, 0, number);
}

static enum kr_code edited(struct rig *rig)
{
    rig->in.edit.present = true;
    rig_cycle(rig);
    for (int i = 0; i < WAIT_CYCLES && rig->out.edit_busy; i++)
        rig_cycle(rig);
    if (rig->out.edit_busy)
        ck_abort_msg("a maintenance request is busy for ever");
    return (enum kr_code)rig_u16(rig, KR_REG_EDITED_CODE, 0, 0);
}

static void put_values(struct rig *rig, uint16_t session, enum kr_edit_kind kind, uint16_t number,
                       struct edit_values values)
{
    new_edit(rig, session, kind, number);
    put_edit(rig, KR_REG_EDIT_RAIL, 0, values.rail);
    put_edit(rig, KR_REG_EDIT_HOLDER, 0, values.holder);
    put_edit(rig, KR_REG_EDIT_SIZE, 0, values.holder_size);
    put_edit(rig, KR_REG_EDIT_OFFSET, 0, rig_count(rig, values.edge_offset_um));
    put_edit(rig, KR_REG_EDIT_POSITION, 0, rig_count(rig, values.position_um));
}

void rig_edit_hand_over(struct rig *rig, enum kr_edit_kind kind, uint16_t number, struct edit_values values)
{
    put_values(rig, rig->session, kind, number, values);
    rig->in.edit.present = true;
    rig_cycle(rig);
}

enum kr_code rig_edit_numbered(struct rig *rig, uint16_t session, enum kr_edit_kind kind, uint16_t number,
                               struct edit_values values)
{
    put_values(rig, session, kind, number, values);
    return edited(rig);
}

enum kr_code rig_edit(struct rig *rig, enum kr_edit_kind kind, struct edit_values values)
{
    return rig_edit_numbered(rig, rig->session, kind, ++rig->edit_number, values);
}

static void put_text(struct rig *rig, enum kr_reg reg, const char *text)
{
    for (uint16_t i = 0; text != NULL && text[i] != '\0'; i++)
        rig->in.edit.word[kr_reg_address(reg, 0, i / 2) - kr_block_info(KR_BLOCK_EDIT)->first] |=
            (uint16_t)(i % 2 ? (unsigned char)text[i] : (unsigned char)text[i] << 8);
}

enum kr_code rig_knife(struct rig *rig, enum kr_edit_kind kind, struct knife_values values)
{
    new_edit(rig, rig->session, kind, ++rig->edit_number);
    put_edit(rig, KR_REG_EDIT_RAIL, 0, values.rail);
    put_edit(rig, KR_REG_EDIT_HOLDER, 0, values.holder);
    put_edit(rig, KR_REG_EDIT_OFFSET, 0, rig_count(rig, values.edge_offset_um));
    put_text(rig, KR_REG_EDIT_KNIFE, values.name);
    put_text(rig, KR_REG_EDIT_KNIFE_KIND, values.kind_name);
    put_edit(rig, KR_REG_EDIT_KNIFE_DIAMETER, 0, rig_count(rig, values.diameter_um));
    put_edit(rig, KR_REG_EDIT_KNIFE_THICKNESS, 0, rig_count(rig, values.thickness_um));
    put_edit(rig, KR_REG_EDIT_KNIFE_METRES, 0, (int32_t)values.metres);
    put_edit(rig, KR_REG_EDIT_KNIFE_GIVEN, 0, values.given);
    put_edit(rig, KR_REG_EDIT_KNIFE_TO, 0, values.to);
    put_edit(rig, KR_REG_EDIT_KNIFE_CAUSE, 0, values.cause);
    put_edit(rig, KR_REG_EDIT_KNIFE_FRAGMENTS, 0, values.fragments);
    return edited(rig);
}

enum kr_code rig_frame(struct rig *rig, uint16_t rail, const struct kr_frame *frame)
{
    new_edit(rig, rig->session, KR_EDIT_FRAME, ++rig->edit_number);
    put_edit(rig, KR_REG_EDIT_RAIL, 0, rail);
    put_edit(rig, KR_REG_EDIT_FRAME_OFFSET, 0, rig_count(rig, frame->offset_um));
    put_edit(rig, KR_REG_EDIT_FRAME_SCALE, 0, frame->scale_ppb);
    put_edit(rig, KR_REG_EDIT_FRAME_POINTS, 0, frame->n_points);
    for (uint16_t i = 0; i < frame->n_points && i < KR_FRAME_POINTS_MAX; i++) {
        put_edit(rig, KR_REG_EDIT_WIDTH, (uint16_t)(2 * i), rig_count(rig, frame->point[i].at_um));
        put_edit(rig, KR_REG_EDIT_WIDTH, (uint16_t)(2 * i + 1), rig_count(rig, frame->point[i].error_um));
    }
    return edited(rig);
}

enum kr_code rig_times(struct rig *rig, uint16_t rail, struct kr_rail_times is)
{
    new_edit(rig, rig->session, KR_EDIT_TIMES, ++rig->edit_number);
    put_edit(rig, KR_REG_EDIT_RAIL, 0, rail);
    put_edit(rig, KR_REG_EDIT_DOCK_TIME, 0, is.dock_us);
    put_edit(rig, KR_REG_EDIT_UNDOCK_TIME, 0, is.undock_us);
    put_edit(rig, KR_REG_EDIT_SETPOINT_TIME, 0, is.setpoint_us);
    put_edit(rig, KR_REG_EDIT_ROUNDING_TIME, 0, is.rounding_us);
    return edited(rig);
}

enum kr_code rig_switch(struct rig *rig, uint16_t rail, struct kr_switch is)
{
    new_edit(rig, rig->session, KR_EDIT_SWITCH, ++rig->edit_number);
    put_edit(rig, KR_REG_EDIT_RAIL, 0, rail);
    put_edit(rig, KR_REG_EDIT_SWITCH_OFFSET, 0, rig_count(rig, is.offset_um));
    put_edit(rig, KR_REG_EDIT_SCAN_BIAS, 0, rig_count(rig, is.bias_um));
    return edited(rig);
}

enum kr_code rig_test_cut_stating(struct rig *rig, enum kr_edit_kind kind, const int32_t width_um[], uint16_t n,
                                  uint16_t pairs_looked_at)
{
    new_edit(rig, rig->session, kind, ++rig->edit_number);
    put_edit(rig, KR_REG_EDIT_WIDTH_COUNT, 0, n);
    put_edit(rig, KR_REG_EDIT_PAIRS_LOOKED_AT, 0, pairs_looked_at);
    for (uint16_t i = 0; i < n; i++)
        put_edit(rig, KR_REG_EDIT_WIDTH, i, rig_count(rig, width_um[i]));
    return edited(rig);
}

enum kr_code rig_test_cut(struct rig *rig, enum kr_edit_kind kind, const int32_t width_um[], uint16_t n)
{
    return rig_test_cut_stating(rig, kind, width_um, n, 0);
}

void rig_confirm_edges(struct rig *rig)
{
    for (uint16_t rail = 1; rail <= rig->config.geometry.n_rails; rail++)
        if (rig_edit(rig, KR_EDIT_BENCH, (struct edit_values){.rail = rail}) != KR_OK)
            ck_abort_msg("the edges of rail %u are not confirmed", rail);
    rig->edges_confirmed = true;
}

/* ---- reading --------------------------------------------------------------------------------------------------- */

static const uint16_t *words(const struct rig *rig, enum kr_reg reg, uint16_t rail, uint16_t index)
{
    return &rig_image(rig)->word[kr_reg_address(reg, rail, index)];
}

uint16_t rig_u16(const struct rig *rig, enum kr_reg reg, uint16_t rail, uint16_t index)
{
    return words(rig, reg, rail, index)[0];
}

int32_t rig_i32(const struct rig *rig, enum kr_reg reg, uint16_t rail, uint16_t index)
{
    const uint16_t *word = words(rig, reg, rail, index);
    bool low_first = rig->config.format.low_word_first;
    return (int32_t)((uint32_t)word[low_first] << 16 | word[!low_first]);
}

int32_t rig_um(const struct rig *rig, enum kr_reg reg, uint16_t rail, uint16_t index)
{
    return kr_um_from_nm(kr_nm_from_count(rig_i32(rig, reg, rail, index), rig->config.format.length_unit));
}

enum kr_unit_state rig_state(const struct rig *rig)
{
    return kr_station_state(rig->station);
}

enum kr_phase rig_phase(const struct rig *rig)
{
    return (enum kr_phase)rig_u16(rig, KR_REG_PHASE, 0, 0);
}

enum kr_carriage_phase rig_carriage_phase(const struct rig *rig, uint16_t rail)
{
    return (enum kr_carriage_phase)rig_u16(rig, KR_REG_CARRIAGE_PHASE, rail, 0);
}

uint16_t rig_status(const struct rig *rig)
{
    return rig_u16(rig, KR_REG_STATUS, 0, 0);
}

bool rig_status_has(const struct rig *rig, uint16_t bits)
{
    return (rig_status(rig) & bits) == bits;
}

uint16_t rig_line_status(const struct rig *rig)
{
    return rig_u16(rig, KR_REG_LINE_STATUS, 0, 0);
}

uint16_t rig_docked(const struct rig *rig, uint16_t rail)
{
    return rig_u16(rig, KR_REG_DOCKED_HOLDER, rail, 0);
}

enum kr_known rig_known(const struct rig *rig, uint16_t rail, uint16_t holder)
{
    return (enum kr_known)rig_u16(rig, KR_REG_HOLDER_KNOWN, rail, holder);
}

enum kr_code rig_verdict(const struct rig *rig)
{
    return (enum kr_code)rig_u16(rig, KR_REG_VERDICT_CODE, 0, 0);
}

enum kr_code rig_answer(const struct rig *rig)
{
    return (enum kr_code)rig_u16(rig, KR_REG_COMMAND_RESULT, 0, 0);
}

uint16_t rig_answer_rail(const struct rig *rig)
{
    return rig_u16(rig, KR_REG_COMMAND_RESULT_RAIL, 0, 0);
}

int32_t rig_answer_value(const struct rig *rig)
{
    return rig_i32(rig, KR_REG_COMMAND_RESULT_VALUE, 0, 0);
}

int32_t rig_answer_limit(const struct rig *rig)
{
    return rig_i32(rig, KR_REG_COMMAND_RESULT_LIMIT, 0, 0);
}

enum kr_alarm_code rig_alarm(const struct rig *rig)
{
    return (enum kr_alarm_code)rig_u16(rig, KR_REG_ALARM_CODE, 0, 0);
}

struct kr_alarm rig_first_alarm(const struct rig *rig)
{
    const struct kr_alarm *alarm;
    ck_assert_uint_gt(kr_station_alarms(rig->station, &alarm), 0);
    ck_assert_int_eq(rig_alarm(rig), alarm->code);
    ck_assert_uint_eq(rig_u16(rig, KR_REG_ALARM_RAIL, 0, 0), alarm->rail);
    ck_assert_uint_eq(rig_u16(rig, KR_REG_ALARM_ITEM, 0, 0), alarm->item);
    if (rig->config.format.length_unit == KR_LENGTH_MM) { /* a count is a micrometre */
        ck_assert_int_eq(rig_i32(rig, KR_REG_ALARM_VALUE, 0, 0), alarm->value);
        ck_assert_int_eq(rig_i32(rig, KR_REG_ALARM_LIMITS, 0, 0), alarm->limit);
    }
    return *alarm;
}

uint16_t rig_alarm_count(const struct rig *rig)
{
    return rig_u16(rig, KR_REG_ALARM_COUNT, 0, 0);
}

bool rig_has_alarm(const struct rig *rig, enum kr_alarm_code code)
{
    for (uint16_t i = 0; i < KR_ALARMS_MAX; i++)
        if (rig_u16(rig, KR_REG_ALARM_CODES, 0, i) == (uint16_t)code)
            return true;
    return false;
}

uint16_t rig_record_moves(const struct rig *rig)
{
    uint16_t moves = 0;
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        moves = (uint16_t)(moves + rig_u16(rig, KR_REG_RECORD_MOVES, 0, r));
    return moves;
}

const struct kr_holder_data *rig_holder(const struct rig *rig, uint16_t rail, uint16_t holder)
{
    return &kr_station_durable(rig->station)->holder[rail - 1][holder - 1];
}

uint16_t rig_cut_of(const struct rig *rig, uint16_t rail, uint16_t holder)
{
    return rig_u16(rig, KR_REG_HOLDER_CUT, (uint16_t)(rail - 1), (uint16_t)(holder - 1));
}

uint16_t rig_holder_of_cut(const struct rig *rig, uint16_t rail, uint16_t cut)
{
    for (uint16_t h = 1; h <= rig->config.geometry.rail[rail - 1].n_holders; h++)
        if (rig_cut_of(rig, rail, h) == cut)
            return h;
    return 0;
}
