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

/* Takes over the text, which comes from malloc(). NULL: there is no memory. */
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

struct shared *shared_from(json_t *json)
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
    pthread_mutex_t lock;  /* guards everything below */
    pthread_cond_t asleep; /* wakes the thread when it has to end */
    bool ends;
    struct watch_view view; /* its image is NULL */
    struct kr_image image;
    /* used by the thread only */
    struct kr_client client;
    struct kr_scene scene;
    struct kr_image drawn; /* the image from which the rails were drawn */
    bool has_next;         /* there is a drawing of the next order; the following are its order and scale */
    struct kr_image drawn_next;
    int32_t next_low_um, next_high_um;
    int drawing_number[WATCH_DRAWINGS]; /* grows with every drawing; 0: there is none yet */
};

/* Makes the members that a station has even if it does not answer. A numeric IPv6 address is put in brackets. */
static json_t *where(const struct watch *watch, bool answers)
{
    char address[WATCH_HOST_MAX + WATCH_PORT_MAX + 4];
    bool brackets = strchr(watch->address.host, ':') != NULL;
    snprintf(address, sizeof address, brackets ? "[%s]:%s" : "%s:%s", watch->address.host, watch->address.port);
    return json_pack("{s:i, s:s, s:i, s:i, s:b, s:s}", "number", watch->number, "address", address, "unit",
                     watch->address.unit_id, "read_every_ms", (int)watch->period_ms, "answers", answers, "error",
                     answers ? "" : watch->client.error);
}

static struct shared *described(const struct watch *watch, json_t *view)
{
    json_t *all = where(watch, true);
    if (json_object_update_new(all, view) != 0 ||
        json_object_set_new(all, "drawing", json_integer(watch->drawing_number[WATCH_RAILS])) != 0 ||
        json_object_set_new(all, "next_drawing", json_integer(watch->drawing_number[WATCH_NEXT])) != 0) {
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

static bool blocks_are_alike(const struct kr_image *a, const struct kr_image *b, const enum kr_block_id blocks[],
                             size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const struct kr_block_info *block = kr_block_info(blocks[i]);
        if (memcmp(&a->word[block->first], &b->word[block->first], block->words * sizeof a->word[0]) != 0)
            return false;
    }
    return true;
}

static bool rails_look_the_same(const struct kr_image *a, const struct kr_image *b)
{
    static const enum kr_block_id blocks[] = {
        KR_BLOCK_CUTS,   KR_BLOCK_SIZES,        KR_BLOCK_RAIL_1,       KR_BLOCK_RAIL_2,       KR_BLOCK_RAIL_3,
        KR_BLOCK_RAIL_4, KR_BLOCK_REFERENCES_1, KR_BLOCK_REFERENCES_2, KR_BLOCK_REFERENCES_3, KR_BLOCK_REFERENCES_4,
    };
    return blocks_are_alike(a, b, blocks, sizeof blocks / sizeof blocks[0]) &&
           kr_get_i32(a, KR_REG_ORDER_IN_FORCE, 0, 0) == kr_get_i32(b, KR_REG_ORDER_IN_FORCE, 0, 0);
}

static bool next_looks_the_same(const struct kr_image *a, const struct kr_image *b)
{
    static const enum kr_block_id staged = KR_BLOCK_STAGED;
    return blocks_are_alike(a, b, &staged, 1) &&
           kr_get_i32(a, KR_REG_ORDER_STAGED, 0, 0) == kr_get_i32(b, KR_REG_ORDER_STAGED, 0, 0);
}

/* Returns NULL if it can't be drawn. Only one thread at a time may use cairo's fonts. */
static struct shared *draw_scene(const struct kr_scene *scene, const char *subtitle)
{
    static pthread_mutex_t drawing = PTHREAD_MUTEX_INITIALIZER;
    char error[KR_DRAWING_ERROR_MAX], *text = NULL;
    size_t size;
    FILE *file = open_memstream(&text, &size);
    if (file == NULL)
        return NULL;
    pthread_mutex_lock(&drawing);
    bool done = kr_drawing_picture_to(scene, subtitle, KR_DRAWING_SVG, file, "the drawing", error);
    pthread_mutex_unlock(&drawing);
    if (fclose(file) == 0 && done)
        return shared_of_text(text);
    free(text);
    return NULL;
}

/* Returns a new drawing if the station looks different from the last one; NULL if it looks the same. */
static struct shared *draw_rails(struct watch *watch)
{
    if (watch->drawing_number[WATCH_RAILS] != 0 && rails_look_the_same(&watch->client.image, &watch->drawn))
        return NULL;
    kr_scene_of_image(&watch->scene, &watch->client.image);
    struct shared *svg = draw_scene(&watch->scene, "");
    if (svg == NULL)
        return NULL;
    watch->drawn = watch->client.image;
    watch->drawing_number[WATCH_RAILS]++;
    return svg;
}

/* Does the same for the staged order, which is in the scene. Its scale is that of the rails. */
static struct shared *draw_next(struct watch *watch)
{
    const struct kr_scene *scene = &watch->scene;
    bool same_scale = scene->low_um == watch->next_low_um && scene->high_um == watch->next_high_um;
    if (watch->has_next && same_scale && next_looks_the_same(&watch->client.image, &watch->drawn_next))
        return NULL;
    struct shared *svg = draw_scene(scene, "The order that is staged, to the scale of the rails.");
    if (svg == NULL)
        return NULL;
    watch->has_next = true;
    watch->drawn_next = watch->client.image;
    watch->next_low_um = scene->low_um;
    watch->next_high_um = scene->high_um;
    watch->drawing_number[WATCH_NEXT]++;
    return svg;
}

static void replace(struct shared **old, struct shared *new)
{
    if (new == NULL)
        return;
    shared_release(*old);
    *old = new;
}

/* The texts that were made from a reading; NULL: nothing new. */
struct made {
    struct shared *station, *drawing[WATCH_DRAWINGS], *summary;
    bool no_next; /* no order is staged, so the drawing of one is removed */
};

/* Replaces the published texts by those that are not NULL. */
static void publish(struct watch *watch, bool good, const struct made *made)
{
    struct watch_view *view = &watch->view;
    pthread_mutex_lock(&watch->lock);
    view->sequence++;
    view->answers = good;
    if (good)
        watch->image = watch->client.image;
    replace(&view->station, made->station);
    for (int i = 0; i < WATCH_DRAWINGS; i++)
        replace(&view->drawing[i], made->drawing[i]);
    if (made->no_next) {
        shared_release(view->drawing[WATCH_NEXT]);
        view->drawing[WATCH_NEXT] = NULL;
    }
    replace(&view->summary, made->summary);
    pthread_mutex_unlock(&watch->lock);
    if (watch->told != NULL)
        watch->told(watch->of_told);
}

static void make_drawings(struct watch *watch, struct made *made)
{
    made->drawing[WATCH_RAILS] = draw_rails(watch);
    kr_scene_of_staged(&watch->scene, &watch->client.image);
    made->no_next = watch->scene.n_cuts == 0;
    if (made->no_next)
        watch->has_next = false;
    else
        made->drawing[WATCH_NEXT] = draw_next(watch);
}

static void look_once(struct watch *watch)
{
    struct made made = {0};
    bool good = read_once(watch);
    if (good) {
        make_drawings(watch, &made);
        made.station = described(watch, view_station(&watch->client.image, &watch->scene));
        made.summary = described(watch, view_summary(&watch->client.image));
        good = made.station != NULL && made.summary != NULL;
        if (!good)
            snprintf(watch->client.error, sizeof watch->client.error, "the panel has no memory to show it");
    }
    if (!good) {
        shared_release(made.station);
        shared_release(made.summary);
        made.station = NULL;
        made.summary = shared_from(where(watch, false));
    }
    publish(watch, good, &made);
}

/* Sleeps until that time, or until the thread has to end; then it returns true. */
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
    for (int i = 0; i < WATCH_DRAWINGS; i++)
        shared_release(watch->view.drawing[i]);
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
    for (int i = 0; i < WATCH_DRAWINGS; i++)
        shared_hold(view->drawing[i]);
    view->summary = shared_hold(view->summary);
    view->image = image;
    if (image != NULL && view->answers)
        *image = watch->image;
    pthread_mutex_unlock(&watch->lock);
}

void watch_let_go(struct watch_view *view)
{
    shared_release(view->station);
    for (int i = 0; i < WATCH_DRAWINGS; i++)
        shared_release(view->drawing[i]);
    shared_release(view->summary);
}
