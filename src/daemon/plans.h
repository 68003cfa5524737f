/* Plans, made in the thread pool: one at a time for each station. The newest ticket wins; a plan that was begun for an
 * older one is finished, and dropped by the station. */
#ifndef DAEMON_PLANS_H
#define DAEMON_PLANS_H

#include <uv.h>

#include "kniferail/station.h"

struct plans {
    uv_loop_t *loop;
    uv_work_t work;
    void *workspace;
    bool busy;
    uint32_t ticket; /* of the request under way, or the last one */
    struct kr_plan_request request;
    struct kr_plan_answer answer;
    void (*on_answer)(void *arg, const struct kr_plan_answer *answer); /* on the loop's thread */
    void *arg;
};

bool plans_open(struct plans *plans, uv_loop_t *loop,
                void (*on_answer)(void *arg, const struct kr_plan_answer *answer), void *arg);
void plans_close(struct plans *plans); /* not while busy */

/* Called every cycle: begins a plan if the station wants one that isn't under way. ticket 0: it wants none. */
void plans_ask(struct plans *plans, uint32_t ticket, const struct kr_station *station);

#endif
