/* Plans: one at a time for each station, all of them made by one thread, the planner's. It runs below the priority of
 * the cycle's thread: a plan takes milliseconds, and cycles that wait for it would be late. The newest ticket of a
 * station wins; a plan that was begun for an older one is finished, and dropped by the station. Stations wait in the
 * order in which they asked. */
#ifndef DAEMON_PLANS_H
#define DAEMON_PLANS_H

#include <uv.h>

#include "kniferail/station.h"

/* So much nicer than the process (setpriority(2)): the kernel gives the cycle's thread about three times the planner's
 * share while both want the processor, and lets the cycle interrupt it at once; a plan comes in time on a computer that
 * has other work of the process's own priority, too. */
#define PLANNER_NICER 5

struct plans;

struct planner {
    uv_thread_t thread;
    uv_mutex_t lock; /* of the two lists and of ending */
    uv_cond_t news;  /* something is to be planned, or the end */
    uv_async_t made; /* something was planned */
    struct plans *to_make, *done;
    bool open, ending;
    void *workspace; /* the thread's */
};

/* False: there is no memory or no thread for it; *planner needs no closing then. */
bool planner_open(struct planner *planner, uv_loop_t *loop);

/* Waits for the plan that is being made; no answer comes any more. Does nothing to one that is not open. */
void planner_close(struct planner *planner);

struct plans {
    struct planner *planner;
    struct plans *next; /* in one of the planner's lists */
    bool busy;
    uint32_t ticket; /* of the request under way, or the last one */
    struct kr_plan_request request;
    struct kr_plan_answer answer;
    void (*on_answer)(void *arg, const struct kr_plan_answer *answer); /* on the loop's thread */
    void *arg;
};

void plans_open(struct plans *plans, struct planner *planner,
                void (*on_answer)(void *arg, const struct kr_plan_answer *answer), void *arg);

/* Called every cycle: begins a plan if the station wants one that isn't under way. ticket 0: it wants none. */
void plans_ask(struct plans *plans, uint32_t ticket, const struct kr_station *station);

#endif
