#include "maint_rig.h"

#include <string.h>

#include <check.h>

static uint16_t last_number; /* of the requests of this process: any that was not used before will do */

static void put_at(struct kr_snapshot *snapshot, enum kr_block_id block, enum kr_reg reg, uint16_t index,
                   int32_t value)
{
    uint16_t *word = &snapshot->word[kr_reg_address(reg, 0, index) - kr_block_info(block)->first];
    if (kr_reg_words(kr_reg_info(reg)->type) == 1) {
        word[0] = (uint16_t)value;
        return;
    }
    word[0] = (uint16_t)((uint32_t)value >> 16);
    word[1] = (uint16_t)((uint32_t)value & 0xFFFFu);
}

static void put_in(struct kr_snapshot *snapshot, enum kr_block_id block, enum kr_reg reg, int32_t value)
{
    put_at(snapshot, block, reg, 0, value);
}

static void put(struct kr_snapshot *snapshot, enum kr_reg reg, int32_t value)
{
    put_in(snapshot, KR_BLOCK_EDIT, reg, value);
}

static enum kr_code handed_over(struct rig *rig)
{
    rig->in.edit.present = true;
    rig_cycle(rig);
    for (int i = 0; i < 1000 && rig->out.edit_busy; i++)
        rig_cycle(rig);
    ck_assert(!rig->out.edit_busy);
    return (enum kr_code)rig_u16(rig, KR_REG_EDITED_CODE, 0, 0);
}

enum kr_code rig_edit_numbered(struct rig *rig, uint16_t session, enum kr_edit_kind kind, uint16_t number,
                               struct edit_values values)
{
    struct kr_snapshot *snapshot = &rig->in.edit;
    memset(snapshot, 0, sizeof *snapshot);
    put(snapshot, KR_REG_EDIT_SESSION, session);
    put(snapshot, KR_REG_EDIT_KIND, (int32_t)kind);
    put(snapshot, KR_REG_EDIT_NUMBER, number);
    put(snapshot, KR_REG_EDIT_RAIL, values.rail);
    put(snapshot, KR_REG_EDIT_HOLDER, values.holder);
    put(snapshot, KR_REG_EDIT_CLASS, values.holder_class);
    put(snapshot, KR_REG_EDIT_OFFSET, values.edge_offset_um);
    put(snapshot, KR_REG_EDIT_POSITION, values.position_um);
    return handed_over(rig);
}

enum kr_code rig_test_cut(struct rig *rig, enum kr_edit_kind kind, const int32_t width_um[], uint16_t n)
{
    struct kr_snapshot *snapshot = &rig->in.edit;
    memset(snapshot, 0, sizeof *snapshot);
    put(snapshot, KR_REG_EDIT_SESSION, rig->session);
    put(snapshot, KR_REG_EDIT_KIND, (int32_t)kind);
    put(snapshot, KR_REG_EDIT_NUMBER, ++last_number);
    put(snapshot, KR_REG_EDIT_WIDTH_COUNT, n);
    for (uint16_t i = 0; i < n; i++)
        put_at(snapshot, KR_BLOCK_EDIT, KR_REG_EDIT_WIDTH, i, width_um[i]);
    return handed_over(rig);
}

enum kr_code rig_edit(struct rig *rig, enum kr_edit_kind kind, struct edit_values values)
{
    return rig_edit_numbered(rig, rig->session, kind, ++last_number, values);
}

enum kr_code rig_start_job(struct rig *rig, struct start_values values)
{
    struct kr_snapshot *snapshot = &rig->in.command;
    memset(snapshot, 0, sizeof *snapshot);
    put_in(snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_SESSION, rig->session);
    put_in(snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND, KR_COMMAND_START);
    put_in(snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_JOB, (int32_t)values.job);
    put_in(snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_RAIL, values.rail);
    put_in(snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_HOLDER, values.holder);
    put_in(snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_SPEED, values.speed);
    put_in(snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_POSITION, values.position_um);
    put_in(snapshot, KR_BLOCK_COMMAND, KR_REG_COMMAND_NUMBER, ++rig->command_number);
    snapshot->present = true;
    rig_cycle(rig);
    return (enum kr_code)rig_u16(rig, KR_REG_COMMAND_RESULT, 0, 0);
}

static void complete_and_verified(struct rig *rig)
{
    if (!rig_run_until_state(rig, KR_STATE_COMPLETE, 900000))
        ck_abort_msg("unit state %d, alarm %d of value %d, not Complete", (int)kr_station_state(rig->station),
                     (int)rig_alarm(rig), rig_i32(rig, KR_REG_ALARM_VALUE, 0, 0));
    ck_assert_uint_eq(rig_u16(rig, KR_REG_RECORD_RESULT, 0, 0), KR_OUTCOME_VERIFIED);
}

void rig_set_up(struct rig *rig, uint32_t number, uint16_t n_slits, int32_t width_um)
{
    int32_t widths_um[KR_SLITS_MAX];
    for (uint16_t i = 0; i < n_slits; i++)
        widths_um[i] = width_um;
    rig_order(rig, number, n_slits * width_um + 60000, widths_um, n_slits);
    rig_request(rig, KR_REQUEST_STAGE);
    ck_assert_uint_eq(rig_u16(rig, KR_REG_VERDICT_CODE, 0, 0), KR_OK);
    rig_set_up_again(rig);
}

void rig_set_up_again(struct rig *rig)
{
    rig_to_idle(rig);
    rig_command(rig, KR_COMMAND_START, KR_JOB_CHANGEOVER);
    ck_assert_uint_eq(rig_u16(rig, KR_REG_COMMAND_RESULT, 0, 0), KR_OK);
    complete_and_verified(rig);
}

uint16_t rig_moves(const struct rig *rig)
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

static void hands(struct rig *rig, uint16_t rail, uint16_t holder, bool present, int32_t at_um)
{
    struct sim_axis *axis = &rig->machine.axis[rail - 1];
    uint16_t permissives = rig->in.permissives;
    rig->in.permissives = (uint16_t)(permissives & ~KR_PERMIT_GUARDS_CLOSED);
    rig_run_ms(rig, 200);
    struct sim_holder *hand = &axis->rail.holder[holder - 1];
    hand->present = present;
    hand->at_um = at_um;
    int16_t left = SIM_NOBODY;
    for (int16_t i = 0; i < axis->rail.n_holders; i++) {
        struct sim_holder *h = &axis->rail.holder[i];
        h->left = h->right = SIM_NOBODY;
        if (!h->present)
            continue;
        h->left = left;
        if (left != SIM_NOBODY)
            axis->rail.holder[left].right = i;
        left = i;
    }
    sim_switch_init(&axis->sw, &axis->rail, &rig->machine.config.rail[rail - 1]);
    rig_run_ms(rig, 200);
    rig->in.permissives = permissives;
    rig_run_ms(rig, 200);
}

void rig_take_off(struct rig *rig, uint16_t rail, uint16_t holder)
{
    hands(rig, rail, holder, false, 0);
}

void rig_put_on(struct rig *rig, uint16_t rail, uint16_t holder, int32_t at_um)
{
    hands(rig, rail, holder, true, at_um);
}
