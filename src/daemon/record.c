#include "record.h"

#include <jansson.h>
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
        return; /* docking was given up, or a drag ended where it began */
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

/* A move begins when its holder is marked as one that may be in motion, and ends when the mark is taken off. */
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

static void begin(struct recorder *recorder)
{
    recorder->start_us = recorder->now_us;
    recorder->changeover.n_moves = recorder->changeover.moves_left_out = 0;
}

static void finish(struct recorder *recorder, const struct kr_station *station,
                   const struct kr_geometry *geometry)
{
    struct kr_book_changeover *c = &recorder->changeover;
    const struct kr_durable *durable = kr_station_durable(station);
    const struct kr_plan *plan = kr_station_plan_valid(station) ? kr_station_plan(station) : NULL;
    c->ended_utc_ms = clock_utc_ms();
    c->record = durable->record;
    for (uint16_t r = 0; r < KR_RAILS_MAX; r++) {
        c->n_holders[r] = r < geometry->n_rails ? geometry->rail[r].n_holders : 0;
        for (uint16_t h = 0; h < c->n_holders[r]; h++) {
            const struct kr_holder_data *data = &durable->holder[r][h];
            c->holder[r][h] =
                (struct kr_book_holder){.cut = plan != NULL ? plan->rail[r].holder[h].cut : 0,
                                        .target_um = plan != NULL ? plan->rail[r].holder[h].target_um : 0,
                                        .known = data->known,
                                        .position_um = data->position_um};
        }
    }
}

const struct kr_book_changeover *recorder_step(struct recorder *recorder, const struct kr_station *station,
                                               const struct kr_geometry *geometry, int32_t dt_us)
{
    const struct kr_durable *durable = kr_station_durable(station);
    enum kr_unit_state state = kr_station_state(station);
    recorder->now_us += dt_us;
    if (recorder->state == KR_STATE_IDLE && state != KR_STATE_IDLE)
        begin(recorder);
    recorder->state = state;
    if (durable->serial == recorder->serial)
        return NULL;
    recorder->serial = durable->serial;
    for (uint16_t r = 0; r < geometry->n_rails; r++)
        watch_rail(recorder, durable, r);
    if (durable->record.number == recorder->number)
        return NULL;
    recorder->number = durable->record.number;
    finish(recorder, station, geometry);
    return &recorder->changeover;
}

/* ---- telling ---------------------------------------------------------------------------------------------- */

static json_t *cause_of(const struct kr_record *record, enum kr_length_unit unit)
{
    char text[KR_BOOK_TEXT_MAX];
    if (record->cause.code == KR_ALARM_NONE)
        return json_null();
    kr_alarm_text(&record->cause, unit, text, sizeof text);
    return json_pack("{s:i, s:i, s:i, s:i, s:i, s:s}", "code", record->cause.code, "rail", record->cause.rail,
                     "item", record->cause.item, "value", record->cause.value, "limit", record->cause.limit,
                     "text", text);
}

static json_t *rails_of(const struct kr_book_changeover *c)
{
    json_t *rails = json_array();
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        const struct kr_record_rail *rail = &c->record.rail[r];
        if (c->n_holders[r] > 0)
            json_array_append_new(rails, json_pack("{s:i, s:i, s:i, s:i, s:i, s:i}", "rail", r + 1, "moves",
                                                   rail->moves, "corrections", rail->corrections, "retries",
                                                   rail->retries, "worst_holder", rail->worst_holder,
                                                   "worst_um", rail->worst_um));
    }
    return rails;
}

static json_t *moves_of(const struct kr_book_changeover *c)
{
    json_t *moves = json_array();
    for (int i = 0; i < c->n_moves; i++) {
        const struct kr_book_move *m = &c->move[i];
        json_array_append_new(moves, json_pack("{s:i, s:i, s:i, s:i, s:i, s:i}", "rail", m->rail, "holder",
                                               m->holder, "from_um", m->from_um, "to_um", m->to_um,
                                               "start_ms", m->start_ms, "end_ms", m->end_ms));
    }
    return moves;
}

static json_t *holder_of(int rail, int index, const struct kr_book_holder *h)
{
    json_t *holder = json_pack("{s:i, s:i, s:i, s:i, s:i, s:s}", "rail", rail + 1, "holder", index + 1, "cut",
                               h->cut, "target_um", h->target_um, "position_um", h->position_um, "known",
                               kr_number_word("HOLDER_KNOWN", h->known));
    if (h->cut > 0 && h->known == KR_MEASURED)
        json_object_set_new(holder, "deviation_um", json_integer(h->position_um - h->target_um));
    return holder;
}

static json_t *holders_of(const struct kr_book_changeover *c)
{
    json_t *holders = json_array();
    for (int r = 0; r < KR_RAILS_MAX; r++)
        for (int h = 0; h < c->n_holders[r]; h++)
            json_array_append_new(holders, holder_of(r, h, &c->holder[r][h]));
    return holders;
}

/* jansson passes a failed allocation on: whatever holds it can't be made either, and the whole comes out as NULL. */
char *record_json(const char *station, uint16_t session, enum kr_length_unit unit,
                  const struct kr_book_changeover *c)
{
    char ended[CLOCK_TEXT_MAX], job[WORD_MAX];
    const struct kr_record *r = &c->record;
    clock_text(c->ended_utc_ms, ended);
    json_t *record =
        json_pack("{s:s, s:i, s:i, s:s, s:s, s:I, s:s, s:i, s:i, s:i, s:i, s:i, s:i, s:o, s:o, s:o, s:o}",
                  "station", station, "session", session, "number", r->number, "ended", ended, "job",
                  word_for("COMMAND_JOB", r->job, job), "order", (json_int_t)r->order_number, "result",
                  kr_number_word("RECORD_RESULT", r->outcome), "planned_ms", r->planned_ms, "actual_ms",
                  r->actual_ms, "total_ms", r->total_ms, "worst_pair_um", r->worst_pair_um, "worst_slit_um",
                  r->worst_slit_um, "moves_left_out", c->moves_left_out, "cause", cause_of(r, unit), "rails",
                  rails_of(c), "moves", moves_of(c), "holders", holders_of(c));
    json_t *line = json_pack("{s:o}", "record", record);
    char *text = line != NULL ? json_dumps(line, JSON_COMPACT) : NULL;
    json_decref(line);
    return text;
}
