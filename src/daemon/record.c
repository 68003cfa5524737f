#include "record.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "clock.h"
#include "words.h"

/* ---- noting ----------------------------------------------------------------------------------------------- */

void recorder_open(struct recorder *recorder, const struct kr_station *station)
{
    memset(recorder, 0, sizeof *recorder);
    recorder->state = kr_station_state(station);
    recorder->number = kr_station_durable(station)->record.number;
}

static int32_t since_start_ms(const struct recorder *recorder)
{
    int64_t ms = (recorder->now_us - recorder->start_us) / 1000;
    return ms < INT32_MAX ? (int32_t)ms : INT32_MAX;
}

static void add_move(struct recorder *recorder, uint16_t rail, int32_t to_um)
{
    struct kr_book_changeover *c = &recorder->changeover;
    if (to_um == recorder->from_um[rail])
        return; /* docking was given up, or the drag ended where it had begun */
    if (c->n_moves == KR_BOOK_MOVES_MAX) {
        c->moves_left_out++;
        return;
    }
    c->move[c->n_moves++] = (struct kr_book_move){.rail = (uint16_t)(rail + 1),
                                                  .holder = recorder->docking[rail],
                                                  .from_um = recorder->from_um[rail],
                                                  .to_um = to_um,
                                                  .start_ms = recorder->from_ms[rail],
                                                  .end_ms = since_start_ms(recorder)};
}

/* A move begins when its holder is marked as possibly in motion, and ends when this mark is removed. */
static void watch_rail(struct recorder *recorder, const struct kr_durable *durable, uint16_t rail)
{
    uint16_t was = recorder->docking[rail], is = durable->docking[rail];
    if (was == is)
        return;
    if (was != 0)
        add_move(recorder, rail, durable->holder[rail][was - 1].position_um);
    recorder->docking[rail] = is;
    if (is == 0)
        return;
    recorder->from_um[rail] = durable->holder[rail][is - 1].position_um;
    recorder->from_ms[rail] = since_start_ms(recorder);
}

/* ---- what the time is spent on ------------------------------------------------------------------------------ */

#define AT(phase) (1u << KR_CARRIAGE_##phase)
#define DOCKED_AT (AT(DOCKING) | AT(FREEING) | AT(SETTLING) | AT(BRAKING) | AT(UNDOCKING) | AT(BACKING))

static bool some_carriage_is(const struct kr_station_steps *steps, uint32_t phases)
{
    for (int r = 0; r < KR_RAILS_MAX; r++)
        if (phases & 1u << steps->rail[r].phase)
            return true;
    return false;
}

/* Includes Complete, because the cycle in which the record is made ends in this state. */
static bool job_goes_on(uint16_t unit_state)
{
    return unit_state == KR_STATE_STARTING || unit_state == KR_STATE_EXECUTE || unit_state == KR_STATE_COMPLETING ||
           unit_state == KR_STATE_COMPLETE;
}

/* A rail without moves is in phase 0, off. */
static enum kr_spent spent_on(const struct kr_station_steps *steps, bool correcting)
{
    if (!job_goes_on(steps->unit_state))
        return KR_SPENT_HELD;
    if (correcting)
        return KR_SPENT_CORRECTING;
    if (steps->phase == KR_PHASE_SCAN || steps->phase == KR_PHASE_VERIFY)
        return KR_SPENT_SCANNING;
    if (some_carriage_is(steps, AT(DRAGGING)))
        return KR_SPENT_DRAGGING;
    if (some_carriage_is(steps, DOCKED_AT))
        return KR_SPENT_DOCKING;
    return some_carriage_is(steps, AT(TRAVELLING)) ? KR_SPENT_TRAVELLING : KR_SPENT_WAITING;
}

/* After its verification, a changeover makes another plan only to correct what the verification has found. After an
 * interruption, it begins with releasing its pins. */
static void count_time(struct recorder *recorder, const struct kr_station *station, int32_t dt_us)
{
    struct kr_station_steps steps;
    if (recorder->state == KR_STATE_IDLE)
        return;
    kr_station_steps(station, &steps);
    if (steps.phase == KR_PHASE_FREE)
        recorder->correcting = false;
    else if (steps.job == KR_JOB_CHANGEOVER && recorder->phase == KR_PHASE_VERIFY && steps.phase == KR_PHASE_PLAN)
        recorder->correcting = true;
    recorder->phase = (enum kr_phase)steps.phase;
    recorder->spent_us[spent_on(&steps, recorder->correcting)] += dt_us;
}

/* Each time is the difference of two rounded sums, in whole milliseconds, so that the times add up to the whole
 * time. */
static void round_times(const struct recorder *recorder, int32_t spent_ms[KR_N_SPENT])
{
    int64_t sum_us = 0, sum_ms = 0;
    for (int i = 0; i < KR_N_SPENT; i++) {
        sum_us += recorder->spent_us[i];
        int64_t ms = sum_us / 1000 - sum_ms;
        spent_ms[i] = ms < INT32_MAX ? (int32_t)ms : INT32_MAX;
        sum_ms = sum_us / 1000;
    }
}

/* ---- a changeover ------------------------------------------------------------------------------------------- */

static void begin(struct recorder *recorder)
{
    recorder->start_us = recorder->now_us;
    recorder->correcting = false;
    recorder->phase = KR_PHASE_NONE;
    memset(recorder->spent_us, 0, sizeof recorder->spent_us);
    memcpy(recorder->changeover.started_by, recorder->asked_by, sizeof recorder->asked_by);
    recorder->changeover.n_moves = recorder->changeover.moves_left_out = 0;
}

void recorder_command(struct recorder *recorder, const char *origin)
{
    snprintf(recorder->asked_by, sizeof recorder->asked_by, "%s", origin);
}

static int32_t slit_edge_um(const struct kr_cuts *cuts, int edge)
{
    int cut = edge - cuts->first_slit_edge;
    return cut < 0 ? cuts->web_left_um : cut >= cuts->n_cuts ? cuts->web_right_um : cuts->cut_um[cut];
}

/* The measured widths are taken from the registers. */
static void keep_web(struct kr_book_web *web, const struct kr_order *order, const struct kr_cuts *cuts,
                     const struct kr_image *image)
{
    web->n_slits = order->n_slits;
    web->edge_um[0] = cuts->web_left_um;
    web->edge_um[1] = cuts->web_right_um;
    memcpy(web->trim_nm, cuts->trim_nm, sizeof web->trim_nm);
    for (uint16_t i = 0; i < order->n_slits; i++)
        web->slit[i] = (struct kr_book_slit){.left_um = slit_edge_um(cuts, i),
                                             .right_um = slit_edge_um(cuts, i + 1),
                                             .width_nm = order->width_nm[i],
                                             .measured_um = kr_get_um(image, KR_REG_SLIT_MEASURED, 0, i)};
}

static struct kr_book_holder holder_of(const struct kr_holder_data *data, const struct kr_geometry *geometry,
                                       const struct kr_plan_holder *planned)
{
    return (struct kr_book_holder){.cut = planned != NULL ? planned->cut : 0,
                                   .target_um = planned != NULL ? planned->target_um : 0,
                                   .known = data->known,
                                   .position_um = data->position_um,
                                   .state = data->state,
                                   .body_um = geometry->size_spacing_um[data->holder_size - 1]};
}

static void finish(struct recorder *recorder, const struct kr_station *station, const struct kr_geometry *geometry,
                   const struct kr_image *image)
{
    struct kr_book_changeover *c = &recorder->changeover;
    const struct kr_durable *durable = kr_station_durable(station);
    const struct kr_plan *plan = kr_station_plan_valid(station) ? kr_station_plan(station) : NULL;
    c->ended_utc_ms = clock_utc_ms();
    c->record = durable->record;
    round_times(recorder, c->spent_ms);
    c->web.n_slits = 0;
    if (plan != NULL && plan->cuts.n_cuts > 0 && durable->in_force)
        keep_web(&c->web, &durable->order, &plan->cuts, image);
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++) {
        c->n_holders[r] = r < geometry->n_rails ? geometry->rail[r].n_holders : 0;
        c->role[r] = r < geometry->n_rails ? (uint8_t)geometry->rail[r].role : KR_UPPER;
        c->references_seen[r] = durable->references[r].seen != 0;
        c->reference_um[r] = durable->references[r].trend_um[0];
        for (uint16_t h = 0; h < c->n_holders[r]; h++)
            c->holder[r][h] =
                holder_of(&durable->holder[r][h], geometry, plan != NULL ? &plan->rail[r].holder[h] : NULL);
    }
}

const struct kr_book_changeover *recorder_step(struct recorder *recorder, const struct kr_station *station,
                                               const struct kr_geometry *geometry, struct kr_image *image,
                                               int32_t dt_us)
{
    const struct kr_durable *durable = kr_station_durable(station);
    enum kr_unit_state state = kr_station_state(station);
    recorder->now_us += dt_us;
    if (recorder->state == KR_STATE_IDLE && state != KR_STATE_IDLE)
        begin(recorder);
    recorder->state = state;
    count_time(recorder, station, dt_us);
    if (durable->serial == recorder->serial)
        return NULL;
    recorder->serial = durable->serial;
    for (uint16_t r = 0; r < geometry->n_rails; r++)
        watch_rail(recorder, durable, r);
    if (durable->record.number == recorder->number)
        return NULL;
    recorder->number = durable->record.number;
    kr_station_image(station, image);
    finish(recorder, station, geometry, image);
    return &recorder->changeover;
}

/* ---- telling ---------------------------------------------------------------------------------------------- */

static json_t *cause_of(const struct kr_record *record, enum kr_length_unit unit)
{
    char text[KR_BOOK_TEXT_MAX];
    if (record->cause.code == KR_ALARM_NONE)
        return json_null();
    kr_alarm_text(&record->cause, unit, text, sizeof text);
    return json_pack("{s:i, s:i, s:i, s:i, s:i, s:s}", "code", record->cause.code, "rail", record->cause.rail, "item",
                     record->cause.item, "value", record->cause.value, "limit", record->cause.limit, "text", text);
}

static json_t *rails_of(const struct kr_book_changeover *c)
{
    json_t *rails = json_array();
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        const struct kr_record_rail *rail = &c->record.rail[r];
        if (c->n_holders[r] > 0)
            json_array_append_new(rails,
                                  json_pack("{s:i, s:i, s:i, s:i, s:i, s:i}", "rail", r + 1, "moves", rail->moves,
                                            "corrections", rail->corrections, "retries", rail->retries, "worst_holder",
                                            rail->worst_holder, "worst_um", rail->worst_um));
    }
    return rails;
}

/* ---- in lines ---------------------------------------------------------------------------------------------- */

#define MOVES_A_LINE 250

/* The part that all lines of a record have in common, and the function that takes them. */
struct telling {
    const char *station;
    uint16_t session;
    const struct kr_book_changeover *changeover;
    void (*each)(const char *line);
    int parts;
    bool ok;
};

/* After a failed allocation jansson returns NULL, and every object that should contain the missing one is NULL, too. */
static void tell(struct telling *t, const char *name, json_t *object)
{
    json_t *line = json_pack("{s:o}", name, object);
    char *text = line != NULL ? json_dumps(line, JSON_COMPACT) : NULL;
    json_decref(line);
    t->ok = t->ok && text != NULL;
    if (text != NULL)
        t->each(text);
    free(text);
}

/* Takes over the references to columns and rows. */
static void tell_part(struct telling *t, int rail, const char *what, json_t *columns, json_t *rows)
{
    t->parts++;
    tell(t, "record_part",
         json_pack("{s:s, s:i, s:i, s:i, s:{s:o, s:o}}", "station", t->station, "session", t->session, "number",
                   t->changeover->record.number, "rail", rail, what, "columns", columns, "rows", rows));
}

static json_t *holder_row(int index, const struct kr_book_holder *h)
{
    json_t *row = json_pack("[i, i, i, i, s]", index + 1, h->cut, h->target_um, h->position_um,
                            kr_number_word("HOLDER_KNOWN", h->known));
    bool measured = h->cut > 0 && h->known == KR_MEASURED;
    json_array_append_new(row, measured ? json_integer(h->position_um - h->target_um) : json_null());
    return row;
}

static void tell_holders(struct telling *t, int rail)
{
    const struct kr_book_changeover *c = t->changeover;
    json_t *rows = json_array();
    for (int h = 0; h < c->n_holders[rail]; h++)
        json_array_append_new(rows, holder_row(h, &c->holder[rail][h]));
    tell_part(t, rail + 1, "holders",
              json_pack("[s, s, s, s, s, s]", "holder", "cut", "target_um", "position_um", "known", "deviation_um"),
              rows);
}

static void tell_moves(struct telling *t, int rail)
{
    const struct kr_book_changeover *c = t->changeover;
    for (int i = 0; i < c->n_moves;) {
        json_t *rows = json_array();
        for (; i < c->n_moves && json_array_size(rows) < MOVES_A_LINE; i++)
            if (c->move[i].rail == rail + 1)
                json_array_append_new(rows,
                                      json_pack("[i, i, i, i, i, i]", i + 1, c->move[i].holder, c->move[i].from_um,
                                                c->move[i].to_um, c->move[i].start_ms, c->move[i].end_ms));
        if (json_array_size(rows) == 0)
            json_decref(rows);
        else
            tell_part(t, rail + 1, "moves",
                      json_pack("[s, s, s, s, s, s]", "move", "holder", "from_um", "to_um", "start_ms", "end_ms"),
                      rows);
    }
}

static json_t *summary(const struct telling *t, enum kr_length_unit unit)
{
    char ended[CLOCK_TEXT_MAX], job[WORD_MAX];
    const struct kr_book_changeover *c = t->changeover;
    const struct kr_record *r = &c->record;
    clock_text(c->ended_utc_ms, ended);
    return json_pack("{s:s, s:i, s:i, s:s, s:s, s:I, s:s, s:i, s:i, s:i, s:i, s:i, s:i, s:i, s:o, s:o, s:i}", "station",
                     t->station, "session", t->session, "number", r->number, "ended", ended, "job",
                     word_for("COMMAND_JOB", r->job, job), "order", (json_int_t)r->order_number, "result",
                     kr_number_word("RECORD_RESULT", r->outcome), "planned_ms", r->planned_ms, "actual_ms",
                     r->actual_ms, "told_ms", r->told_ms, "total_ms", r->total_ms, "worst_pair_um", r->worst_pair_um,
                     "worst_slit_um", r->worst_slit_um, "moves_left_out", c->moves_left_out, "cause", cause_of(r, unit),
                     "rails", rails_of(c), "parts", t->parts);
}

bool record_tell(const char *station, uint16_t session, enum kr_length_unit unit, const struct kr_book_changeover *c,
                 void (*each)(const char *line))
{
    struct telling t = {.station = station, .session = session, .changeover = c, .each = each, .ok = true};
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        if (c->n_holders[r] == 0)
            continue;
        tell_holders(&t, r);
        tell_moves(&t, r);
    }
    tell(&t, "record", summary(&t, unit));
    return t.ok;
}
