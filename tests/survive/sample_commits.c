#include "sample_commits.h"

#include <string.h>

#include "fields.h"

#define HOLDERS 5

const char *sample_station(int station)
{
    return station == 0 ? "osier mill, slitter 1" : "osier mill, slitter 2";
}

int sample_whose(int i)
{
    return i % 3 == 0 ? 1 : 0;
}

/* ---- what changes with each commit ------------------------------------------------------------------------- */

static struct kr_order an_order(int i)
{
    struct kr_order order = {.order_number = (uint32_t)(7000 + i),
                             .n_slits = (uint16_t)(3 + i % 5),
                             .alignment = KR_FROM_OPERATOR_EDGE,
                             .compensation_ppm = -i,
                             .web_width_nm = 1300000000 + i,
                             .trim_nm = 12000000,
                             .shift_nm = -i};
    for (uint16_t k = 0; k < order.n_slits; k++) {
        order.width_nm[k] = 200000000 + 1000 * k + i;
        order.sum_nm += order.width_nm[k];
    }
    return order;
}

static void apply_holders(struct kr_durable *d, int i)
{
    for (int h = 0; h < HOLDERS; h++)
        if (i == 1 || i == 2 || i == 3 || h == i % HOLDERS)
            d->holder[0][h] = (struct kr_holder_data){.position_um = 100000 * (h + 1) + i,
                                                      .edge_offset_um = 10000 + i / 4,
                                                      .dock_retries = (uint16_t)(i / 5),
                                                      .metres = 100u * (uint32_t)i,
                                                      .known = (uint8_t)((h + i) % 4),
                                                      .holder_size = (uint8_t)(1 + (i / 7 + h) % 3),
                                                      .state = (uint8_t)(h == 4 ? i / 6 % 4 : 0),
                                                      .origin = (uint8_t)((h + i / 3) % 3),
                                                      .was_known = (uint8_t)((h + i / 2) % 4),
                                                      .cut = (uint16_t)((h + i) % 6)};
    d->docking[0] = (uint16_t)(i % 2 ? i % HOLDERS + 1 : 0);
    d->clamp_open[1] = i % 4 == 2;
    d->datum_doubted[0] = i % 5 == 4;
    d->rests[0] = i % 3 == 1;
    d->rest_um[0] = 1000 * i;
    d->shift_um[0] = -10 * i;
    d->references[0] = (struct kr_reference_knowledge){.correction = {i, i / 2, -i, 2 * i, 3 * i},
                                                       .seen = i % 2 == 1,
                                                       .good = (uint8_t)i,
                                                       .trend_um = {i, -i},
                                                       .width_um = {8 * i, 0, i}};
    d->frame_origin[0] = (uint8_t)(1 + i % 2);
    d->frame_before[0] = d->frame[0];
    d->frame[0] = (struct kr_frame){.offset_um = -i, .scale_ppb = 10 * i, .n_points = (uint16_t)(i % 4)};
    for (int k = 0; k < i % 4; k++)
        d->frame[0].point[k] = (struct kr_frame_point){100000 * k + i, i + k};
    d->switch_origin[0] = (uint8_t)(1 + i % 2);
    d->switch_before[0] = d->of_switch[0];
    d->of_switch[0] = (struct kr_switch){.offset_um = 3 * i, .bias_um = i / 3};
    d->times_origin[0] = (uint8_t)(1 + i % 2);
    d->times_before[0] = d->times[0];
    d->times[0] = (struct kr_rail_times){1000 * i, 2000 * i, 30 * i, i / 3};
    d->access_count[1] = (uint16_t)(i / 2);
    d->proof[0] = (uint32_t)(i % 4 ? 4000000000u + (unsigned)i : 0);
    d->proof_inputs[1] = (uint16_t)i;
    d->was_verified = i % 3 == 2;
    d->fell = i > 2;
    d->cut_metres = (uint32_t)(700 * i);
    d->fell_metres = (uint32_t)(i > 2 ? 3000000000u + (unsigned)i : 0);
}

/* A request is judged, and an accepted one staged; some commits later it is put in force, or cancelled. */
static void apply_orders(struct kr_durable *d, int i)
{
    if (i % 4 == 1 || i % 4 == 2) {
        d->staged = 1;
        d->staged_order = an_order(i);
        d->verdict = (struct kr_verdict){.session = 1,
                                         .number = (uint16_t)i,
                                         .kind = KR_REQUEST_STAGE,
                                         .order_number = d->staged_order.order_number,
                                         .slit_count = d->staged_order.n_slits,
                                         .sum_nm = d->staged_order.sum_nm,
                                         .time_ms = 1000 * i};
    } else if (d->staged && i % 4 == 3) {
        d->order = d->staged_order;
        d->in_force = 1;
        d->staged = 0;
    } else if (d->staged) {
        d->staged = 0;
        d->verdict = (struct kr_verdict){.session = 1, .number = (uint16_t)i, .kind = KR_REQUEST_CANCEL};
    }
}

/* One waits behind the other, and the first moves up; a recipe comes and goes. */
static void apply_waiting(struct kr_durable *d, int i)
{
    d->n_queued = (uint16_t)(i % 3);
    for (int k = 0; k < d->n_queued; k++)
        d->queue[k] = an_order(i + k);
    d->recipe[i % 2] = an_order(i);
    if (i % 5 == 0)
        d->recipe[0].n_slits = 0;
}

static void apply_edit(struct kr_durable *d, int i)
{
    if (i % 2 == 0)
        return;
    d->edit = (struct kr_edit){.session = 1,
                               .number = (uint16_t)i,
                               .kind = KR_EDIT_REGRIND,
                               .rail = 1,
                               .holder = (uint16_t)(i % HOLDERS + 1),
                               .edge_offset_um = -i,
                               .result = {KR_EDGE_OFFSET, 1, 2, -i, i},
                               .origin = "192.0.2.17"};
}

#define OF_TEST_CUT(i) ((i) % 5 == 0 && (i) % 3 != 0) /* the commit has a test cut of two strips */

/* Only this commit's: a station that starts has none. */
static void apply_test_cut(struct kr_durable *d, int i)
{
    static const struct kr_test_cut none = {.number = 0};
    d->test_cut = none;
    if (OF_TEST_CUT(i))
        d->test_cut =
            (struct kr_test_cut){.number = (uint32_t)i,
                                 .order_number = d->order.order_number,
                                 .rail = 1,
                                 .n_strips = 2,
                                 .strip = {{200000000, 200000000 + i, {{1, 0}, {0, 3}}}, {200001000, 0, {{0}}}}};
}

static void apply_record(struct kr_durable *d, int i)
{
    if (i % 4 != 0)
        return;
    d->record = (struct kr_record){.number = (uint16_t)(d->record.number + 1),
                                   .outcome = KR_OUTCOME_VERIFIED,
                                   .job = KR_JOB_CHANGEOVER,
                                   .order_number = d->order.order_number,
                                   .planned_ms = 60000 + i,
                                   .actual_ms = 61000,
                                   .total_ms = 99000,
                                   .worst_pair_um = -i,
                                   .rail[0] = {4, 1, 0, 2, 33, 5, 4, 9, 3100, 2000, 70, 20}};
}

static void apply(struct kr_durable *d, int i)
{
    d->serial += (uint32_t)(1 + i % 3);
    apply_holders(d, i);
    apply_orders(d, i);
    apply_waiting(d, i);
    apply_edit(d, i);
    apply_test_cut(d, i);
    apply_record(d, i);
}

const struct kr_durable *sample_durable(int station, int i)
{
    static struct kr_durable d;
    memset(&d, 0, sizeof d);
    for (int k = 1; k <= i; k++)
        if (sample_whose(k) == station)
            apply(&d, k);
    return &d;
}

/* ---- the entry ---------------------------------------------------------------------------------------------- */

static void add_changeover(struct kr_book_entry *entry, int i)
{
    struct kr_book_changeover *c = &entry->changeover[entry->n_changeovers++];
    *c = (struct kr_book_changeover){.record = entry->durable.record,
                                     .web = {.n_slits = 1, .edge_um = {0, 1200}, .slit = {{100, 1100, 1000000, i}}},
                                     .n_holders = {HOLDERS},
                                     .n_moves = 9};
    for (int h = 0; h < HOLDERS; h++)
        c->holder[0][h] = (struct kr_book_holder){
            .cut = (uint16_t)(h + 1), .known = KR_MEASURED, .target_um = 100000 * h, .position_um = 100000 * h + i};
    for (int m = 0; m < c->n_moves; m++)
        c->move[m] = (struct kr_book_move){1, (uint16_t)(m % HOLDERS + 1), m, m + i, 1000 * m, 1000 * m + 900};
}

const struct kr_book_entry *sample_entry(int i)
{
    static struct kr_book_entry entry;
    memset(&entry, 0, sizeof entry);
    entry.now_utc_ms = 1772346600000 + 1000 * i;
    entry.durable = *sample_durable(sample_whose(i), i);
    entry.n_holders[0] = HOLDERS;
    entry.n_alarms = (uint16_t)(i % 3);
    for (int k = 0; k < entry.n_alarms; k++)
        entry.alarm[k] = (struct kr_book_alarm){entry.now_utc_ms, k == 0, {KR_ALARM_FLAG_MISSING, 1, 4, 3, 4}};
    if (i % 4 == 0)
        add_changeover(&entry, i);
    return &entry;
}

/* ---- the same ------------------------------------------------------------------------------------------------ */

/* A row of the book's list of fields: the field is the same in a and b. */
#define SAME(field, column, type, sealed) &&a->field == b->field

static bool same_order(const struct kr_order *a, const struct kr_order *b)
{
    return a->n_slits == b->n_slits ORDER_FIELDS(SAME) &&
           memcmp(a->width_nm, b->width_nm, a->n_slits * sizeof a->width_nm[0]) == 0;
}

static bool same_holder(const struct kr_holder_data *a, const struct kr_holder_data *b)
{
    return true HOLDER_FIELDS(SAME);
}

static bool same_points(const struct kr_frame *a, const struct kr_frame *b)
{
    return a->n_points == b->n_points && memcmp(a->point, b->point, sizeof a->point) == 0;
}

static bool same_holders(const struct kr_durable *a, const struct kr_durable *b)
{
    if (!(true STATION_FIELDS(SAME)))
        return false;
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        if (!(true RAIL_FIELDS(SAME)) || !same_points(&a->frame[r], &b->frame[r]) ||
            !same_points(&a->frame_before[r], &b->frame_before[r]))
            return false;
        for (int h = 0; h < KR_HOLDERS_MAX; h++)
            if (!same_holder(&a->holder[r][h], &b->holder[r][h]))
                return false;
    }
    return true;
}

static bool same_verdict(const struct kr_verdict *a, const struct kr_verdict *b)
{
    return true VERDICT_FIELDS(SAME);
}

static bool same_record_rail(const struct kr_record_rail *a, const struct kr_record_rail *b)
{
    return true RECORD_RAIL_FIELDS(SAME);
}

static bool same_record(const struct kr_record *a, const struct kr_record *b)
{
    for (int r = 0; r < KR_RAILS_MAX; r++)
        if (!same_record_rail(&a->rail[r], &b->rail[r]))
            return false;
    return true RECORD_FIELDS(SAME);
}

static bool same_waiting(const struct kr_durable *a, const struct kr_durable *b)
{
    if (a->n_queued != b->n_queued)
        return false;
    for (int i = 0; i < a->n_queued; i++)
        if (!same_order(&a->queue[i], &b->queue[i]))
            return false;
    for (int i = 0; i < KR_RECIPES_MAX; i++)
        if (a->recipe[i].n_slits != b->recipe[i].n_slits ||
            (a->recipe[i].n_slits > 0 && !same_order(&a->recipe[i], &b->recipe[i])))
            return false;
    return true;
}

static bool same_edit(const struct kr_edit *a, const struct kr_edit *b)
{
    return strcmp(a->origin, b->origin) == 0 EDIT_FIELDS(SAME);
}

int sample_strips(int i)
{
    int n = 0;
    for (int k = 1; k <= i; k++)
        n += OF_TEST_CUT(k) ? 2 : 0;
    return n;
}

bool sample_same(const struct kr_durable *a, const struct kr_durable *b)
{
    return a->serial == b->serial && a->staged == b->staged && a->in_force == b->in_force &&
           (!a->staged || same_order(&a->staged_order, &b->staged_order)) &&
           (!a->in_force || same_order(&a->order, &b->order)) && same_holders(a, b) && same_waiting(a, b) &&
           same_verdict(&a->verdict, &b->verdict) && same_edit(&a->edit, &b->edit) &&
           same_record(&a->record, &b->record);
}
