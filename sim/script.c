#include "sim/script.h"

static bool due(struct sim_script_row *row, const struct sim_machine *m)
{
    if (row->state == SIM_ROW_WAITS) {
        if (row->by_phase && sim_machine_entered(m, row->rail_index, row->phase) < row->nth)
            return false;
        row->state = SIM_ROW_DUE;
        row->since_us = row->by_phase ? m->now_us : 0;
    }
    return m->now_us - row->since_us >= row->after_us;
}

static void strike(struct sim_script_row *row, struct sim_machine *m)
{
    enum sim_item kind = sim_fault_info(row->fault)->item;
    int item = row->holder_index == SIM_DOCKED_HOLDER ? sim_machine_docked(m, row->rail_index) : row->holder_index;
    if (kind == SIM_ITEM_REFERENCE)
        item = row->reference_index;
    bool wants_item = *sim_item_word(kind) != '\0';
    row->item_index = wants_item && item >= 0 ? (uint16_t)item : 0;
    row->since_us = m->now_us;
    bool struck =
        !(wants_item && item < 0) && sim_machine_break(m, row->rail_index, row->fault, row->item_index, row->value);
    row->state = struck ? SIM_ROW_STANDS : SIM_ROW_REFUSED;
}

static void step_row(struct sim_script_row *row, struct sim_machine *m)
{
    switch (row->state) {
    case SIM_ROW_WAITS:
    case SIM_ROW_DUE:
        if (due(row, m))
            strike(row, m);
        break;
    case SIM_ROW_STANDS:
        if (row->for_us == SIM_FOR_EVER || m->now_us - row->since_us < row->for_us)
            break;
        (void)sim_machine_mend(m, row->rail_index, row->fault,
                               row->item_index); /* a fault that has begun can always be ended */
        row->state = SIM_ROW_OVER;
        break;
    case SIM_ROW_OVER:
    case SIM_ROW_REFUSED: break;
    }
}

uint16_t sim_script_step(struct sim_script *script, struct sim_machine *machine)
{
    uint16_t changed = 0;
    for (uint16_t i = 0; i < script->n; i++) {
        enum sim_row_state before = script->row[i].state;
        step_row(&script->row[i], machine);
        if (script->row[i].state != before)
            changed++;
    }
    return changed;
}
