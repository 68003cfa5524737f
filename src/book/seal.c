/* The seal: one number over all that a station starts from. SQLite finds a damaged page by its structure, not by its
 * values: a flipped bit in an edge offset would cut every slit wrong and read like any other number.
 *
 * What is added to struct kr_durable is added here. Rows of the history have seals of their own (rows.c). */
#include "seal.h"

#include "inner.h"

#define FNV_PRIME 0x100000001B3u

void seal_add(uint64_t *seal, int64_t number)
{
    for (int i = 0; i < 8; i++)
        *seal = (*seal ^ ((uint64_t)number >> 8 * i & 0xFFu)) * FNV_PRIME;
}

void seal_add_text(uint64_t *seal, const char *text)
{
    for (; *text != 0; text++)
        seal_add(seal, (unsigned char)*text);
    seal_add(seal, 0);
}

static void add_holders(uint64_t *seal, const struct kept *kept)
{
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        seal_add(seal, kept->durable.docking[r]);
        seal_add(seal, kept->durable.clamp_open[r]);
        seal_add(seal, kept->durable.datum_doubted[r]);
        for (int h = 0; h < KR_HOLDERS_MAX; h++) {
            const struct kr_holder_data *holder = &kept->durable.holder[r][h];
            if (!kept->holder_stored[r][h])
                continue;
            seal_add(seal, KR_HOLDERS_MAX * r + h);
            seal_add(seal, holder->position_um);
            seal_add(seal, holder->edge_offset_um);
            seal_add(seal, holder->dock_retries);
            seal_add(seal, holder->metres);
            seal_add(seal, holder->known);
            seal_add(seal, holder->holder_class);
            seal_add(seal, holder->state);
        }
    }
}

static void add_order(uint64_t *seal, uint8_t there, const struct kr_order *order)
{
    seal_add(seal, there);
    if (!there)
        return;
    seal_add(seal, order->order_number);
    seal_add(seal, order->edge_flags);
    seal_add(seal, order->alignment);
    seal_add(seal, order->compensation_ppm);
    seal_add(seal, order->tolerance_um);
    seal_add(seal, order->web_width_nm);
    seal_add(seal, order->trim_nm);
    seal_add(seal, order->shift_nm);
    seal_add(seal, order->sum_nm);
    seal_add(seal, order->n_slits);
    for (int i = 0; i < order->n_slits; i++)
        seal_add(seal, order->width_nm[i]);
}

static void add_result(uint64_t *seal, const struct kr_result *result)
{
    seal_add(seal, result->code);
    seal_add(seal, result->rail);
    seal_add(seal, result->item);
    seal_add(seal, result->value);
    seal_add(seal, result->limit);
}

static void add_verdict(uint64_t *seal, const struct kr_verdict *verdict)
{
    seal_add(seal, verdict->session);
    seal_add(seal, verdict->number);
    seal_add(seal, verdict->kind);
    add_result(seal, &verdict->result);
    seal_add(seal, verdict->order_number);
    seal_add(seal, verdict->replaced_order);
    seal_add(seal, verdict->slit_count);
    seal_add(seal, verdict->sum_nm);
    seal_add(seal, verdict->time_ms);
}

static void add_edit(uint64_t *seal, const struct kr_edit *edit)
{
    seal_add(seal, edit->session);
    seal_add(seal, edit->number);
    seal_add(seal, edit->kind);
    seal_add(seal, edit->rail);
    seal_add(seal, edit->holder);
    seal_add(seal, edit->holder_class);
    seal_add(seal, edit->edge_offset_um);
    seal_add(seal, edit->position_um);
    add_result(seal, &edit->result);
    seal_add_text(seal, edit->origin);
}

static void add_record(uint64_t *seal, const struct kr_record *record)
{
    seal_add(seal, record->number);
    seal_add(seal, record->outcome);
    seal_add(seal, record->job);
    seal_add(seal, record->order_number);
    seal_add(seal, record->planned_ms);
    seal_add(seal, record->actual_ms);
    seal_add(seal, record->total_ms);
    seal_add(seal, record->worst_pair_um);
    seal_add(seal, record->worst_slit_um);
    seal_add(seal, record->cause.code);
    seal_add(seal, record->cause.rail);
    seal_add(seal, record->cause.item);
    seal_add(seal, record->cause.value);
    seal_add(seal, record->cause.limit);
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        seal_add(seal, record->rail[r].moves);
        seal_add(seal, record->rail[r].corrections);
        seal_add(seal, record->rail[r].retries);
        seal_add(seal, record->rail[r].worst_holder);
        seal_add(seal, record->rail[r].worst_um);
    }
}

int64_t book_seal(const struct kept *kept)
{
    uint64_t seal = SEAL_BEGIN;
    seal_add_text(&seal, kept->name);
    seal_add(&seal, kept->durable.serial);
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
