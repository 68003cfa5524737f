#include "plans.h"

#include <stdlib.h>

#include "log.h"

bool plans_open(struct plans *plans, uv_loop_t *loop,
                void (*on_answer)(void *arg, const struct kr_plan_answer *answer), void *arg)
{
    *plans = (struct plans){.loop = loop, .on_answer = on_answer, .arg = arg};
    plans->work.data = plans;
    plans->workspace = malloc(kr_plan_workspace_size());
    return plans->workspace != NULL;
}

void plans_close(struct plans *plans)
{
    free(plans->workspace);
    plans->workspace = NULL;
}

static void make(uv_work_t *work)
{
    struct plans *plans = work->data;
    plans->answer.ticket = plans->ticket;
    plans->answer.result = kr_plan_make(&plans->request, plans->workspace, &plans->answer.plan);
}

static void made(uv_work_t *work, int status)
{
    struct plans *plans = work->data;
    (void)status; /* it is never cancelled */
    plans->busy = false;
    plans->on_answer(plans->arg, &plans->answer);
}

void plans_ask(struct plans *plans, uint32_t ticket, const struct kr_station *station)
{
    if (ticket == 0 || plans->busy || ticket == plans->ticket)
        return;
    plans->request = *kr_station_plan_request(station);
    plans->ticket = ticket;
    int rc = uv_queue_work(plans->loop, &plans->work, make, made);
    plans->busy = rc == 0;
    if (rc != 0) /* the station's own time limit for plans turns it into an alarm */
        log_line(LOG_ERROR, "a plan could not be begun: %s", uv_strerror(rc));
}
