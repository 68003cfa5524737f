#ifndef KR_STATION_JOB_TRAITS_H
#define KR_STATION_JOB_TRAITS_H

#include "kniferail/station.h"

/* The properties in which jobs differ, as one row for each job (jobs.def). */

enum job_rails {
    JOB_RAILS_NONE,
    JOB_RAILS_ASKED, /* the rail of COMMAND_RAIL, or all rails if it is 0 */
    JOB_RAILS_ALL,
};
enum job_plan {
    JOB_PLAN_NONE,
    JOB_PLAN_ORDER, /* the holders go to their places in the order in force */
    /* The plan only says which holders make which cuts, as the holders stand; nothing moves. */
    JOB_PLAN_CUTS,
    JOB_PLAN_PARK, /* every holder goes clear of the web */
    JOB_PLAN_MOVE, /* one holder goes to one place */
    JOB_PLAN_DRAG, /* one holder moves a little to and fro at reduced speed, with a scan after each drag */
};
enum job_order {
    JOB_ORDER_NONE,
    JOB_ORDER_IN_FORCE, /* the job needs an order in force */
    /* Start puts the staged order in force. Without a staged order, the order in force is set up again. */
    JOB_ORDER_STAGED,
};

/* Sets of permissives. The station's configuration lists each one. */
enum {
    JOB_NEEDS_SCAN = 1 << 0,
    JOB_NEEDS_DRAG = 1 << 1, /* for dragging holders */
    JOB_NEEDS_HOME = 1 << 2,
    JOB_NEEDS_JOG = 1 << 3,
};

struct job_traits {
    enum job_rails rails; /* rails that the job needs in order, and whose carriages go to rest at its end */
    bool must_name_rail;
    /* Rails whose pins it drives out, and whose clamps it closes, before its first phase. */
    enum job_rails frees;
    /* The first phase after that. PLAN comes after a scan if one is due. NONE: the job is then done. */
    enum kr_phase first;
    enum job_plan plan;
    enum job_order order;
    uint16_t needs;   /* JOB_NEEDS_ bits for its start */
    bool needs_datum; /* the carriages of its rails need their datum */
    /* The pins of its rails must be out when it starts. A resumed job drives them out itself. */
    bool needs_pins_out;
    bool keeps_verified; /* the order in force stays verified when the job starts */
    bool has_record;     /* a record is stored at its end; jobs that place nothing have none */
    /* It corrects holders that a scan found off their place, and counts holders that slipped. */
    bool corrects;
    /* The job moves at reduced speed while the hold-to-run device is pressed, with its permissives throughout. */
    bool held_to_run;
};

/* Returns the row of a job, and never NULL. A number without a job, such as 0, has a row of a job that moves nothing
 * and needs what a scan needs. */
const struct job_traits *job_traits(uint16_t job);

/* The scan at its end decides whether the order is verified. */
bool job_verifies(const struct job_traits *traits);
/* The job's plan has targets that belong to no order, and no holder cuts in it. */
bool job_plans_no_order(const struct job_traits *traits);

#endif
