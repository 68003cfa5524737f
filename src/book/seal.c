/* The seal: one number over everything that a station starts from. SQLite detects a damaged page by its structure, not
 * by its values: a flipped bit in an edge offset would cut every slit wrong, and would look like any other number.
 *
 * The sealed fields are those of fields.h. Rows of the history have their own seals (rows.c). */
#include "seal.h"

#include "fields.h"
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

void seal_add_if_set(uint64_t *seal, const char *name, int64_t number)
{
    if (number == 0)
        return;
    seal_add_text(seal, name);
    seal_add(seal, number);
}

/* Adds the field of a row of fields.h to the seal. */
#define SEAL(field, column, type, sealed) SEAL_##sealed(column, is->field);
#define SEAL_ALWAYS(column, number)       seal_add(seal, number)
#define SEAL_IF_SET(column, number)       seal_add_if_set(seal, column, number)

static void add_holder(uint64_t *seal, const struct kr_holder_data *is)
{
    HOLDER_FIELDS(SEAL)
}

static void add_station(uint64_t *seal, const struct kr_durable *is)
{
    STATION_FIELDS(SEAL)
}

/* A frame without points adds nothing, so that its seal is the same as before there were points. */
static void add_points(uint64_t *seal, const struct kr_frame *frame)
{
    seal_add_if_set(seal, "frame_point", frame->n_points);
    for (int i = 0; i < frame->n_points; i++) {
        seal_add(seal, frame->point[i].at_um);
        seal_add(seal, frame->point[i].error_um);
    }
}

static void add_rails(uint64_t *seal, const struct kept *kept)
{
    const struct kr_durable *is = &kept->durable;
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        RAIL_FIELDS(SEAL)
        add_points(seal, &is->frame[r]);
        add_points(seal, &is->frame_before[r]);
        for (int h = 0; h < KR_HOLDERS_MAX; h++) {
            if (!kept->holder_stored[r][h])
                continue;
            seal_add(seal, KR_HOLDERS_MAX * r + h);
            add_holder(seal, &is->holder[r][h]);
        }
    }
}

static void add_order(uint64_t *seal, uint8_t there, const struct kr_order *is)
{
    seal_add(seal, there);
    if (!there)
        return;
    ORDER_FIELDS(SEAL)
    seal_add(seal, is->n_slits);
    for (int i = 0; i < is->n_slits; i++)
        seal_add(seal, is->width_nm[i]);
}

static void add_verdict(uint64_t *seal, const struct kr_verdict *is)
{
    VERDICT_FIELDS(SEAL)
}

static void add_edit(uint64_t *seal, const struct kr_edit *is)
{
    EDIT_FIELDS(SEAL)
    seal_add_text(seal, is->origin);
}

static void add_record_rail(uint64_t *seal, const struct kr_record_rail *is)
{
    RECORD_RAIL_FIELDS(SEAL)
}

static void add_record(uint64_t *seal, const struct kr_record *is)
{
    RECORD_FIELDS(SEAL)
    for (int r = 0; r < KR_RAILS_MAX; r++)
        add_record_rail(seal, &is->rail[r]);
}

int64_t book_seal(const struct kept *kept)
{
    uint64_t seal = SEAL_BEGIN;
    seal_add_text(&seal, kept->name);
    seal_add(&seal, kept->durable.serial);
    add_station(&seal, &kept->durable);
    add_rails(&seal, kept);
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
