#include <stdio.h>
#include <string.h>

#include "fields.h"
#include "inner.h"
#include "kniferail/alarm.h"

/* A commit under way. The time is the same for all that it stores, alarms apart: they carry their own. */
struct writing {
    struct kr_book *book;
    struct kept *kept; /* is brought up to the entry as it is written */
    const struct kr_book_entry *entry;
    const char *origin; /* of what is edited */
    char at[KR_BOOK_TIME_MAX];
};

static bool run(struct writing *w, struct bound *bound, const char *doing)
{
    return sql_run(bound) || book_fail_sql(w->book, doing);
}

/* Of a row of fields.h, the field: statement b is given it as its next value; it is as it was; it is kept. */
#define BIND(field, column, type, sealed) bind_number(&b, is->field);
#define SAME(field, column, type, sealed) &&was->field == is->field
#define KEEP(field, column, type, sealed) was->field = is->field;

/* ---- holders ---------------------------------------------------------------------------------------------- */

#define RAIL_ITSELF (-1) /* for a holder's index */

static bool add_edit(struct writing *w, int rail, int holder, const char *what, const int32_t *was, int32_t is,
                     const char *origin)
{
    struct bound b = sql_bind(&w->book->sql, SQL_ADD_EDIT);
    bind_number(&b, w->kept->id);
    bind_text(&b, w->at);
    bind_number(&b, rail + 1);
    bind_number(&b, holder + 1);
    bind_text(&b, what);
    if (was != NULL)
        bind_number(&b, *was);
    else
        bind_null(&b);
    bind_number(&b, is);
    bind_text(&b, origin);
    return run(w, &b, "edit");
}

static bool add_edit_if(struct writing *w, int rail, int holder, const char *what, int32_t was, int32_t is)
{
    bool first = !w->kept->holder_stored[rail][holder];
    return (!first && was == is) ||
           add_edit(w, rail, holder, what, first ? NULL : &was, is, first ? "config" : w->origin);
}

/* A new book begins with edges that nobody has proven: that is no history. A crash is told by the PLC. */
static bool add_edge_if(struct writing *w, int rail, int holder, int32_t was, int32_t is)
{
    return was == is || add_edit(w, rail, holder, "edge", &was, is, is == KR_EDGE_STRUCK ? "PLC" : w->origin);
}

static bool holder_same(const struct kr_holder_data *was, const struct kr_holder_data *is)
{
    return true HOLDER_FIELDS(SAME);
}

static bool write_holder(struct writing *w, int rail, int holder)
{
    struct kr_holder_data *was = &w->kept->durable.holder[rail][holder];
    const struct kr_holder_data *is = &w->entry->durable.holder[rail][holder];
    if (w->kept->holder_stored[rail][holder] && holder_same(was, is))
        return true;
    struct bound b = sql_bind(&w->book->sql, SQL_SET_HOLDER);
    bind_number(&b, w->kept->id);
    bind_number(&b, rail + 1);
    bind_number(&b, holder + 1);
    HOLDER_FIELDS(BIND)
    bool ok = run(w, &b, "holder") && add_edit_if(w, rail, holder, "class", was->holder_size, is->holder_size) &&
              add_edit_if(w, rail, holder, "edge_offset_um", was->edge_offset_um, is->edge_offset_um) &&
              add_edit_if(w, rail, holder, "state", was->state, is->state) &&
              add_edge_if(w, rail, holder, was->edge, is->edge);
    *was = *is;
    w->kept->holder_stored[rail][holder] = true;
    return ok;
}

/* ---- where a rail lies in the machine's frame ------------------------------------------------------------------ */

static bool same_points(const struct kr_frame *was, const struct kr_frame *is)
{
    return was->n_points == is->n_points && memcmp(was->point, is->point, is->n_points * sizeof is->point[0]) == 0;
}

static bool add_point(struct writing *w, int r, int before, int point, struct kr_frame_point is)
{
    struct bound b = sql_bind(&w->book->sql, SQL_ADD_FRAME_POINT);
    bind_number(&b, w->kept->id);
    bind_number(&b, r + 1);
    bind_number(&b, before);
    bind_number(&b, point);
    bind_number(&b, is.at_um);
    bind_number(&b, is.error_um);
    return run(w, &b, "frame_point");
}

static bool write_points(struct writing *w, int r, int before, struct kr_frame *was, const struct kr_frame *is)
{
    if (same_points(was, is))
        return true;
    struct bound b = sql_bind(&w->book->sql, SQL_DROP_FRAME_POINTS);
    bind_number(&b, w->kept->id);
    bind_number(&b, r + 1);
    bind_number(&b, before);
    bool ok = run(w, &b, "frame_point");
    for (int i = 0; ok && i < is->n_points; i++)
        ok = add_point(w, r, before, i + 1, is->point[i]);
    was->n_points = is->n_points;
    memcpy(was->point, is->point, sizeof was->point);
    return ok;
}

static bool add_rail_edit_if(struct writing *w, int r, const char *what, bool same, int32_t was, int32_t is)
{
    return same || add_edit(w, r, RAIL_ITSELF, what, &was, is, w->origin);
}

/* What the station file seeds is no history. */
static bool write_frame_history(struct writing *w, int r)
{
    const struct kr_frame *was = &w->kept->durable.frame[r], *is = &w->entry->durable.frame[r];
    if (w->kept->durable.frame_origin[r] == KR_FRAME_FROM_NONE)
        return true;
    return add_rail_edit_if(w, r, "frame_offset_um", was->offset_um == is->offset_um, was->offset_um, is->offset_um) &&
           add_rail_edit_if(w, r, "frame_scale_ppb", was->scale_ppb == is->scale_ppb, was->scale_ppb, is->scale_ppb) &&
           add_rail_edit_if(w, r, "frame_points", same_points(was, is), was->n_points, is->n_points);
}

static bool write_switch_history(struct writing *w, int r)
{
    const struct kr_switch *was = &w->kept->durable.of_switch[r], *is = &w->entry->durable.of_switch[r];
    if (w->kept->durable.switch_origin[r] == KR_FRAME_FROM_NONE)
        return true;
    return add_rail_edit_if(w, r, "switch_offset_um", was->offset_um == is->offset_um, was->offset_um, is->offset_um) &&
           add_rail_edit_if(w, r, "scan_bias_um", was->bias_um == is->bias_um, was->bias_um, is->bias_um);
}

static bool write_times_history(struct writing *w, int r)
{
    const struct kr_rail_times *was = &w->kept->durable.times[r], *is = &w->entry->durable.times[r];
    if (w->kept->durable.times_origin[r] == KR_FRAME_FROM_NONE)
        return true;
    return add_rail_edit_if(w, r, "dock_us", was->dock_us == is->dock_us, was->dock_us, is->dock_us) &&
           add_rail_edit_if(w, r, "undock_us", was->undock_us == is->undock_us, was->undock_us, is->undock_us) &&
           add_rail_edit_if(w, r, "setpoint_us", was->setpoint_us == is->setpoint_us, was->setpoint_us,
                            is->setpoint_us) &&
           add_rail_edit_if(w, r, "rounding_us", was->rounding_us == is->rounding_us, was->rounding_us,
                            is->rounding_us);
}

/* Before the rail's other fields are brought up. */
static bool write_frame(struct writing *w, int r)
{
    struct kr_durable *was = &w->kept->durable;
    const struct kr_durable *is = &w->entry->durable;
    return write_frame_history(w, r) && write_switch_history(w, r) && write_times_history(w, r) &&
           write_points(w, r, 0, &was->frame[r], &is->frame[r]) &&
           write_points(w, r, 1, &was->frame_before[r], &is->frame_before[r]);
}

/* ---- rails ------------------------------------------------------------------------------------------------ */

static bool write_rail(struct writing *w, int r)
{
    const struct kr_durable *is = &w->entry->durable;
    struct kr_durable *was = &w->kept->durable;
    if (true RAIL_FIELDS(SAME))
        return true;
    struct bound b = sql_bind(&w->book->sql, SQL_SET_RAIL);
    bind_number(&b, w->kept->id);
    bind_number(&b, r + 1);
    RAIL_FIELDS(BIND)
    RAIL_FIELDS(KEEP)
    return run(w, &b, "rail");
}

static bool write_rails(struct writing *w)
{
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        if (!write_frame(w, r) || !write_rail(w, r))
            return false;
        for (int h = 0; h < w->entry->n_holders[r]; h++)
            if (!write_holder(w, r, h))
                return false;
    }
    return true;
}

/* ---- orders ----------------------------------------------------------------------------------------------- */

/* Field by field: padding, and widths behind the last slit, are nobody's. */
static bool order_same(const struct kr_order *was, const struct kr_order *is)
{
    return was->n_slits == is->n_slits ORDER_FIELDS(SAME) &&
           memcmp(was->width_nm, is->width_nm, was->n_slits * sizeof was->width_nm[0]) == 0;
}

static bool add_slits(struct writing *w, int place, const struct kr_order *order)
{
    for (int i = 0; i < order->n_slits; i++) {
        struct bound b = sql_bind(&w->book->sql, SQL_ADD_SLIT);
        bind_number(&b, w->kept->id);
        bind_number(&b, place);
        bind_number(&b, i + 1);
        bind_number(&b, order->width_nm[i]);
        if (!run(w, &b, "slit"))
            return false;
    }
    return true;
}

static bool add_order(struct writing *w, int place, const struct kr_order *is)
{
    struct bound b = sql_bind(&w->book->sql, SQL_ADD_ORDER);
    bind_number(&b, w->kept->id);
    bind_number(&b, place);
    ORDER_FIELDS(BIND)
    return run(w, &b, "orders") && add_slits(w, place, is);
}

/* was_there and was are the stored ones. */
static bool write_order(struct writing *w, int place, uint8_t *was_there, struct kr_order *was, uint8_t is_there,
                        const struct kr_order *is)
{
    if (*was_there == is_there && (!is_there || order_same(was, is)))
        return true;
    struct bound b = sql_bind(&w->book->sql, SQL_DROP_ORDER);
    bind_number(&b, w->kept->id);
    bind_number(&b, place);
    bool ok = run(w, &b, "orders") && (!is_there || add_order(w, place, is));
    *was_there = is_there;
    *was = *is;
    return ok;
}

static bool write_queue(struct writing *w, struct kr_durable *was, const struct kr_durable *is)
{
    for (int i = 0; i < KR_QUEUE_MAX; i++) {
        uint8_t was_there = i < was->n_queued;
        if (!write_order(w, BOOK_QUEUED_1 + i, &was_there, &was->queue[i], i < is->n_queued, &is->queue[i]))
            return false;
    }
    was->n_queued = is->n_queued;
    return true;
}

static bool write_recipes(struct writing *w, struct kr_durable *was, const struct kr_durable *is)
{
    for (int i = 0; i < KR_RECIPES_MAX; i++) {
        uint8_t was_there = was->recipe[i].n_slits > 0;
        if (!write_order(w, BOOK_RECIPE_1 + i, &was_there, &was->recipe[i], is->recipe[i].n_slits > 0, &is->recipe[i]))
            return false;
    }
    return true;
}

static bool write_orders(struct writing *w)
{
    struct kr_durable *was = &w->kept->durable;
    const struct kr_durable *is = &w->entry->durable;
    return write_order(w, BOOK_STAGED, &was->staged, &was->staged_order, is->staged, &is->staged_order) &&
           write_order(w, BOOK_IN_FORCE, &was->in_force, &was->order, is->in_force, &is->order) &&
           write_queue(w, was, is) && write_recipes(w, was, is);
}

/* ---- verdicts --------------------------------------------------------------------------------------------- */

static bool verdict_same(const struct kr_verdict *was, const struct kr_verdict *is)
{
    return true VERDICT_FIELDS(SAME);
}

static bool add_verdict(struct writing *w, const struct kr_verdict *is)
{
    char sentence[KR_BOOK_TEXT_MAX];
    kr_result_text(&is->result, w->entry->length_unit, sentence, sizeof sentence);
    struct bound b = sql_bind(&w->book->sql, SQL_ADD_VERDICT);
    bind_number(&b, w->kept->id);
    bind_text(&b, w->at);
    VERDICT_FIELDS_BEFORE_3(BIND)
    bind_text(&b, sentence);
    VERDICT_TOLD_FIELDS(BIND)
    return run(w, &b, "verdict");
}

static bool write_verdict(struct writing *w)
{
    struct kr_verdict *was = &w->kept->durable.verdict;
    const struct kr_verdict *is = &w->entry->durable.verdict;
    if (verdict_same(was, is))
        return true;
    *was = *is;
    struct bound b = sql_bind(&w->book->sql, SQL_DROP_VERDICTS);
    bind_number(&b, w->kept->id);
    bind_number(&b, KR_BOOK_VERDICTS_KEPT - 1);
    return run(w, &b, "verdict") && add_verdict(w, is);
}

/* ---- maintenance requests --------------------------------------------------------------------------------- */

static bool edit_same(const struct kr_edit *was, const struct kr_edit *is)
{
    return strcmp(was->origin, is->origin) == 0 EDIT_FIELDS(SAME);
}

static bool add_edit_request(struct writing *w, const struct kr_edit *is)
{
    char sentence[KR_BOOK_TEXT_MAX];
    kr_result_text(&is->result, w->entry->length_unit, sentence, sizeof sentence);
    struct bound b = sql_bind(&w->book->sql, SQL_ADD_EDIT_REQUEST);
    bind_number(&b, w->kept->id);
    bind_text(&b, w->at);
    EDIT_ASKED_FIELDS(BIND)
    bind_text(&b, is->origin);
    EDIT_RESULT_FIELDS(BIND)
    bind_text(&b, sentence);
    return run(w, &b, "edit_request");
}

static bool write_edit_request(struct writing *w)
{
    struct kr_edit *was = &w->kept->durable.edit;
    const struct kr_edit *is = &w->entry->durable.edit;
    if (edit_same(was, is))
        return true;
    *was = *is;
    struct bound b = sql_bind(&w->book->sql, SQL_DROP_EDIT_REQUESTS);
    bind_number(&b, w->kept->id);
    bind_number(&b, KR_BOOK_VERDICTS_KEPT - 1);
    return run(w, &b, "edit_request") && add_edit_request(w, is);
}

/* ---- the ledger of knives --------------------------------------------------------------------------------- */

static bool write_knife_event(struct writing *w)
{
    struct kr_knife_event *was = &w->kept->durable.knife_event;
    const struct kr_knife_event *is = &w->entry->durable.knife_event;
    bool is_new = is->number != 0 && is->number != was->number;
    *was = *is;
    return !is_new || book_write_knife(w->book, w->kept->id, is, w->at, w->origin);
}

/* ---- test cuts -------------------------------------------------------------------------------------------- */

#define PROVEN_TEXT_MAX (2 * KR_RAILS_MAX * 12)

/* Writes "1/3 2/3 1/4 2/4": the edges beside a strip that were proven. */
static void proven_text(const struct kr_test_cut_strip *strip, char *text, size_t size)
{
    size_t n = 0;
    text[0] = '\0';
    for (int side = 0; side < 2; side++)
        for (int r = 0; r < KR_RAILS_MAX; r++)
            if (strip->proven[side][r] != 0)
                n += (size_t)snprintf(text + n, size - n, "%s%d/%d", n ? " " : "", r + 1, strip->proven[side][r]);
}

static bool add_strip(struct writing *w, const struct kr_test_cut *is, int slit)
{
    const struct kr_test_cut_strip *strip = &is->strip[slit];
    char proven[PROVEN_TEXT_MAX];
    proven_text(strip, proven, sizeof proven);
    struct bound b = sql_bind(&w->book->sql, SQL_ADD_TEST_CUT);
    bind_number(&b, w->kept->id);
    bind_text(&b, w->at);
    bind_text(&b, w->origin);
    bind_number(&b, is->order_number);
    bind_number(&b, is->rail);
    bind_number(&b, is->pairs_looked_at);
    bind_number(&b, slit + 1);
    bind_number(&b, strip->ordered_nm);
    if (strip->measured_nm != 0)
        bind_number(&b, strip->measured_nm);
    else
        bind_null(&b);
    bind_text(&b, proven);
    return run(w, &b, "test_cut");
}

static bool write_test_cut(struct writing *w)
{
    struct kr_test_cut *was = &w->kept->durable.test_cut;
    const struct kr_test_cut *is = &w->entry->durable.test_cut;
    bool ok = true;
    for (int i = 0; ok && is->number != 0 && is->number != was->number && i < is->n_strips; i++)
        ok = add_strip(w, is, i);
    *was = *is;
    return ok;
}

/* ---- changeovers ------------------------------------------------------------------------------------------ */

/* spent_ms: KR_N_SPENT of them; NULL: nothing counted them. */
static bool add_record(struct writing *w, const struct kr_record *is, const char *ended_at, const int32_t spent_ms[])
{
    char sentence[KR_BOOK_TEXT_MAX] = "";
    if (is->cause.code != KR_ALARM_NONE)
        kr_alarm_text(&is->cause, w->entry->length_unit, sentence, sizeof sentence);
    struct bound b = sql_bind(&w->book->sql, SQL_ADD_CHANGEOVER);
    bind_number(&b, w->kept->id);
    RECORD_NUMBER_FIELDS(BIND)
    bind_text(&b, ended_at);
    RECORD_JOB_FIELDS(BIND)
    RECORD_OUTCOME_FIELDS(BIND)
    RECORD_FIGURES_FIELDS(BIND)
    bind_text(&b, sentence);
    for (int i = 0; i < KR_N_SPENT; i++)
        bind_number(&b, spent_ms != NULL ? spent_ms[i] : 0);
    RECORD_TOLD_FIELDS(BIND)
    bind_number(&b, w->entry->durable.cut_metres); /* none are cut while a job runs */
    return run(w, &b, "changeover");
}

/* of: what the daemon noted of it; NULL: nothing. */
static bool add_record_rails(struct writing *w, int64_t changeover, const struct kr_record *record,
                             const struct kr_book_changeover *of)
{
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        const struct kr_record_rail *is = &record->rail[r];
        if (w->entry->n_holders[r] == 0)
            continue;
        struct bound b = sql_bind(&w->book->sql, SQL_ADD_CHANGEOVER_RAIL);
        bind_number(&b, changeover);
        bind_number(&b, r + 1);
        RECORD_RAIL_FIELDS_BEFORE_3(BIND)
        if (of != NULL && of->references_seen[r])
            bind_number(&b, of->reference_um[r]);
        else
            bind_null(&b);
        bind_number(&b, of != NULL ? of->role[r] : 0);
        RECORD_TIMING_FIELDS(BIND)
        if (!run(w, &b, "changeover_rail"))
            return false;
    }
    return true;
}

static bool add_holder(struct writing *w, int64_t changeover, int rail, int index, const struct kr_book_holder *holder)
{
    struct bound b = sql_bind(&w->book->sql, SQL_ADD_CHANGEOVER_HOLDER);
    bind_number(&b, changeover);
    bind_number(&b, rail + 1);
    bind_number(&b, index + 1);
    bind_number(&b, holder->cut);
    bind_number(&b, holder->target_um);
    bind_number(&b, holder->position_um);
    bind_number(&b, holder->known);
    if (holder->cut > 0 && holder->known == KR_MEASURED)
        bind_number(&b, (int64_t)holder->position_um - holder->target_um);
    else
        bind_null(&b);
    bind_number(&b, holder->state);
    bind_number(&b, holder->body_um);
    return run(w, &b, "changeover_holder");
}

static bool add_move(struct writing *w, int64_t changeover, int index, const struct kr_book_move *move)
{
    struct bound b = sql_bind(&w->book->sql, SQL_ADD_CHANGEOVER_MOVE);
    bind_number(&b, changeover);
    bind_number(&b, index + 1);
    bind_number(&b, move->rail);
    bind_number(&b, move->holder);
    bind_number(&b, move->from_um);
    bind_number(&b, move->to_um);
    bind_number(&b, move->start_ms);
    bind_number(&b, move->end_ms);
    return run(w, &b, "changeover_move");
}

static void bind_if(struct bound *b, bool is, int64_t number)
{
    if (is)
        bind_number(b, number);
    else
        bind_null(b);
}

static bool add_slit(struct writing *w, int64_t changeover, int index, const struct kr_book_slit *slit)
{
    struct bound b = sql_bind(&w->book->sql, SQL_ADD_CHANGEOVER_SLIT);
    bind_number(&b, changeover);
    bind_number(&b, index + 1);
    bind_number(&b, slit->left_um);
    bind_number(&b, slit->right_um);
    bind_number(&b, slit->width_nm);
    bind_if(&b, slit->measured_um != 0, slit->measured_um);
    return run(w, &b, "changeover_slit");
}

static bool add_web(struct writing *w, int64_t changeover, const struct kr_book_changeover *c)
{
    const struct kr_book_web *web = &c->web;
    struct bound b = sql_bind(&w->book->sql, SQL_ADD_CHANGEOVER_WEB);
    bind_number(&b, changeover);
    bind_text(&b, c->started_by);
    for (int side = 0; side < 2; side++)
        bind_if(&b, web->n_slits > 0, web->edge_um[side]);
    for (int side = 0; side < 2; side++)
        bind_if(&b, web->n_slits > 0, web->trim_nm[side]);
    bool ok = run(w, &b, "changeover_web");
    for (int i = 0; ok && i < web->n_slits; i++)
        ok = add_slit(w, changeover, i, &web->slit[i]);
    return ok;
}

static bool add_changeover(struct writing *w, const struct kr_book_changeover *changeover)
{
    char ended_at[KR_BOOK_TIME_MAX];
    kr_book_time_text(changeover->ended_utc_ms, ended_at);
    if (!add_record(w, &changeover->record, ended_at, changeover->spent_ms))
        return false;
    int64_t id = sqlite3_last_insert_rowid(w->book->sql.db);
    if (!add_record_rails(w, id, &changeover->record, changeover) || !add_web(w, id, changeover))
        return false;
    for (int r = 0; r < KR_RAILS_MAX; r++)
        for (int h = 0; h < changeover->n_holders[r]; h++)
            if (!add_holder(w, id, r, h, &changeover->holder[r][h]))
                return false;
    for (int m = 0; m < changeover->n_moves; m++)
        if (!add_move(w, id, m, &changeover->move[m]))
            return false;
    w->kept->durable.record = changeover->record;
    return true;
}

/* The record that the station carries on is stored with its details where the daemon gave them, else alone. */
static bool write_changeovers(struct writing *w)
{
    for (int i = 0; i < w->entry->n_changeovers; i++)
        if (!add_changeover(w, &w->entry->changeover[i]))
            return false;
    const struct kr_record *record = &w->entry->durable.record;
    if (record->number == w->kept->durable.record.number)
        return true;
    w->kept->durable.record = *record;
    return add_record(w, record, w->at, NULL) &&
           add_record_rails(w, sqlite3_last_insert_rowid(w->book->sql.db), record, NULL);
}

/* ---- alarms, and the whole -------------------------------------------------------------------------------- */

static bool add_alarm(struct writing *w, const struct kr_book_alarm *alarm)
{
    char at[KR_BOOK_TIME_MAX], sentence[KR_BOOK_TEXT_MAX];
    kr_book_time_text(alarm->at_utc_ms, at);
    kr_alarm_text(&alarm->alarm, w->entry->length_unit, sentence, sizeof sentence);
    struct bound b = sql_bind(&w->book->sql, SQL_ADD_ALARM);
    bind_number(&b, w->kept->id);
    bind_text(&b, at);
    bind_number(&b, alarm->raised);
    bind_number(&b, alarm->alarm.code);
    bind_number(&b, alarm->alarm.rail);
    bind_number(&b, alarm->alarm.item);
    bind_number(&b, alarm->alarm.value);
    bind_number(&b, alarm->alarm.limit);
    bind_text(&b, sentence);
    return run(w, &b, "alarm");
}

static bool write_alarms(struct writing *w)
{
    for (int i = 0; i < w->entry->n_alarms; i++)
        if (!add_alarm(w, &w->entry->alarm[i]))
            return false;
    return true;
}

/* Comes last: the seal is of all that was written before. */
static bool write_station(struct writing *w)
{
    const struct kr_durable *is = &w->entry->durable;
    struct kr_durable *was = &w->kept->durable;
    was->serial = is->serial;
    STATION_FIELDS(KEEP)
    struct bound b = sql_bind(&w->book->sql, SQL_SET_STATION);
    bind_number(&b, is->serial);
    bind_text(&b, w->at);
    bind_number(&b, book_seal(w->kept));
    bind_number(&b, w->entry->length_unit);
    STATION_FIELDS(BIND)
    bind_number(&b, w->kept->id);
    return run(w, &b, "station");
}

bool book_write(struct kr_book *book, struct kept *kept, const struct kr_book_entry *entry, const char *origin)
{
    struct writing w = {.book = book, .kept = kept, .entry = entry};
    /* While a gateway runs, holders are changed by a maintenance request only, which is stored in the same commit. */
    w.origin = origin != NULL ? origin : entry->durable.edit.origin;
    kr_book_time_text(entry->now_utc_ms, w.at);
    return write_rails(&w) && write_orders(&w) && write_verdict(&w) && write_edit_request(&w) &&
           write_knife_event(&w) && write_test_cut(&w) && write_changeovers(&w) && write_alarms(&w) &&
           write_station(&w);
}
