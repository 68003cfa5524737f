/* kniferail plan --json */
#include "plan_cmd.h"

/* Writes whole microseconds as milliseconds. */
static json_t *ms(int64_t us)
{
    return json_real((double)us / 1000.0);
}

static json_t *holder_json(const struct plan_job *job, uint16_t rail, uint16_t i)
{
    const struct kr_plan_holder *h = &job->plan.rail[rail].holder[i];
    char why[160];
    kr_plan_why(&job->request, &job->plan, rail, (uint16_t)(i + 1), job->length_unit, why, sizeof why);
    return json_pack("{s:i, s:i, s:i, s:o, s:b, s:s}", "holder", i + 1, "from_um",
                     job->request.rail[rail].holder[i].position_um, "target_um", h->target_um, "cut",
                     h->cut > 0 ? json_integer(h->cut) : json_null(), "moved", h->moved, "why", why);
}

static json_t *move_json(const struct kr_move *m)
{
    json_t *after = json_array();
    for (int i = 0; i < 2; i++) {
        if (m->after[i] > 0)
            json_array_append_new(after, json_integer(m->after[i]));
    }
    return json_pack("{s:i, s:i, s:i, s:o, s:o, s:o}", "holder", m->holder, "from_um", m->from_um, "to_um", m->to_um,
                     "start_ms", ms(m->start_us), "end_ms", ms(m->end_us), "after", after);
}

static json_t *rail_json(const struct plan_job *job, uint16_t rail)
{
    const struct kr_plan_rail *p = &job->plan.rail[rail];
    json_t *holders = json_array(), *moves = json_array();
    for (uint16_t i = 0; i < job->request.geometry.rail[rail].n_holders; i++)
        json_array_append_new(holders, holder_json(job, rail, i));
    for (uint16_t m = 0; m < p->n_moves; m++)
        json_array_append_new(moves, move_json(&p->move[m]));
    return json_pack("{s:s, s:i, s:o, s:o, s:o, s:o, s:o}", "rail", plan_rail_name(&job->request.geometry, rail),
                     "carriage_um", job->request.rail[rail].carriage_um, "holders", holders, "moves", moves, "time_ms",
                     ms(p->time_us), "sequence_bound_ms", ms(p->sequence_bound_us), "bound_ms", ms(p->bound_us));
}

static json_t *rejection_json(const struct plan_job *job)
{
    const struct kr_result *r = &job->result;
    char text[KR_SENTENCE_MAX], advice[200];
    kr_result_text(r, job->length_unit, text, sizeof text);
    kr_plan_advice(&job->request, r, job->length_unit, advice, sizeof advice);
    return json_pack("{s:i, s:s, s:s, s:o, s:i, s:i, s:i, s:s}", "code", r->code, "name",
                     kr_code_info((int)r->code)->name, "text", text, "rail",
                     r->rail > 0 ? json_string(plan_rail_name(&job->request.geometry, (uint16_t)(r->rail - 1)))
                                 : json_null(),
                     "item", r->item, "value", r->value, "limit", r->limit, "advice", advice);
}

json_t *plan_json(const struct plan_job *job)
{
    bool good = job->result.code == KR_OK;
    json_t *cuts = json_array(), *rails = json_array();
    for (uint16_t i = 0; i < job->plan.cuts.n_cuts && good; i++)
        json_array_append_new(cuts, json_integer(job->plan.cuts.cut_um[i]));
    for (uint16_t i = 0; i < job->request.geometry.n_rails && good; i++)
        json_array_append_new(rails, rail_json(job, i));
    return json_pack("{s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "cut_lines_um", cuts, "rails", rails, "time_ms",
                     good ? ms(job->plan.time_us) : json_null(), "bound_ms",
                     good ? ms(job->plan.bound_us) : json_null(), "verified_ms",
                     good ? ms(plan_told(job, false).verified_us) : json_null(), "scanned_verified_ms",
                     good ? ms(plan_told(job, true).verified_us) : json_null(), "rejection",
                     good ? json_null() : rejection_json(job));
}
