/* Makes plans, one at a time for each station. One thread, the planner's, makes the plans of all stations. It has a
 * lower priority than the cycle's thread, because a plan takes milliseconds, and cycles that wait for it would be late.
 * Only the newest ticket of a station counts: a plan that was begun for an older ticket is finished, and then dropped
 * by the station. Stations are served in the sequence in which they asked. */
#ifndef DAEMON_PLANS_H
#define DAEMON_PLANS_H

#include <uv.h>

#include "kniferail/station.h"

/* The planner's nice value is this much above that of the process (setpriority(2)). While both threads want the
 * processor, the kernel gives the cycle's thread about three times the planner's share, and lets it interrupt the
 * planner at once. A plan still comes in time on a computer that does other work with the priority of the process. */
#define PLANNER_NICER 5

struct plans;

struct planner {
    uv_thread_t thread;
    uv_mutex_t lock; /* guards the two lists and `ending` */
    uv_cond_t news;  /* there is a plan to make, or the thread has to end */
    uv_async_t made; /* a plan was made */
    struct plans *to_make, *done;
    bool open, ending;
    void *workspace; /* used by the planner's thread only */
};

/* False: there is no memory or no thread for the planner; it needs no closing then. */
bool planner_open(struct planner *planner, uv_loop_t *loop);

/* Waits for the plan that is being made. No answer comes after that. Does nothing if the planner is not open. */
void planner_close(struct planner *planner);

struct plans {
    struct planner *planner;
    struct plans *next; /* the next one in one of the planner's lists */
    bool busy;
    uint32_t ticket; /* of the request under way, or the last one */
    struct kr_plan_request request;
    struct kr_plan_answer answer;
    void (*on_answer)(void *arg, const struct kr_plan_answer *answer); /* called on the loop's thread */
    void *arg;
};

void plans_open(struct plans *plans, struct planner *planner,
                void (*on_answer)(void *arg, const struct kr_plan_answer *answer), void *arg);

/* Called every cycle: begins a plan if the station wants one that is not under way. ticket 0: the station wants
 * none. */
void plans_ask(struct plans *plans, uint32_t ticket, const struct kr_station *station);

#endif
