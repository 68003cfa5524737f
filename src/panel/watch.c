#include "watch.h"

#include <errno.h>
#include <jansson.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "kniferail/drawing.h"
#include "view.h"

/* ---- shared texts ---------------------------------------------------------------------------------------------- */

struct shared {
    atomic_uint readers;
    size_t size;
    char *text;
};

/* Takes the text, which is malloc's. NULL without memory. */
static struct shared *shared_of_text(char *text)
{
    struct shared *shared = malloc(sizeof *shared);
    if (shared == NULL || text == NULL) {
        free(shared);
        free(text);
        return NULL;
    }
    atomic_init(&shared->readers, 1);
    shared->text = text;
    shared->size = strlen(text);
    return shared;
}

/* Takes the reference. NULL without memory. */
static struct shared *shared_from(json_t *json)
{
    char *text = json == NULL ? NULL : json_dumps(json, JSON_COMPACT);
    json_decref(json);
    return shared_of_text(text);
}

const char *shared_text(const struct shared *shared, size_t *size)
{
    *size = shared->size;
    return shared->text;
}

struct shared *shared_hold(struct shared *shared)
{
    if (shared != NULL)
        atomic_fetch_add(&shared->readers, 1);
    return shared;
}

void shared_release(struct shared *shared)
{
    if (shared == NULL || atomic_fetch_sub(&shared->readers, 1) != 1)
        return;
    free(shared->text);
    free(shared);
}

/* ---- the watching thread --------------------------------------------------------------------------------------- */

struct watch {
    struct watch_address address;
    int number;
    int32_t period_ms;
    void (*told)(void *of_told);
    void *of_told;
    pthread_t thread;
    pthread_mutex_t lock;  /* of all below */
    pthread_cond_t asleep; /* wakes the thread when it has to end */
    bool ends;
    struct watch_view view; /* image: NULL */
    struct kr_image image;
    /* the thread's alone */
    struct kr_client client;
    struct kr_scene scene;
    struct kr_image drawn; /* what the drawing shows */
    int drawing_number;    /* steps with every drawing; 0: none yet */
};

/* What is true of a station that does not answer, too. A numeric IPv6 address stands in brackets. */
static json_t *where(const struct watch *watch, bool answers)
{
    char address[WATCH_HOST_MAX + WATCH_PORT_MAX + 4];
    bool brackets = strchr(watch->address.host, ':') != NULL;
    snprintf(address, sizeof address, brackets ? "[%s]:%s" : "%s:%s", watch->address.host,
             watch->address.port);
    return json_pack("{s:i, s:s, s:i, s:i, s:b, s:s}", "number", watch->number, "address", address, "unit",
                     watch->address.unit_id, "read_every_ms", (int)watch->period_ms, "answers", answers,
                     "error", answers ? "" : watch->client.error);
}

static struct shared *described(const struct watch *watch, json_t *view)
{
    json_t *all = where(watch, true);
    if (json_object_update_new(all, view) != 0 ||
        json_object_set_new(all, "drawing", json_integer(watch->drawing_number)) != 0) {
        json_decref(all);
        return NULL;
    }
    return shared_from(all);
}

static bool read_once(struct watch *watch)
{
    struct kr_client *client = &watch->client;
    struct kr_client_address address = {watch->address.host, watch->address.port, watch->address.unit_id};
    if (client->modbus == NULL && !kr_client_open(client, &address))
        return false;
    if (kr_client_station(client))
        return true;
    kr_client_close(client);
    return false;
}

/* In all that a drawing shows. */
static bool looks_the_same(const struct kr_image *a, const struct kr_image *b)
{
    static const enum kr_block_id blocks[] = {KR_BLOCK_CUTS,   KR_BLOCK_SIZES,  KR_BLOCK_RAIL_1,
                                              KR_BLOCK_RAIL_2, KR_BLOCK_RAIL_3, KR_BLOCK_RAIL_4};
    for (size_t i = 0; i < sizeof blocks / sizeof blocks[0]; i++) {
        const struct kr_block_info *block = kr_block_info(blocks[i]);
        if (memcmp(&a->word[block->first], &b->word[block->first], block->words * sizeof a->word[0]) != 0)
            return false;
    }
    return kr_get_i32(a, KR_REG_ORDER_IN_FORCE, 0, 0) == kr_get_i32(b, KR_REG_ORDER_IN_FORCE, 0, 0);
}

/* A new drawing where the station looks otherwise than in the last one; NULL if it looks the same, or can't be drawn.
 * Cairo's fonts are used by one thread at a time. */
static struct shared *draw(struct watch *watch)
{
    static pthread_mutex_t drawing = PTHREAD_MUTEX_INITIALIZER;
    char error[KR_DRAWING_ERROR_MAX], *text = NULL;
    size_t size;
    if (watch->drawing_number != 0 && looks_the_same(&watch->client.image, &watch->drawn))
        return NULL;
    kr_scene_of_image(&watch->scene, &watch->client.image);
    FILE *file = open_memstream(&text, &size);
    if (file == NULL)
        return NULL;
    pthread_mutex_lock(&drawing);
    bool done = kr_drawing_picture_to(&watch->scene, "", KR_DRAWING_SVG, file, "the drawing", error);
    pthread_mutex_unlock(&drawing);
    if (fclose(file) != 0 || !done) {
        free(text);
        return NULL;
    }
    watch->drawn = watch->client.image;
    watch->drawing_number++;
    return shared_of_text(text);
}

static void replace(struct shared **old, struct shared *new)
{
    if (new == NULL)
        return;
    shared_release(*old);
    *old = new;
}

/* What is not NULL takes the place of what was published before. */
static void publish(struct watch *watch, bool good, struct shared *station, struct shared *drawing,
                    struct shared *summary)
{
    struct watch_view *view = &watch->view;
    pthread_mutex_lock(&watch->lock);
    view->sequence++;
    view->answers = good;
    if (good)
        watch->image = watch->client.image;
    replace(&view->station, station);
    replace(&view->drawing, drawing);
    replace(&view->summary, summary);
    pthread_mutex_unlock(&watch->lock);
    if (watch->told != NULL)
        watch->told(watch->of_told);
}

static void look_once(struct watch *watch)
{
    struct shared *station = NULL, *drawing = NULL, *summary = NULL;
    bool good = read_once(watch);
    if (good) {
        drawing = draw(watch);
        station = described(watch, view_station(&watch->client.image));
        summary = described(watch, view_summary(&watch->client.image));
        good = station != NULL && summary != NULL;
        if (!good)
            snprintf(watch->client.error, sizeof watch->client.error, "the panel has no memory to show it");
    }
    if (!good) {
        shared_release(station);
        shared_release(summary);
        station = NULL;
        summary = shared_from(where(watch, false));
    }
    publish(watch, good, station, drawing, summary);
}

/* Until then, or until it has to end: then true. */
static bool sleep_until(struct watch *watch, struct timespec *then)
{
    int answer = 0;
    pthread_mutex_lock(&watch->lock);
    while (!watch->ends && answer != ETIMEDOUT)
        answer = pthread_cond_timedwait(&watch->asleep, &watch->lock, then);
    bool ends = watch->ends;
    pthread_mutex_unlock(&watch->lock);
    return ends;
}

static void *run(void *of_watch)
{
    struct watch *watch = of_watch;
    for (;;) {
        struct timespec next;
        look_once(watch);
        clock_gettime(CLOCK_MONOTONIC, &next);
        int64_t ns = next.tv_nsec + (int64_t)watch->period_ms * 1000000;
        next = (struct timespec){next.tv_sec + ns / 1000000000, ns % 1000000000};
        if (sleep_until(watch, &next))
            break;
    }
    kr_client_close(&watch->client);
    return NULL;
}

/* ---- beginning and end ----------------------------------------------------------------------------------------- */

static bool prepare(struct watch *watch)
{
    pthread_condattr_t attributes;
    if (pthread_mutex_init(&watch->lock, NULL) != 0 || pthread_condattr_init(&attributes) != 0)
        return false;
    bool done = pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC) == 0 &&
                pthread_cond_init(&watch->asleep, &attributes) == 0;
    pthread_condattr_destroy(&attributes);
    snprintf(watch->client.error, sizeof watch->client.error, "it has not been asked yet");
    watch->view.summary = shared_from(where(watch, false));
    return done && watch->view.summary != NULL;
}

struct watch *watch_start(const struct watch_address *address, int number, int32_t period_ms,
                          void (*told)(void *of_told), void *of_told)
{
    struct watch *watch = calloc(1, sizeof *watch);
    if (watch == NULL)
        return NULL;
    watch->address = *address;
    watch->number = number;
    watch->period_ms = period_ms;
    watch->told = told;
    watch->of_told = of_told;
    if (prepare(watch) && pthread_create(&watch->thread, NULL, run, watch) == 0)
        return watch;
    shared_release(watch->view.summary);
    free(watch);
    return NULL;
}

void watch_end(struct watch *watch)
{
    pthread_mutex_lock(&watch->lock);
    watch->ends = true;
    pthread_cond_signal(&watch->asleep);
    pthread_mutex_unlock(&watch->lock);
    pthread_join(watch->thread, NULL);
    shared_release(watch->view.station);
    shared_release(watch->view.drawing);
    shared_release(watch->view.summary);
    pthread_cond_destroy(&watch->asleep);
    pthread_mutex_destroy(&watch->lock);
    free(watch);
}

void watch_look(struct watch *watch, struct watch_view *view)
{
    struct kr_image *image = view->image;
    pthread_mutex_lock(&watch->lock);
    *view = watch->view;
    view->station = shared_hold(view->station);
    view->drawing = shared_hold(view->drawing);
    view->summary = shared_hold(view->summary);
    view->image = image;
    if (image != NULL && view->answers)
        *image = watch->image;
    pthread_mutex_unlock(&watch->lock);
}

void watch_let_go(struct watch_view *view)
{
    shared_release(view->station);
    shared_release(view->drawing);
    shared_release(view->summary);
}
