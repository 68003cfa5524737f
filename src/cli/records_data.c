#include "records_data.h"

#include <stdlib.h>
#include <string.h>

#include "report_tables.h"

/* ---- reading --------------------------------------------------------------------------------------------------- */

/* Removes all changeovers but the newest `last` ones. The table owns their texts. */
static void keep_last(struct history_table *table, size_t last)
{
    size_t n = (size_t)table->n_columns, gone = table->n_rows > last ? table->n_rows - last : 0;
    for (size_t i = 0; i < gone * n; i++)
        free((char *)table->cell[i].text);
    if (gone > 0)
        memmove(table->cell, table->cell + gone * n, (table->n_rows - gone) * n * sizeof table->cell[0]);
    table->n_rows -= gone;
}

static const char *ended_at(const struct history_table *table, size_t row)
{
    const char *text = history_table_cell(table, row, history_table_column(table, "ended_at"))->text;
    return text ? text : "";
}

bool records_read(struct records *r, struct kr_history *history, const struct kr_history_part *part)
{
    struct kr_history_part since = *part;
    history_table_begin(&r->changeovers, "changeovers");
    history_table_begin(&r->placements, "placements");
    /* For all rails, because the list contains whole changeovers. */
    struct kr_history_part whole = {.from = part->from, .to = part->to};
    if (!kr_history_read(history, KR_HISTORY_CHANGEOVERS, &whole, history_table_add, &r->changeovers))
        return false;
    bool cut = r->changeovers.n_rows > r->last;
    keep_last(&r->changeovers, r->last);
    if (cut)
        since.from = ended_at(&r->changeovers, 0);
    bool read = report_data_read(&r->data, history, &since) &&
                kr_history_read(history, KR_HISTORY_ERRORS, &since, history_table_add, &r->placements);
    r->failed = r->data.failed || r->changeovers.failed || r->placements.failed;
    return read && !r->failed;
}

void records_free(struct records *r)
{
    history_table_free(&r->changeovers);
    history_table_free(&r->placements);
    report_data_free(&r->data);
}

/* ---- as JSON --------------------------------------------------------------------------------------------------- */

static int64_t number_at(const struct history_table *table, size_t row, const char *name)
{
    const struct kr_cell *cell = history_table_cell(table, row, history_table_column(table, name));
    return cell->kind == KR_CELL_REAL ? (int64_t)cell->real : cell->number;
}

/* The end of each changeover and its index in the list, in the sequence of the texts. */
struct moment {
    const char *at;
    size_t index;
};

static int by_time(const void *a, const void *b)
{
    return strcmp(((const struct moment *)a)->at, ((const struct moment *)b)->at);
}

static struct moment *moments_of(const struct history_table *changeovers)
{
    struct moment *moment = calloc(changeovers->n_rows + 1, sizeof moment[0]);
    for (size_t i = 0; moment != NULL && i < changeovers->n_rows; i++)
        moment[i] = (struct moment){ended_at(changeovers, i), i};
    if (moment != NULL)
        qsort(moment, changeovers->n_rows, sizeof moment[0], by_time);
    return moment;
}

/* Writes [index of the changeover, error in um, 1 if with the holder's present knife]. */
static bool add_placement(json_t *list, const struct records *r, const struct moment *moments, size_t row)
{
    const struct moment wanted = {.at = ended_at(&r->placements, row)};
    const struct moment *of = bsearch(&wanted, moments, r->changeovers.n_rows, sizeof moments[0], by_time);
    return of == NULL ||
           json_array_append_new(list, json_pack("[I, I, I]", (json_int_t)of->index,
                                                 (json_int_t)number_at(&r->placements, row, "error_um"),
                                                 (json_int_t)number_at(&r->placements, row, "since_regrind"))) == 0;
}

/* Holders and placements are both in rail order, and every holder was placed. */
static bool add_placements(json_t *holders, const struct records *r, const struct moment *moments)
{
    size_t row = 0, i;
    json_t *holder;
    json_array_foreach(holders, i, holder)
    {
        json_t *list = json_array();
        int64_t rail = json_integer_value(json_object_get(holder, "rail")),
                number = json_integer_value(json_object_get(holder, "holder"));
        bool ok = list != NULL;
        for (; ok && row < r->placements.n_rows && number_at(&r->placements, row, "rail") == rail &&
               number_at(&r->placements, row, "holder") == number;
             row++)
            ok = add_placement(list, r, moments, row);
        if (json_object_set_new(holder, "list", list) != 0 || !ok)
            return false;
    }
    return true;
}

static json_t *holders_json(const struct records *r, double tolerance_um)
{
    struct history_table table;
    struct moment *moments = moments_of(&r->changeovers);
    history_table_begin(&table, "holders");
    json_t *all =
        moments != NULL && report_add_holders(&r->data, tolerance_um, &table) ? history_table_json(&table) : NULL;
    if (all != NULL && !add_placements(all, r, moments)) {
        json_decref(all);
        all = NULL;
    }
    history_table_free(&table);
    free(moments);
    return all;
}

static json_t *alarms_json(const struct records *r)
{
    struct history_table table;
    history_table_begin(&table, "alarms");
    json_t *all = report_add_alarms(&r->data, &table) ? history_table_json(&table) : NULL;
    history_table_free(&table);
    return all;
}

json_t *records_json(const struct records *r, const struct records_head *head)
{
    return json_pack("{s:s, s:s, s:s, s:f, s:b, s:o, s:o, s:o}", "station", head->station, "made_at", head->made_at,
                     "length_unit", kr_number_word("LENGTH_UNIT", (int)head->length_unit), "tolerance_um",
                     head->tolerance_um, "sound", head->sound, "changeovers", history_table_json(&r->changeovers),
                     "alarms", alarms_json(r), "holders", holders_json(r, head->tolerance_um));
}
