/* The seal: one number over all that a station starts from. SQLite finds a damaged page by its structure, not by its
 * values: a flipped bit in an edge offset would cut every slit wrong and read like any other number. FNV-1a, 64 bits
 * (Fowler, Noll, Vo: draft-eastlake-fnv): each of its steps is one to one, so that a single byte that differs always
 * shows; against people who mean harm it is no help.
 *
 * What is added to struct kr_durable is added here. History is not sealed: nothing moves by it. */
#include "inner.h"

#define FNV_OFFSET 0xCBF29CE484222325u
#define FNV_PRIME  0x100000001B3u

static void add(uint64_t *seal, int64_t number)
{
    for (int i = 0; i < 8; i++)
        *seal = (*seal ^ ((uint64_t)number >> 8 * i & 0xFFu)) * FNV_PRIME;
}

static void add_text(uint64_t *seal, const char *text)
{
    for (; *text != 0; text++)
        add(seal, (unsigned char)*text);
    add(seal, 0);
}

static void add_holders(uint64_t *seal, const struct kept *kept)
{
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        add(seal, kept->durable.docking[r]);
        add(seal, kept->durable.clamp_open[r]);
        add(seal, kept->durable.datum_doubted[r]);
        for (int h = 0; h < KR_HOLDERS_MAX; h++) {
            const struct kr_holder_data *holder = &kept->durable.holder[r][h];
            if (!kept->holder_stored[r][h])
                continue;
            add(seal, KR_HOLDERS_MAX * r + h);
            add(seal, holder->position_um);
            add(seal, holder->edge_offset_um);
            add(seal, holder->dock_retries);
            add(seal, holder->metres);
            add(seal, holder->known);
            add(seal, holder->holder_class);
            add(seal, holder->state);
        }
    }
}

static void add_order(uint64_t *seal, uint8_t there, const struct kr_order *order)
{
    add(seal, there);
    if (!there)
        return;
    add(seal, order->order_number);
    add(seal, order->edge_flags);
    add(seal, order->alignment);
    add(seal, order->compensation_ppm);
    add(seal, order->tolerance_um);
    add(seal, order->web_width_nm);
    add(seal, order->trim_nm);
    add(seal, order->shift_nm);
    add(seal, order->sum_nm);
    add(seal, order->n_slits);
    for (int i = 0; i < order->n_slits; i++)
        add(seal, order->width_nm[i]);
}

static void add_result(uint64_t *seal, const struct kr_result *result)
{
    add(seal, result->code);
    add(seal, result->rail);
    add(seal, result->item);
    add(seal, result->value);
    add(seal, result->limit);
}

static void add_verdict(uint64_t *seal, const struct kr_verdict *verdict)
{
    add(seal, verdict->session);
    add(seal, verdict->number);
    add(seal, verdict->kind);
    add_result(seal, &verdict->result);
    add(seal, verdict->order_number);
    add(seal, verdict->replaced_order);
    add(seal, verdict->slit_count);
    add(seal, verdict->sum_nm);
    add(seal, verdict->time_ms);
}

static void add_edit(uint64_t *seal, const struct kr_edit *edit)
{
    add(seal, edit->session);
    add(seal, edit->number);
    add(seal, edit->kind);
    add(seal, edit->rail);
    add(seal, edit->holder);
    add(seal, edit->holder_class);
    add(seal, edit->edge_offset_um);
    add(seal, edit->position_um);
    add_result(seal, &edit->result);
    add_text(seal, edit->origin);
}

static void add_record(uint64_t *seal, const struct kr_record *record)
{
    add(seal, record->number);
    add(seal, record->outcome);
    add(seal, record->job);
    add(seal, record->order_number);
    add(seal, record->planned_ms);
    add(seal, record->actual_ms);
    add(seal, record->total_ms);
    add(seal, record->worst_pair_um);
    add(seal, record->worst_slit_um);
    add(seal, record->cause.code);
    add(seal, record->cause.rail);
    add(seal, record->cause.item);
    add(seal, record->cause.value);
    add(seal, record->cause.limit);
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        add(seal, record->rail[r].moves);
        add(seal, record->rail[r].corrections);
        add(seal, record->rail[r].retries);
        add(seal, record->rail[r].worst_holder);
        add(seal, record->rail[r].worst_um);
    }
}

int64_t book_seal(const struct kept *kept)
{
    uint64_t seal = FNV_OFFSET;
    add_text(&seal, kept->name);
    add(&seal, kept->durable.serial);
    add_holders(&seal, kept);
    add_order(&seal, kept->durable.staged, &kept->durable.staged_order);
    add_order(&seal, kept->durable.in_force, &kept->durable.order);
    for (int i = 0; i < KR_QUEUE_MAX; i++)
        add_order(&seal, i < kept->durable.n_queued, &kept->durable.queue[i]);
    for (int i = 0; i < KR_RECIPES_MAX; i++)
        add_order(&seal, kept->durable.recipe[i].n_slits > 0, &kept->durable.recipe[i]);
    add_verdict(&seal, &kept->durable.verdict);
    add_edit(&seal, &kept->durable.edit);
    add_record(&seal, &kept->durable.record);
    return (int64_t)seal;
}
