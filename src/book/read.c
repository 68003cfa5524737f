#include <stdio.h>
#include <string.h>

#include "inner.h"

/* A row that is being read. The file may have been edited by hand: every number is held against its range, and
 * the first that is out of it is named. */
struct row {
    struct kr_book *book;
    struct bound bound;
    const char *table;
    bool ok;
};

static int64_t number_in(struct row *row, int column, int64_t least, int64_t most)
{
    int64_t number = sql_column(&row->bound, column);
    if (number >= least && number <= most)
        return number;
    if (row->ok)
        row->ok = book_fail(row->book, "table %s, column %s: %lld; %lld to %lld is possible", row->table,
                            sqlite3_column_name(row->bound.stmt, column), (long long)number, (long long)least,
                            (long long)most);
    return least;
}

static int32_t i32(struct row *row, int column)
{
    return (int32_t)number_in(row, column, INT32_MIN, INT32_MAX);
}

static uint32_t u32(struct row *row, int column)
{
    return (uint32_t)number_in(row, column, 0, UINT32_MAX);
}

static uint16_t u16(struct row *row, int column)
{
    return (uint16_t)number_in(row, column, 0, UINT16_MAX);
}

static int64_t i64(struct row *row, int column)
{
    return number_in(row, column, INT64_MIN, INT64_MAX);
}

/* Reads every row of a query with read_one. */
static bool read_rows(struct kr_book *book, enum sql_statement statement, int64_t key, const char *table,
                      void (*read_one)(struct row *row, struct kept *kept), struct kept *kept)
{
    struct row row = {.book = book, .bound = sql_bind(&book->sql, statement), .table = table, .ok = true};
    bind_number(&row.bound, key);
    int rc;
    while (row.ok && (rc = sql_next(&row.bound)) != SQLITE_DONE) {
        if (rc != SQLITE_ROW)
            return book_fail_sql(book, table);
        read_one(&row, kept);
    }
    sqlite3_reset(row.bound.stmt); /* if a bad number ended it before the last row */
    return row.ok;
}

static void read_holder(struct row *row, struct kept *kept)
{
    int64_t r = number_in(row, 0, 1, KR_RAILS_MAX) - 1, h = number_in(row, 1, 1, KR_HOLDERS_MAX) - 1;
    kept->durable.holder[r][h] = (struct kr_holder_data){
        .holder_class = (uint8_t)number_in(row, 2, 1, 3),
        .edge_offset_um = i32(row, 3),
        .state = (uint8_t)number_in(row, 4, KR_HOLDER_IN, KR_HOLDER_ABSENT),
        .position_um = i32(row, 5),
        .known = (uint8_t)number_in(row, 6, KR_UNKNOWN, KR_MEASURED),
        .dock_retries = u16(row, 7),
        .metres = u32(row, 8),
    };
    kept->holder_stored[r][h] = true;
}

static void read_rail(struct row *row, struct kept *kept)
{
    int64_t r = number_in(row, 0, 1, KR_RAILS_MAX) - 1;
    kept->durable.docking[r] = (uint16_t)number_in(row, 1, 0, KR_HOLDERS_MAX);
    kept->durable.clamp_open[r] = (uint8_t)number_in(row, 2, 0, 1);
    kept->durable.datum_doubted[r] = (uint8_t)number_in(row, 3, 0, 1);
}

/* The order that a row's place means. */
static struct kr_order *order_at(struct row *row, struct kr_durable *durable)
{
    int64_t place = number_in(row, 0, BOOK_STAGED, BOOK_RECIPE_1 + KR_RECIPES_MAX - 1);
    if (place >= BOOK_RECIPE_1)
        return &durable->recipe[place - BOOK_RECIPE_1];
    if (place == BOOK_IN_FORCE)
        return &durable->order;
    if (place == BOOK_STAGED)
        return &durable->staged_order;
    return &durable
                ->queue[number_in(row, 0, BOOK_QUEUED_1, BOOK_QUEUED_1 + KR_QUEUE_MAX - 1) - BOOK_QUEUED_1];
}

static void read_order(struct row *row, struct kept *kept)
{
    struct kr_durable *durable = &kept->durable;
    struct kr_order *order = order_at(row, durable);
    if (order == &durable->order)
        durable->in_force = 1;
    else if (order == &durable->staged_order)
        durable->staged = 1;
    else if (order >= durable->queue && order < durable->queue + KR_QUEUE_MAX)
        durable->n_queued++;
    *order = (struct kr_order){
        .order_number = u32(row, 1),
        .edge_flags = u16(row, 2),
        .alignment = u16(row, 3),
        .compensation_ppm = i32(row, 4),
        .tolerance_um = i32(row, 5),
        .web_width_nm = i64(row, 6),
        .trim_nm = i64(row, 7),
        .shift_nm = i64(row, 8),
        .sum_nm = i64(row, 9),
    };
}

/* Slits count themselves: a gap in them leaves a width of 0 behind, which no plan accepts. */
static void read_slit(struct row *row, struct kept *kept)
{
    struct kr_order *order = order_at(row, &kept->durable);
    int64_t slit = number_in(row, 1, 1, KR_SLITS_MAX);
    order->width_nm[slit - 1] = i64(row, 2);
    if (slit > order->n_slits)
        order->n_slits = (uint16_t)slit;
}

static void read_verdict(struct row *row, struct kept *kept)
{
    kept->durable.verdict = (struct kr_verdict){
        .session = u16(row, 0),
        .number = u16(row, 1),
        .kind = u16(row, 2),
        .result = {.code = (enum kr_code)number_in(row, 3, 0, UINT16_MAX),
                   .rail = u16(row, 4),
                   .item = u16(row, 5),
                   .value = i32(row, 6),
                   .limit = i32(row, 7)},
        .order_number = u32(row, 8),
        .replaced_order = u32(row, 9),
        .slit_count = u16(row, 10),
        .sum_nm = i64(row, 11),
        .time_ms = i32(row, 12),
    };
}

static void read_edit(struct row *row, struct kept *kept)
{
    struct kr_edit *edit = &kept->durable.edit;
    *edit = (struct kr_edit){
        .session = u16(row, 0),
        .number = u16(row, 1),
        .kind = u16(row, 2),
        .rail = u16(row, 3),
        .holder = u16(row, 4),
        .holder_class = u16(row, 5),
        .edge_offset_um = i32(row, 6),
        .position_um = i32(row, 7),
        .result = {.code = (enum kr_code)number_in(row, 8, 0, UINT16_MAX),
                   .rail = u16(row, 9),
                   .item = u16(row, 10),
                   .value = i32(row, 11),
                   .limit = i32(row, 12)},
    };
    const unsigned char *origin = sqlite3_column_text(row->bound.stmt, 13);
    snprintf(edit->origin, sizeof edit->origin, "%s", origin != NULL ? (const char *)origin : "");
}

static void read_record_rail(struct row *row, struct kept *kept)
{
    int64_t r = number_in(row, 0, 1, KR_RAILS_MAX) - 1;
    kept->durable.record.rail[r] = (struct kr_record_rail){
        .moves = u16(row, 1),
        .corrections = u16(row, 2),
        .retries = u16(row, 3),
        .worst_holder = u16(row, 4),
        .worst_um = i32(row, 5),
    };
}

static void read_record(struct row *row, struct kept *kept)
{
    int64_t id = i64(row, 0);
    kept->durable.record = (struct kr_record){
        .number = u16(row, 1),
        .job = u16(row, 2),
        .order_number = u32(row, 3),
        .outcome = (uint16_t)number_in(row, 4, KR_OUTCOME_NONE, KR_OUTCOME_ABORTED),
        .planned_ms = i32(row, 5),
        .actual_ms = i32(row, 6),
        .total_ms = i32(row, 7),
        .worst_pair_um = i32(row, 8),
        .worst_slit_um = i32(row, 9),
        .cause = {.code = u16(row, 10),
                  .rail = u16(row, 11),
                  .item = u16(row, 12),
                  .value = i32(row, 13),
                  .limit = i32(row, 14)},
    };
    if (row->ok)
        row->ok = read_rows(row->book, SQL_CHANGEOVER_RAILS, id, "changeover_rail", read_record_rail, kept);
}

bool book_read(struct kr_book *book, struct kept *kept)
{
    return read_rows(book, SQL_HOLDERS, kept->id, "holder", read_holder, kept) &&
           read_rows(book, SQL_RAILS, kept->id, "rail", read_rail, kept) &&
           read_rows(book, SQL_ORDERS, kept->id, "orders", read_order, kept) &&
           read_rows(book, SQL_SLITS, kept->id, "slit", read_slit, kept) &&
           read_rows(book, SQL_LAST_VERDICT, kept->id, "verdict", read_verdict, kept) &&
           read_rows(book, SQL_LAST_EDIT_REQUEST, kept->id, "edit_request", read_edit, kept) &&
           read_rows(book, SQL_LAST_CHANGEOVER, kept->id, "changeover", read_record, kept);
}
