#include "plans.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include "log.h"

/* ---- the planner's thread --------------------------------------------------------------------------------- */

/* Linux has a nice value for each thread, and 0 means the calling thread (setpriority(2), notes). Raising it needs no
 * privilege. */
static void step_back(void)
{
    errno = 0;
    int nice = getpriority(PRIO_PROCESS, 0);
    if (errno == 0 && setpriority(PRIO_PROCESS, 0, nice + PLANNER_NICER) == 0)
        return;
    log_line(LOG_WARNING, "plans are made at the cycle's own priority, and may make cycles late: %s", strerror(errno));
}

static struct plans *take_first(struct plans **list)
{
    struct plans *first = *list;
    if (first != NULL)
        *list = first->next;
    return first;
}

static void append(struct plans **list, struct plans *plans)
{
    while (*list != NULL)
        list = &(*list)->next;
    plans->next = NULL;
    *list = plans;
}

/* Waits for a request. NULL: the thread has to end. */
static struct plans *take_request(struct planner *planner)
{
    uv_mutex_lock(&planner->lock);
    while (planner->to_make == NULL && !planner->ending)
        uv_cond_wait(&planner->news, &planner->lock);
    struct plans *plans = planner->ending ? NULL : take_first(&planner->to_make);
    uv_mutex_unlock(&planner->lock);
    return plans;
}

static void planner_main(void *arg)
{
    struct planner *planner = arg;
    struct plans *plans;
    step_back();
    while ((plans = take_request(planner)) != NULL) {
        plans->answer.ticket = plans->ticket;
        plans->answer.result = kr_plan_make(&plans->request, planner->workspace, &plans->answer.plan);
        uv_mutex_lock(&planner->lock);
        append(&planner->done, plans);
        uv_mutex_unlock(&planner->lock);
        uv_async_send(&planner->made);
    }
}

/* ---- the loop's thread ------------------------------------------------------------------------------------
 *
 * It never waits for the lock: the kernel may put the planner aside just while it holds the lock, for as long as
 * others of its priority have work. What finds the lock taken is done a little later. */

static struct plans *take_done(struct planner *planner)
{
    if (uv_mutex_trylock(&planner->lock) != 0) {
        uv_async_send(&planner->made);
        return NULL;
    }
    struct plans *plans = take_first(&planner->done);
    uv_mutex_unlock(&planner->lock);
    return plans;
}

/* libuv may call this once for several plans. */
static void on_made(uv_async_t *made)
{
    struct plans *plans;
    while ((plans = take_done(made->data)) != NULL) {
        plans->busy = false;
        plans->on_answer(plans->arg, &plans->answer);
    }
}

static bool make_tools(struct planner *planner)
{
    if (uv_mutex_init(&planner->lock) != 0)
        return false;
    if (uv_cond_init(&planner->news) == 0) {
        if (uv_thread_create(&planner->thread, planner_main, planner) == 0)
            return true;
        uv_cond_destroy(&planner->news);
    }
    uv_mutex_destroy(&planner->lock);
    return false;
}

bool planner_open(struct planner *planner, uv_loop_t *loop)
{
    *planner = (struct planner){.workspace = malloc(kr_plan_workspace_size())};
    if (planner->workspace == NULL || uv_async_init(loop, &planner->made, on_made) != 0) {
        free(planner->workspace);
        return false;
    }
    planner->made.data = planner;
    planner->open = make_tools(planner);
    if (!planner->open) {
        uv_close((uv_handle_t *)&planner->made, NULL);
        free(planner->workspace);
    }
    return planner->open;
}

void planner_close(struct planner *planner)
{
    if (!planner->open)
        return;
    uv_mutex_lock(&planner->lock);
    planner->ending = true;
    uv_cond_signal(&planner->news);
    uv_mutex_unlock(&planner->lock);
    uv_thread_join(&planner->thread);
    uv_close((uv_handle_t *)&planner->made, NULL);
    uv_cond_destroy(&planner->news);
    uv_mutex_destroy(&planner->lock);
    free(planner->workspace);
    planner->open = false;
}

void plans_open(struct plans *plans, struct planner *planner,
                void (*on_answer)(void *arg, const struct kr_plan_answer *answer), void *arg)
{
    *plans = (struct plans){.planner = planner, .on_answer = on_answer, .arg = arg};
}

void plans_ask(struct plans *plans, uint32_t ticket, const struct kr_station *station)
{
    struct planner *planner = plans->planner;
    if (ticket == 0 || plans->busy || ticket == plans->ticket || uv_mutex_trylock(&planner->lock) != 0)
        return;
    plans->request = *kr_station_plan_request(station);
    plans->ticket = ticket;
    plans->busy = true;
    append(&planner->to_make, plans);
    uv_cond_signal(&planner->news);
    uv_mutex_unlock(&planner->lock);
}
