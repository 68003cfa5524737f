/* The ledger of knives: for each knife its data, its place and the metres it has cut; and one row for each event. A
 * change by a maintenance request is written with the commit that stores the request. */
#include <stdio.h>
#include <string.h>

#include "inner.h"
#include "kniferail/map.h"

static bool run(struct kr_book *book, struct bound *bound)
{
    return sql_run(bound) || book_fail_sql(book, "knife");
}

/* ---- what is asked --------------------------------------------------------------------------------------------- */

bool kr_book_knife(struct kr_book *book, uint16_t station, const char *name, struct kr_knife_answer *answer)
{
    struct bound b = sql_bind(&book->sql, SQL_FIND_KNIFE);
    bind_number(&b, book->station[station].id);
    bind_text(&b, name);
    memset(answer, 0, sizeof *answer);
    int rc = sql_next(&b);
    if (rc == SQLITE_DONE)
        return true;
    answer->failed = rc != SQLITE_ROW;
    if (answer->failed)
        return book_fail_sql(book, "knife");
    answer->knife = (uint32_t)sql_column(&b, 0);
    answer->place = (uint8_t)sql_column(&b, 1);
    answer->metres = (uint32_t)sql_column(&b, 2);
    answer->edge_known = !sql_column_is_null(&b, 3);
    answer->edge_um = (int32_t)sql_column(&b, 3);
    answer->kind = kr_knife_kind_digest((const char *)sqlite3_column_text(b.stmt, 4));
    sqlite3_reset(b.stmt);
    return true;
}

/* ---- what became of a knife ------------------------------------------------------------------------------------ */

struct dimensions {
    int64_t diameter_um, thickness_um;
};

static bool is_ground(const struct kr_knife_event *event)
{
    return event->kind == KR_EDIT_REGRIND || event->kind == KR_EDIT_REGROUND;
}

static int64_t after(int32_t given_um, int64_t before_um)
{
    return given_um != 0 ? given_um : before_um;
}

/* The dimensions of a knife without a name are not known. */
static bool read_dimensions(struct kr_book *book, uint32_t knife, struct dimensions *dimensions)
{
    *dimensions = (struct dimensions){0, 0};
    struct bound b = sql_bind(&book->sql, SQL_KNIFE_DIMENSIONS);
    bind_number(&b, knife);
    int rc = knife != 0 ? sql_next(&b) : SQLITE_DONE;
    if (rc == SQLITE_ROW) {
        *dimensions = (struct dimensions){sql_column(&b, 0), sql_column(&b, 1)};
        sqlite3_reset(b.stmt);
    }
    return rc == SQLITE_ROW || rc == SQLITE_DONE || book_fail_sql(book, "knife");
}

static void bind_edge(struct bound *b, const struct kr_knife_event *event)
{
    if (event->edge_known)
        bind_number(b, event->edge_um);
    else
        bind_null(b);
}

static bool add_knife(struct kr_book *book, int64_t station_id, const struct kr_knife_event *event, const char *at)
{
    struct bound b = sql_bind(&book->sql, SQL_ADD_KNIFE);
    bind_number(&b, station_id);
    bind_text(&b, at);
    bind_text(&b, event->name);
    bind_text(&b, event->kind_name);
    bind_number(&b, event->diameter_um);
    bind_number(&b, event->thickness_um);
    bind_edge(&b, event);
    bind_number(&b, KR_KNIFE_SHELF);
    bind_number(&b, 0);
    bind_number(&b, 0);
    bind_number(&b, event->metres);
    bind_number(&b, 0);
    bind_number(&b, 0);
    return run(book, &b);
}

static bool set_knife(struct kr_book *book, const struct kr_knife_event *event, const struct dimensions *before,
                      const char *at)
{
    bool ground = is_ground(event), on_holder = event->to == KR_KNIFE_HOLDER;
    struct bound b = sql_bind(&book->sql, SQL_SET_KNIFE);
    bind_text(&b, at);
    bind_number(&b, after(event->diameter_um, before->diameter_um));
    bind_number(&b, after(event->thickness_um, before->thickness_um));
    bind_number(&b, event->edge_known || ground); /* after a grind, the old measurement is no longer valid */
    bind_edge(&b, event);
    bind_number(&b, event->to);
    bind_number(&b, on_holder ? event->rail : 0);
    bind_number(&b, on_holder ? event->holder : 0);
    bind_number(&b, ground ? 0 : event->metres);
    bind_number(&b, ground ? event->metres : 0);
    bind_number(&b, ground);
    bind_number(&b, event->knife);
    if (!run(book, &b))
        return false;
    struct bound seal = sql_bind(&book->sql, SQL_SEAL_KNIFE);
    bind_number(&seal, event->knife);
    return run(book, &seal);
}

static bool add_event(struct kr_book *book, int64_t station_id, int64_t knife, const struct kr_knife_event *event,
                      const struct dimensions *before, const char *at, const char *origin)
{
    struct bound b = sql_bind(&book->sql, SQL_ADD_KNIFE_EVENT);
    bind_number(&b, station_id);
    bind_text(&b, at);
    bind_text(&b, origin);
    if (knife != 0)
        bind_number(&b, knife);
    else
        bind_null(&b);
    bind_number(&b, event->kind);
    bind_number(&b, event->rail);
    bind_number(&b, event->holder);
    bind_number(&b, event->to);
    bind_number(&b, event->metres);
    bind_number(&b, event->left_metres);
    bind_edge(&b, event);
    bind_number(&b, before->diameter_um);
    bind_number(&b, after(event->diameter_um, before->diameter_um));
    bind_number(&b, before->thickness_um);
    bind_number(&b, after(event->thickness_um, before->thickness_um));
    bind_number(&b, event->cause);
    bind_number(&b, event->fragments);
    if (event->fell_known)
        bind_number(&b, event->fell_metres);
    else
        bind_null(&b);
    return run(book, &b);
}

bool book_write_knife(struct kr_book *book, int64_t station_id, const struct kr_knife_event *event, const char *at,
                      const char *origin)
{
    struct dimensions before;
    int64_t knife = event->knife;
    bool ok = read_dimensions(book, event->knife, &before);
    if (event->kind == KR_EDIT_ENTER) {
        ok = ok && add_knife(book, station_id, event, at);
        knife = sqlite3_last_insert_rowid(book->sql.db);
    } else if (knife != 0) {
        ok = ok && set_knife(book, event, &before, at);
    }
    return ok && add_event(book, station_id, knife, event, &before, at, origin);
}
