#ifndef KR_STATION_JOB_TRAITS_H
#define KR_STATION_JOB_TRAITS_H

#include "kniferail/station.h"

/* What tells one job from another, as one row for each (jobs.def). */

enum job_rails {
    JOB_RAILS_NONE,
    JOB_RAILS_ASKED,
    JOB_RAILS_ALL
}; /* ASKED: the one of COMMAND_RAIL, all if it is 0 */
enum job_plan {
    JOB_PLAN_NONE,
    JOB_PLAN_ORDER, /* where the order in force wants its holders */
    JOB_PLAN_CUTS,  /* who cuts where in the order in force, as the holders stand; nothing is moved */
    JOB_PLAN_PARK,  /* every holder clear of the web */
    JOB_PLAN_MOVE,  /* one holder to one place */
    JOB_PLAN_DRAG,  /* one holder a little to and fro, scanned after each drag, at reduced speed */
};
enum job_order {
    JOB_ORDER_NONE,
    JOB_ORDER_IN_FORCE, /* the one in force, which has to be there */
    JOB_ORDER_STAGED, /* Start puts the staged order in force; without one, the one in force is set up again */
};

/* Sets of permissives, each as the station's configuration lists it. */
enum {
    JOB_NEEDS_SCAN = 1 << 0,
    JOB_NEEDS_DRAG = 1 << 1, /* it drags holders */
    JOB_NEEDS_HOME = 1 << 2,
    JOB_NEEDS_JOG = 1 << 3,
};

struct job_traits {
    enum job_rails rails; /* whose state it needs in order, and whose carriages go to rest at its end */
    bool must_name_rail;
    enum job_rails frees; /* whose pins it drives out, and whose clamps it closes, before its first phase */
    enum kr_phase first;  /* after that; PLAN: after a scan, where one is due; NONE: the job is done then */
    enum job_plan plan;
    enum job_order order;
    uint16_t needs;      /* JOB_NEEDS_ bits: to start */
    bool needs_datum;    /* of its rails' carriages */
    bool needs_pins_out; /* of its rails, when it starts; what resumes drives them out itself */
    bool keeps_verified; /* the order in force stays verified when it starts */
    bool has_record;     /* stored at its end; jobs that place nothing have none */
    bool corrects;       /* moves again what a scan found off its place, and counts holders that slipped */
    /* The job moves at reduced speed while the hold-to-run device is pressed, with its permissives throughout. */
    bool held_to_run;
};

/* Of a number that is no job's, 0 too: a row of a job that moves nothing and needs what a scan needs. Never NULL. */
const struct job_traits *job_traits(uint16_t job);

bool job_verifies(const struct job_traits *traits); /* a scan at its end says whether the order is verified */
bool job_plans_no_order(
    const struct job_traits *traits); /* its plan has places of no order: nobody cuts in it */

#endif
