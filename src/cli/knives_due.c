#include "knives_due.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/report.h"

/* An order that was run until the next changeover. */
struct order {
    int64_t changeover;
    double metres;
    uint8_t cuts[KR_RAILS_MAX][KR_HOLDERS_MAX / 8]; /* one bit for each holder */
};

struct knife {
    char name[KR_KNIFE_NAME_MAX], kind[KR_KNIFE_KIND_MAX], place[16];
    int64_t rail, holder, metres, due_metres; /* rail 0: the knife is on no holder */
    struct kr_forecast forecast;
};

struct due {
    const struct kr_station_config *station;
    size_t n_orders, most, n_knives, room;
    struct order *order; /* the last orders, at most `most`, the oldest first */
    struct knife *knife;
    bool failed; /* there was no memory */
};

static int64_t left_of(const struct knife *knife)
{
    return knife->due_metres - knife->metres;
}

/* ---- what the book has ----------------------------------------------------------------------------------------- */

static const struct kr_cell *cell_of(const struct kr_history_row *row, const char *name)
{
    static const struct kr_cell none = {.kind = KR_CELL_NONE};
    for (int i = 0; i < row->n; i++)
        if (strcmp(row->name[i], name) == 0)
            return &row->cell[i];
    return &none;
}

static void copy(char *to, size_t size, const struct kr_cell *cell)
{
    snprintf(to, size, "%s", cell->kind == KR_CELL_TEXT ? cell->text : "");
}

static struct order *next_order(struct due *due, int64_t changeover)
{
    if (due->n_orders > 0 && due->order[due->n_orders - 1].changeover == changeover)
        return &due->order[due->n_orders - 1];
    if (due->n_orders == due->most)
        memmove(&due->order[0], &due->order[1], --due->n_orders * sizeof due->order[0]);
    struct order *order = &due->order[due->n_orders++];
    *order = (struct order){.changeover = changeover};
    return order;
}

static bool add_order(void *arg, const struct kr_history_row *row)
{
    struct due *due = arg;
    if (row->is_heading)
        return true;
    struct order *order = next_order(due, cell_of(row, "changeover")->number);
    int64_t rail = cell_of(row, "rail")->number, holder = cell_of(row, "holder")->number;
    order->metres = (double)cell_of(row, "metres")->number;
    if (rail >= 1 && rail <= KR_RAILS_MAX && holder >= 1 && holder <= KR_HOLDERS_MAX)
        order->cuts[rail - 1][(holder - 1) / 8] |= (uint8_t)(1u << (holder - 1) % 8);
    return true;
}

static const struct kr_knife_limit *limit_of(const struct kr_station_config *station, const char *kind)
{
    for (uint16_t i = 0; i < station->n_knife_limits; i++)
        if (strcmp(station->knife_limit[i].kind, kind) == 0)
            return &station->knife_limit[i];
    return NULL;
}

static bool grow(struct due *due)
{
    if (due->n_knives < due->room)
        return true;
    size_t room = due->room > 0 ? 2 * due->room : 64;
    struct knife *more = realloc(due->knife, room * sizeof more[0]);
    due->failed = more == NULL;
    if (due->failed)
        return false;
    due->knife = more;
    due->room = room;
    return true;
}

/* Selects the knives that may cut again. */
static bool is_of_use(const char *place)
{
    return strcmp(place, kr_number_word("EDIT_KNIFE_TO", KR_KNIFE_HOLDER)) == 0 ||
           strcmp(place, kr_number_word("EDIT_KNIFE_TO", KR_KNIFE_SHELF)) == 0;
}

static bool add_knife(void *arg, const struct kr_history_row *row)
{
    struct due *due = arg;
    struct knife knife = {.rail = cell_of(row, "rail")->number};
    if (row->is_heading)
        return true;
    copy(knife.kind, sizeof knife.kind, cell_of(row, "kind"));
    copy(knife.name, sizeof knife.name, cell_of(row, "name"));
    copy(knife.place, sizeof knife.place, cell_of(row, "place"));
    const struct kr_knife_limit *limit = limit_of(due->station, knife.kind);
    if (limit == NULL || !is_of_use(knife.place))
        return true;
    knife.holder = cell_of(row, "holder")->number;
    knife.metres = cell_of(row, "metres")->number;
    knife.due_metres = limit->due_metres;
    if (!grow(due))
        return false;
    due->knife[due->n_knives++] = knife;
    return true;
}

static bool read_book(struct due *due, const struct book_ask *ask, struct kr_history *history)
{
    due->order = calloc(due->most, sizeof due->order[0]);
    due->failed = due->order == NULL;
    return !due->failed && kr_history_read(history, KR_HISTORY_ORDER_METRES, NULL, add_order, due) &&
           kr_history_read(history, KR_HISTORY_KNIVES, &ask->part, add_knife, due) && !due->failed;
}

/* ---- the forecast ---------------------------------------------------------------------------------------------- */

static bool cuts(const struct order *order, const struct knife *knife)
{
    return order->cuts[knife->rail - 1][(knife->holder - 1) / 8] >> (knife->holder - 1) % 8 & 1;
}

static void foretell(const struct due *due, struct knife *knife, double metres[])
{
    if (knife->rail < 1 || knife->rail > KR_RAILS_MAX || knife->holder < 1 || knife->holder > KR_HOLDERS_MAX)
        return;
    for (size_t i = 0; i < due->n_orders; i++)
        metres[i] = cuts(&due->order[i], knife) ? due->order[i].metres : 0;
    knife->forecast = kr_forecast_of(metres, due->n_orders, (double)left_of(knife));
}

static bool foretell_all(struct due *due)
{
    double *metres = calloc(due->most, sizeof metres[0]);
    due->failed = metres == NULL;
    for (size_t i = 0; !due->failed && i < due->n_knives; i++)
        foretell(due, &due->knife[i], metres);
    free(metres);
    return !due->failed;
}

/* Sorts: first the knives that are due, then those whose remaining orders are known, then the others; within each
 * group, the one with less left comes first. */
static int rank(const struct knife *knife)
{
    if (left_of(knife) <= 0)
        return 0;
    return knife->forecast.has_orders ? 1 : 2;
}

static int compare(const void *a, const void *b)
{
    const struct knife *one = a, *other = b;
    if (rank(one) != rank(other))
        return rank(one) - rank(other);
    if (one->forecast.orders != other->forecast.orders)
        return one->forecast.orders < other->forecast.orders ? -1 : 1;
    if (left_of(one) != left_of(other))
        return left_of(one) < left_of(other) ? -1 : 1;
    return strcmp(one->name, other->name);
}

/* ---- the table ------------------------------------------------------------------------------------------------- */

enum {
    NAME,
    KIND,
    PLACE,
    RAIL,
    HOLDER,
    METRES,
    DUE_METRES,
    LEFT_METRES,
    ORDER_METRES,
    ORDERS,
    ORDERS_SD,
    ORDERS_FROM,
    ORDERS_TO,
    OF_ORDERS,
    N_COLUMNS
};
_Static_assert(N_COLUMNS <= KR_HISTORY_COLUMNS_MAX, "they fit a row of history");

static struct kr_cell number(int64_t value)
{
    return (struct kr_cell){.kind = KR_CELL_NUMBER, .number = value};
}

static struct kr_cell number_if(int64_t value)
{
    return value != 0 ? number(value) : (struct kr_cell){.kind = KR_CELL_NONE};
}

static struct kr_cell text(const char *value)
{
    return (struct kr_cell){.kind = KR_CELL_TEXT, .text = value};
}

static struct kr_cell real_if(bool known, double value)
{
    return known ? (struct kr_cell){.kind = KR_CELL_REAL, .real = value} : (struct kr_cell){.kind = KR_CELL_NONE};
}

static bool add_row(struct history_table *table, const struct knife *knife)
{
    const struct kr_forecast *f = &knife->forecast;
    struct kr_history_row row = {.n = N_COLUMNS,
                                 .cell = {[NAME] = text(knife->name),
                                          [KIND] = text(knife->kind),
                                          [PLACE] = text(knife->place),
                                          [RAIL] = number_if(knife->rail),
                                          [HOLDER] = number_if(knife->holder),
                                          [METRES] = number(knife->metres),
                                          [DUE_METRES] = number(knife->due_metres),
                                          [LEFT_METRES] = number(left_of(knife)),
                                          [ORDER_METRES] = real_if(f->spread.n > 0, f->spread.mean),
                                          [ORDERS] = real_if(f->has_orders, f->orders),
                                          [ORDERS_SD] = real_if(f->has_orders, f->orders_sd),
                                          [ORDERS_FROM] = real_if(f->has_orders, f->orders_95.low),
                                          [ORDERS_TO] = real_if(f->has_orders, f->orders_95.high),
                                          [OF_ORDERS] = number_if((int64_t)f->spread.n)}};
    return history_table_add(table, &row);
}

static bool fill(struct history_table *table, const struct due *due)
{
    static const struct kr_history_row heading = {.is_heading = true,
                                                  .n = N_COLUMNS,
                                                  .name = {[NAME] = "name",
                                                           [KIND] = "kind",
                                                           [PLACE] = "place",
                                                           [RAIL] = "rail",
                                                           [HOLDER] = "holder",
                                                           [METRES] = "metres",
                                                           [DUE_METRES] = "due_metres",
                                                           [LEFT_METRES] = "left_metres",
                                                           [ORDER_METRES] = "metres_an_order",
                                                           [ORDERS] = "orders",
                                                           [ORDERS_SD] = "orders_sd",
                                                           [ORDERS_FROM] = "orders_from",
                                                           [ORDERS_TO] = "orders_to",
                                                           [OF_ORDERS] = "of_orders"}};
    bool ok = history_table_add(table, &heading);
    for (size_t i = 0; ok && i < due->n_knives; i++)
        ok = add_row(table, &due->knife[i]);
    for (int i = ORDER_METRES; ok && i <= ORDERS_TO; i++)
        table->decimals[i] = 1;
    return ok;
}

bool knives_due(const struct book_ask *ask, struct kr_history *history, size_t orders, struct history_table *table)
{
    struct due due = {.station = ask->planned, .most = orders};
    bool ok = false;
    if (due.station->n_knife_limits == 0) {
        fprintf(stderr, "kniferail knives: %s: the station has no knife_kinds, so that no knife has a limit\n",
                ask->config);
        return false;
    }
    table->title = "due";
    if (read_book(&due, ask, history) && foretell_all(&due)) {
        if (due.n_knives > 0)
            qsort(due.knife, due.n_knives, sizeof due.knife[0], compare);
        ok = fill(table, &due);
    }
    if (!ok)
        fprintf(stderr, "kniferail knives: %s\n",
                due.failed || table->failed ? "out of memory" : kr_history_error(history));
    free(due.order);
    free(due.knife);
    return ok;
}

void knives_due_explain(const struct history_table *table)
{
    bool few = false, any = false;
    for (size_t i = 0; i < table->n_rows; i++) {
        const struct kr_cell *of = history_table_cell(table, i, OF_ORDERS);
        any = any || history_table_cell(table, i, ORDERS)->kind != KR_CELL_NONE;
        few = few || (of->kind == KR_CELL_NUMBER && of->number < KR_FORECAST_FEW);
    }
    if (any)
        printf("orders: after about so many the knife is due, with 95 %% confidence between orders_from and orders_to, "
               "if\norders go on to be as the last ones were (of_orders)\n");
    if (few)
        printf("caution: fewer than %d orders say little\n", KR_FORECAST_FEW);
}
