#include "job_traits.h"

/* The words of the column `traits`. */
enum {
    DATUM = 1 << 0,
    PINS_OUT = 1 << 1,
    KEEPS_VERIFIED = 1 << 2,
    RECORD = 1 << 3,
    CORRECTS = 1 << 4,
    HELD_TO_RUN = 1 << 5,
};
/* Those of the column `needs`, and of `rail`. */
enum { SCAN = JOB_NEEDS_SCAN, DRAG = JOB_NEEDS_DRAG, HOME = JOB_NEEDS_HOME, JOG = JOB_NEEDS_JOG };
enum { ANY = 0, MUST = 1 };

/* A job of KR_JOBS without a row in jobs.def does not compile. */
enum {
#define JOB(name, rails, rail, frees, first, plan, order, needs, traits) HAS_TRAITS_##name = 1,
#include "jobs.def"
};
#define X(name, number, text) _Static_assert(HAS_TRAITS_##name, "jobs.def has a row for each job");
KR_JOBS(X)
#undef X

static const struct job_traits no_job = {.needs = JOB_NEEDS_SCAN};

static const struct job_traits rows[] = {
#define JOB(name, of_rails, rail, of_frees, first_phase, of_plan, of_order, of_needs, traits) \
    [KR_JOB_##name] = {.rails = JOB_RAILS_##of_rails, \
                       .must_name_rail = (rail) == MUST, \
                       .frees = JOB_RAILS_##of_frees, \
                       .first = KR_PHASE_##first_phase, \
                       .plan = JOB_PLAN_##of_plan, \
                       .order = JOB_ORDER_##of_order, \
                       .needs = (of_needs), \
                       .needs_datum = ((traits)&DATUM) != 0, \
                       .needs_pins_out = ((traits)&PINS_OUT) != 0, \
                       .keeps_verified = ((traits)&KEEPS_VERIFIED) != 0, \
                       .has_record = ((traits)&RECORD) != 0, \
                       .corrects = ((traits)&CORRECTS) != 0, \
                       .held_to_run = ((traits)&HELD_TO_RUN) != 0},
#include "jobs.def"
};
_Static_assert(sizeof rows / sizeof rows[0] == KR_JOB_LAST + 1, "every job has its row");

const struct job_traits *job_traits(uint16_t job)
{
    return job > 0 && job <= KR_JOB_LAST ? &rows[job] : &no_job;
}

bool job_verifies(const struct job_traits *traits)
{
    return traits->plan == JOB_PLAN_ORDER || traits->plan == JOB_PLAN_CUTS;
}

bool job_plans_no_order(const struct job_traits *traits)
{
    return traits->plan == JOB_PLAN_PARK || traits->plan == JOB_PLAN_MOVE || traits->plan == JOB_PLAN_DRAG;
}
