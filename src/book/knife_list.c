/* Imports a list of knives into the ledger, in one transaction: either all of it or nothing. */
#include "kniferail/knife_list.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "care.h"
#include "inner.h"
#include "kniferail/map.h"

const char *kr_knife_column_name(enum kr_knife_column column)
{
    static const char *const names[] = {
#define X(name, column) column,
        KR_KNIFE_COLUMNS(X)
#undef X
    };
    return names[column];
}

struct taking {
    const struct kr_knife_taking *asked;
    struct kr_book *book;
    uint16_t station;            /* its number in the book */
    struct kr_book_entry *entry; /* the station's data, changed by the list */
    uint32_t *number;            /* for each row: the number of its knife in the ledger */
    char at[KR_BOOK_TIME_MAX];
    size_t refused;
};

static int64_t station_id(const struct taking *t)
{
    return t->book->station[t->station].id;
}

/* ---- may it be? ------------------------------------------------------------------------------------------------ */

__attribute__((format(printf, 4, 5))) static bool refuse(struct taking *t, size_t row, enum kr_knife_column column,
                                                         const char *format, ...)
{
    char why[160];
    va_list values;
    va_start(values, format);
    vsnprintf(why, sizeof why, format, values);
    va_end(values);
    t->refused++;
    t->asked->refuse(t->asked->arg, row, column, why);
    return false;
}

static uint16_t holders_of(const struct taking *t, uint16_t rail)
{
    return rail >= 1 && rail <= KR_RAILS_MAX ? t->entry->n_holders[rail - 1] : 0;
}

/* Checks the holder of a row whose knife is on a holder. */
static bool judge_holder(struct taking *t, size_t i, const struct kr_knife_row *row)
{
    uint16_t n = holders_of(t, row->rail);
    if (n == 0)
        return refuse(t, i, KR_COLUMN_RAIL, "the station has no holders on this rail");
    if (row->holder > n)
        return refuse(t, i, KR_COLUMN_HOLDER, "rail %u has holders 1 to %u", row->rail, n);
    const struct kr_holder_data *on = &t->entry->durable.holder[row->rail - 1][row->holder - 1];
    if (!kr_holder_on_rail(on->state))
        return refuse(t, i, KR_COLUMN_HOLDER, "that holder is not on the rail");
    if (on->knife != 0)
        return refuse(t, i, KR_COLUMN_HOLDER, "that holder has knife %" PRIu32 " of the ledger", on->knife);
    return true;
}

/* ---- what is written ------------------------------------------------------------------------------------------- */

static bool run(struct taking *t, struct bound *bound)
{
    return sql_run(bound) || book_fail_sql(t->book, "knife");
}

static void bind_if(struct bound *b, bool known, int64_t number)
{
    if (known)
        bind_number(b, number);
    else
        bind_null(b);
}

static bool add_knife(struct taking *t, const struct kr_knife_row *row, uint32_t *number)
{
    struct bound b = sql_bind(&t->book->sql, SQL_ADD_KNIFE);
    bind_number(&b, station_id(t));
    bind_text(&b, row->at[0] != '\0' ? row->at : t->at);
    bind_text(&b, row->name);
    bind_text(&b, row->kind);
    bind_number(&b, row->diameter_um);
    bind_number(&b, row->thickness_um);
    bind_if(&b, row->edge_known, row->edge_um);
    bind_number(&b, row->place);
    bind_number(&b, row->rail);
    bind_number(&b, row->holder);
    bind_number(&b, row->metres);
    bind_number(&b, row->earlier_metres);
    bind_number(&b, row->grinds);
    bool ok = run(t, &b);
    *number = (uint32_t)sqlite3_last_insert_rowid(t->book->sql.db);
    return ok;
}

/* Returns the kind of maintenance request that a row stands for; 0 is the list itself. */
static uint16_t event_kind(const struct kr_knife_row *row)
{
    switch (row->record) {
    case KR_RECORD_GRIND: return KR_EDIT_REGROUND;
    case KR_RECORD_BREAK: return KR_EDIT_BROKEN;
    case KR_RECORD_KNIFE: break;
    }
    return 0;
}

static uint16_t place_after(const struct kr_knife_row *row)
{
    switch (row->record) {
    case KR_RECORD_GRIND: return row->rail != 0 ? KR_KNIFE_HOLDER : KR_KNIFE_SHELF;
    case KR_RECORD_BREAK: return KR_KNIFE_BROKEN;
    case KR_RECORD_KNIFE: break;
    }
    return row->place;
}

static bool add_event(struct taking *t, const struct kr_knife_row *row, uint32_t number)
{
    struct bound b = sql_bind(&t->book->sql, SQL_ADD_KNIFE_EVENT);
    bind_number(&b, station_id(t));
    bind_text(&b, row->record == KR_RECORD_KNIFE ? t->at : row->at);
    bind_text(&b, LIST_ORIGIN);
    bind_number(&b, number);
    bind_number(&b, event_kind(row));
    bind_number(&b, row->rail);
    bind_number(&b, row->holder);
    bind_number(&b, place_after(row));
    bind_number(&b, row->metres);
    bind_number(&b, 0);
    bind_if(&b, row->edge_known, row->edge_um);
    bind_number(&b, row->diameter_before_um);
    bind_number(&b, row->diameter_um);
    bind_number(&b, row->thickness_before_um);
    bind_number(&b, row->thickness_um);
    bind_number(&b, row->cause);
    bind_number(&b, row->fragments);
    bind_if(&b, row->fell_known, row->fell_metres);
    return run(t, &b);
}

/* Does what mounting a knife does: hands were near the neighbouring holders, and the edge is not proven. */
static void put_on_holder(struct kr_durable *durable, const struct kr_knife_row *row, uint32_t number)
{
    uint16_t r = (uint16_t)(row->rail - 1);
    struct kr_holder_data *on = &durable->holder[r][row->holder - 1];
    on->knife = number;
    on->knife_kind = kr_knife_kind_digest(row->kind);
    on->metres = row->metres;
    on->edge_offset_um = row->edge_um;
    on->edge = KR_EDGE_UNPROVEN;
    if (on->state == KR_HOLDER_OUT)
        on->state = KR_HOLDER_IN;
    durable->proof[r] = 0;
    for (uint16_t h = 0; h < KR_HOLDERS_MAX; h++) {
        struct kr_holder_data *holder = &durable->holder[r][h];
        holder->known = holder->known > KR_REMEMBERED ? KR_REMEMBERED : holder->known;
        holder->was_known = KR_UNKNOWN;
    }
}

static bool take_knife(struct taking *t, size_t i, const struct kr_knife_row *row)
{
    struct kr_knife_answer there;
    if (!kr_book_knife(t->book, t->station, row->name, &there))
        return false;
    bool free =
        there.place == KR_KNIFE_NONE || refuse(t, i, KR_COLUMN_NAME, "the ledger has a knife of this name already");
    bool fits = row->place != KR_KNIFE_HOLDER || judge_holder(t, i, row);
    if (!free || !fits)
        return true; /* the mistake was reported; the other rows are checked, too */
    if (!add_knife(t, row, &t->number[i]))
        return false;
    if (row->place == KR_KNIFE_HOLDER)
        put_on_holder(&t->entry->durable, row, t->number[i]);
    return true;
}

/* Returns the number of the knife whose event a row describes. */
static uint32_t number_of(const struct taking *t, const struct kr_knife_row row[], size_t i)
{
    for (size_t k = i; k-- > 0;)
        if (row[k].record == KR_RECORD_KNIFE && strcmp(row[k].name, row[i].name) == 0)
            return t->number[k];
    return 0;
}

/* In the life of each knife, the events of the list stand before the list itself. */
static bool take_events(struct taking *t, const struct kr_knife_row row[], size_t n)
{
    for (int of_list = 0; of_list <= 1; of_list++)
        for (size_t i = 0; i < n; i++) {
            if ((row[i].record == KR_RECORD_KNIFE) != of_list)
                continue;
            uint32_t number = of_list ? t->number[i] : number_of(t, row, i);
            if (!add_event(t, &row[i], number))
                return false;
        }
    return true;
}

static bool add_audit(struct taking *t, size_t n)
{
    struct kr_audit_row row = {.at_utc_ms = t->asked->now_utc_ms,
                               .until_utc_ms = t->asked->now_utc_ms,
                               .times = 1,
                               .book_station = t->station,
                               .event = {.kind = KR_AUDIT_EDIT}};
    if (!kr_book_audit_next(t->book, &row.id))
        return false;
    snprintf(row.event.who, sizeof row.event.who, "%s", t->asked->who);
    snprintf(row.event.what, sizeof row.event.what, "list of knives %.80s, %zu rows", t->asked->list, n);
    snprintf(row.event.result, sizeof row.event.result, "taken");
    return book_add_audit(t->book, &row);
}

/* Call it inside a transaction. */
static bool take_rows(struct taking *t, const struct kr_knife_row row[], size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (row[i].record == KR_RECORD_KNIFE && !take_knife(t, i, &row[i]))
            return false;
    if (t->refused > 0 || !take_events(t, row, n) || !add_audit(t, n))
        return false;
    t->entry->durable.serial++;
    t->book->next = t->book->station[t->station];
    return book_write(t->book, &t->book->next, t->entry, LIST_ORIGIN);
}

/* ---- the book -------------------------------------------------------------------------------------------------- */

/* A station that no gateway has stored has no holders for knives, and is not created here. */
static bool load(struct taking *t, struct kr_care_error *error)
{
    struct bound find = sql_bind(&t->book->sql, SQL_STATION_UNIT);
    bind_text(&find, t->asked->station);
    int rc = sql_next(&find);
    if (rc != SQLITE_ROW && rc != SQLITE_DONE)
        return book_fail_sql(t->book, "station") || care_fail(error, "%s", kr_book_error(t->book));
    bool there = rc == SQLITE_ROW && sql_column(&find, 0) != 0;
    t->entry->length_unit = there && sql_column(&find, 1) == KR_LENGTH_INCH ? KR_LENGTH_INCH : KR_LENGTH_MM;
    sqlite3_reset(find.stmt);
    if (!there)
        return care_fail(error,
                         "no gateway has stored station %.64s in this book yet: start the gateway once, and end it",
                         t->asked->station);
    return kr_book_load(t->book, t->asked->station, &t->station, &t->entry->durable) == KR_LOAD_FOUND ||
           care_fail(error, "%s", kr_book_error(t->book));
}

static void take_holders(struct taking *t)
{
    const struct kept *kept = &t->book->station[t->station];
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++)
        while (t->entry->n_holders[r] < KR_HOLDERS_MAX && kept->holder_stored[r][t->entry->n_holders[r]])
            t->entry->n_holders[r]++;
}

static bool take_opened(struct taking *t, const struct kr_knife_row row[], size_t n, struct kr_care_error *error)
{
    if (!load(t, error))
        return false;
    take_holders(t);
    t->entry->now_utc_ms = t->asked->now_utc_ms;
    kr_book_time_text(t->asked->now_utc_ms, t->at);
    if (book_begin(t->book) && take_rows(t, row, n) && book_confirm(t->book))
        return true;
    book_take_back(t->book);
    return t->refused == 0 && care_fail(error, "%s", kr_book_error(t->book));
}

static bool is_sound(const char *path, struct kr_care_error *error)
{
    static struct kr_care_report report; /* static, because it is large */
    if (!kr_book_check(path, &report, error))
        return false;
    if (report.in_use)
        return care_fail(error, "a gateway uses this book: end the gateway first; while it runs, enter "
                                "knives one by one with `kniferail set enter`");
    return report.n_findings == 0 ||
           care_fail(error, "no knives are added to a book that is not sound: %.300s", report.finding[0]);
}

bool kr_book_take_knives(const struct kr_knife_taking *taking, const struct kr_knife_row row[], size_t n,
                         struct kr_care_error *error)
{
    char why[KR_BOOK_TEXT_MAX];
    error->text[0] = '\0';
    if (!is_sound(taking->path, error))
        return false;
    struct taking t = {.asked = taking, .book = kr_book_open(taking->path, why, sizeof why)};
    if (t.book == NULL)
        return care_fail(error, "%s", why);
    t.entry = calloc(1, sizeof *t.entry);
    t.number = calloc(n + 1, sizeof t.number[0]);
    bool ok = t.entry != NULL && t.number != NULL ? take_opened(&t, row, n, error) : care_fail(error, "out of memory");
    free(t.entry);
    free(t.number);
    kr_book_close(t.book);
    return ok;
}
