#include <stdio.h>
#include <string.h>

#include "fields.h"
#include "inner.h"

/* A row whose columns are read from left to right. The file may have been edited by hand, so every number is compared
 * with its limits, and the first one that is outside is named. */
struct row {
    struct kr_book *book;
    struct bound bound;
    const char *table;
    int next; /* the next column */
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

static int64_t next_in(struct row *row, int64_t least, int64_t most)
{
    return number_in(row, row->next++, least, most);
}

/* NEXT_AS reads the next column as a type of fields.h. With a row of fields.h, the value is assigned to the field; a
 * field of another type than the row says does not compile. */
#define NEXT_AS(row, c_type, least, most)        ((c_type)next_in(row, least, most))
#define NEXT(row, ...)                           NEXT_AS(row, __VA_ARGS__)
#define INTO_AS(field, row, c_type, least, most) *(c_type *){&(field)} = NEXT_AS(row, c_type, least, most);
#define INTO(field, row, ...)                    INTO_AS(field, row, __VA_ARGS__)
#define READ(field, column, type, sealed)        INTO(is->field, row, type)

/* Calls read_one for every row of a query. */
static bool read_rows(struct kr_book *book, enum sql_statement statement, int64_t key, const char *table,
                      void (*read_one)(struct row *row, struct kept *kept), struct kept *kept)
{
    struct row row = {.book = book, .bound = sql_bind(&book->sql, statement), .table = table, .ok = true};
    bind_number(&row.bound, key);
    int rc;
    while (row.ok && (rc = sql_next(&row.bound)) != SQLITE_DONE) {
        if (rc != SQLITE_ROW)
            return book_fail_sql(book, table);
        row.next = 0;
        read_one(&row, kept);
    }
    sqlite3_reset(row.bound.stmt); /* in case that a wrong number ended the reading before the last row */
    return row.ok;
}

static void read_holder(struct row *row, struct kept *kept)
{
    int64_t r = next_in(row, 1, KR_RAILS_MAX) - 1, h = next_in(row, 1, KR_HOLDERS_MAX) - 1;
    struct kr_holder_data *is = &kept->durable.holder[r][h];
    HOLDER_FIELDS(READ)
    kept->holder_stored[r][h] = true;
}

static void read_station(struct row *row, struct kept *kept)
{
    struct kr_durable *is = &kept->durable;
    (void)NEXT(row, I64); /* the key */
    STATION_FIELDS(READ)
}

static void read_rail(struct row *row, struct kept *kept)
{
    int64_t r = next_in(row, 1, KR_RAILS_MAX) - 1;
    struct kr_durable *is = &kept->durable;
    RAIL_FIELDS(READ)
}

/* The points have consecutive numbers. After a gap, a point of 0 is left, whose place is not greater than the one
 * before. */
static void read_frame_point(struct row *row, struct kept *kept)
{
    int64_t r = next_in(row, 1, KR_RAILS_MAX) - 1;
    bool before = next_in(row, 0, 1) == 1;
    int64_t point = next_in(row, 1, KR_FRAME_POINTS_MAX);
    struct kr_frame *frame = before ? &kept->durable.frame_before[r] : &kept->durable.frame[r];
    frame->point[point - 1].at_um = NEXT(row, I32);
    frame->point[point - 1].error_um = (int32_t)next_in(row, -KR_FRAME_ERROR_MAX_UM, KR_FRAME_ERROR_MAX_UM);
    if (point > frame->n_points)
        frame->n_points = (uint16_t)point;
}

static bool check_frame(struct kr_book *book, int rail, const struct kr_frame *frame)
{
    uint16_t bad = kr_frame_bad_point(frame);
    return bad == 0 || book_fail(book,
                                 "table frame_point, rail %d, point %u: its place must be greater than that "
                                 "of the point before",
                                 rail + 1, bad);
}

static bool check_frames(struct kr_book *book, const struct kr_durable *durable)
{
    for (int r = 0; r < KR_RAILS_MAX; r++)
        if (!check_frame(book, r, &durable->frame[r]) || !check_frame(book, r, &durable->frame_before[r]))
            return false;
    return true;
}

/* Returns the order that belongs to a row's place, which is its first column. */
static struct kr_order *next_order(struct row *row, struct kr_durable *durable)
{
    int column = row->next++;
    int64_t place = number_in(row, column, BOOK_STAGED, BOOK_RECIPE_1 + KR_RECIPES_MAX - 1);
    if (place >= BOOK_RECIPE_1)
        return &durable->recipe[place - BOOK_RECIPE_1];
    if (place == BOOK_IN_FORCE)
        return &durable->order;
    if (place == BOOK_STAGED)
        return &durable->staged_order;
    return &durable->queue[number_in(row, column, BOOK_QUEUED_1, BOOK_QUEUED_1 + KR_QUEUE_MAX - 1) - BOOK_QUEUED_1];
}

static void read_order(struct row *row, struct kept *kept)
{
    struct kr_durable *durable = &kept->durable;
    struct kr_order *is = next_order(row, durable);
    if (is == &durable->order)
        durable->in_force = 1;
    else if (is == &durable->staged_order)
        durable->staged = 1;
    else if (is >= durable->queue && is < durable->queue + KR_QUEUE_MAX)
        durable->n_queued++;
    *is = (struct kr_order){0};
    ORDER_FIELDS(READ)
}

/* The slits have consecutive numbers. After a gap, a width of 0 is left, which no plan accepts. */
static void read_slit(struct row *row, struct kept *kept)
{
    struct kr_order *order = next_order(row, &kept->durable);
    int64_t slit = next_in(row, 1, KR_SLITS_MAX);
    order->width_nm[slit - 1] = NEXT(row, I64);
    if (slit > order->n_slits)
        order->n_slits = (uint16_t)slit;
}

static void read_verdict(struct row *row, struct kept *kept)
{
    struct kr_verdict *is = &kept->durable.verdict;
    (void)NEXT(row, I64); /* the id: a query returns a key first, and then the fields */
    VERDICT_FIELDS(READ)
}

static void read_edit(struct row *row, struct kept *kept)
{
    struct kr_edit *is = &kept->durable.edit;
    const unsigned char *origin = sqlite3_column_text(row->bound.stmt, row->next++);
    snprintf(is->origin, sizeof is->origin, "%s", origin != NULL ? (const char *)origin : "");
    EDIT_FIELDS(READ)
}

static void read_record_rail(struct row *row, struct kept *kept)
{
    int64_t r = next_in(row, 1, KR_RAILS_MAX) - 1;
    struct kr_record_rail *is = &kept->durable.record.rail[r];
    RECORD_RAIL_FIELDS(READ)
}

static void read_record(struct row *row, struct kept *kept)
{
    int64_t id = NEXT(row, I64);
    struct kr_record *is = &kept->durable.record;
    *is = (struct kr_record){0};
    RECORD_FIELDS(READ)
    if (row->ok)
        row->ok = read_rows(row->book, SQL_CHANGEOVER_RAILS, id, "changeover_rail", read_record_rail, kept);
}

bool book_read(struct kr_book *book, struct kept *kept)
{
    return read_rows(book, SQL_STATION, kept->id, "station", read_station, kept) &&
           read_rows(book, SQL_HOLDERS, kept->id, "holder", read_holder, kept) &&
           read_rows(book, SQL_RAILS, kept->id, "rail", read_rail, kept) &&
           read_rows(book, SQL_FRAME_POINTS, kept->id, "frame_point", read_frame_point, kept) &&
           check_frames(book, &kept->durable) && read_rows(book, SQL_ORDERS, kept->id, "orders", read_order, kept) &&
           read_rows(book, SQL_SLITS, kept->id, "slit", read_slit, kept) &&
           read_rows(book, SQL_LAST_VERDICT, kept->id, "verdict", read_verdict, kept) &&
           read_rows(book, SQL_LAST_EDIT_REQUEST, kept->id, "edit_request", read_edit, kept) &&
           read_rows(book, SQL_LAST_CHANGEOVER, kept->id, "changeover", read_record, kept);
}
