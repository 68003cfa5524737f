/* kniferail status: shows the state of a station to operators and maintenance. It reads over Modbus like any client. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "address.h"
#include "cli.h"
#include "picture.h"
#include "screen.h"
#include "stations.h"
#include "status_brief.h"
#include "status_json.h"
#include "status_view.h"

struct arguments {
    struct kr_address_options options;
    struct kr_client_address address;
    const char *station, *characters;
    struct kr_picture_options picture;
    struct kr_scene_style style;
    struct kr_terminal terminal;
    bool full, holders, drawing, json, watch;
};

static void print_to(void *arg, const char *text)
{
    fprintf(arg, "%s\n", text);
}

static void tell_drawing(FILE *to, const struct kr_image *image, struct kr_scene_style style)
{
    static struct kr_scene scene;
    kr_scene_of_image(&scene, image);
    kr_scene_text(&scene, style, (struct kr_scene_lines){print_to, to});
}

/* Draws the next order below the one in force, to the same scale. */
static void tell_next(FILE *to, const struct kr_image *image, struct kr_scene_style style)
{
    static struct kr_scene scene;
    kr_scene_of_staged(&scene, image);
    if (scene.n_cuts == 0)
        return;
    fprintf(to, "\n%-14sorder %" PRIu32 ", staged\n", "next order", scene.order_number);
    kr_scene_text_order(&scene, style, (struct kr_scene_lines){print_to, to});
    kr_scene_text(&scene, style, (struct kr_scene_lines){print_to, to});
}

static void tell_full(FILE *to, const struct kr_image *image, const struct arguments *a)
{
    kr_view_station(to, image);
    kr_view_alarms(to, image);
    kr_view_verdict(to, image);
    kr_view_record(to, image);
    for (uint16_t r = 0; r < kr_get_rails(image); r++)
        kr_view_drive(to, image, r);
    for (uint16_t r = 0; r < kr_get_rails(image); r++) {
        kr_view_edges(to, image, r);
        kr_view_frame(to, image, r);
        kr_view_switch(to, image, r);
        kr_view_times(to, image, r);
        kr_view_references(to, image, r);
    }
    fprintf(to, "\n");
    tell_drawing(to, image, a->style);
    tell_next(to, image, a->style);
    if (!a->holders)
        return;
    kr_view_holder_legend(to, image);
    for (uint16_t r = 0; r < kr_get_rails(image); r++)
        kr_view_holder_table(to, image, r);
}

static bool tell_json(FILE *to, const struct kr_image *image)
{
    json_t *json = kr_status_json(image);
    bool good = json != NULL && json_dumpf(json, to, JSON_INDENT(1)) == 0;
    json_decref(json);
    fprintf(to, "\n");
    return good;
}

/* rows: how many lines there is room for. */
static bool tell(FILE *to, const struct kr_image *image, const struct arguments *a, int rows)
{
    if (a->json)
        return tell_json(to, image);
    if (a->drawing)
        tell_drawing(to, image, a->style);
    else if (a->full || a->holders)
        tell_full(to, image, a);
    else
        kr_status_brief(to, image, a->style, rows);
    return true;
}

/* A drawing that goes to a file is not printed, too. */
static int draw(const struct kr_image *image, const struct arguments *a)
{
    static struct kr_scene scene;
    char subtitle[160], now[32];
    uint16_t state = kr_get_u16(image, KR_REG_UNIT_STATE, 0, 0);
    const struct kr_named_number *named = kr_named("UNIT_STATE", state);
    time_t seconds = time(NULL);
    struct tm utc;
    kr_scene_of_image(&scene, image);
    strftime(now, sizeof now, "%Y-%m-%d %H:%M:%S", gmtime_r(&seconds, &utc));
    snprintf(subtitle, sizeof subtitle, "As the station said at %s UTC; unit %s.", now, named ? named->name : "?");
    return kr_picture_write("status", &a->picture, &scene, subtitle) ? KR_EXIT_OK : KR_EXIT_REFUSED;
}

static bool read_station(struct kr_client *client, const struct arguments *a)
{
    if ((client->modbus || kr_client_open(client, &a->address)) && kr_client_station(client))
        return true;
    kr_client_close(client);
    return false;
}

static int once(struct kr_client *client, const struct arguments *a)
{
    if (!read_station(client, a)) {
        fprintf(stderr, "kniferail status: %s\n", client->error);
        if (a->station == NULL && client->needs_unit)
            kr_stations_print(client, &a->address, stderr);
        return KR_EXIT_REFUSED;
    }
    if (kr_picture_wanted(&a->picture))
        return draw(&client->image, a);
    if (tell(stdout, &client->image, a, a->terminal.rows - 1))
        return kr_flushed(KR_EXIT_OK);
    fprintf(stderr, "kniferail status: the output could not be made\n");
    return KR_EXIT_REFUSED;
}

/* ---- again and again ------------------------------------------------------------------------------------------- */

struct watched {
    bool read; /* the image has been read */
    time_t at; /* when it was read */
    struct kr_image image;
};

/* The last state stays on the screen, below a line that says that it is old. */
static void frame(FILE *to, const struct watched *w, const struct arguments *a, const char *gone)
{
    char at[32];
    struct tm utc;
    int rows = a->terminal.rows - 1;
    if (w->read)
        strftime(at, sizeof at, "%H:%M:%S UTC", gmtime_r(&w->at, &utc));
    if (gone && w->read)
        fprintf(to, "THE GATEWAY DOES NOT ANSWER (%.150s)\nwhat follows is OLD: it was read at %s, %ld s ago\n", gone,
                at, (long)(time(NULL) - w->at));
    else if (gone)
        fprintf(to, "THE GATEWAY DOES NOT ANSWER (%.150s)\n", gone);
    else if (!a->json)
        fprintf(to, "read at %s; interrupt to end\n", at);
    if (w->read && !(gone && a->json))
        tell(to, &w->image, a, rows - (gone ? 2 : 1));
}

static bool show(const struct watched *w, const struct arguments *a, const char *gone)
{
    char *text = NULL;
    size_t size = 0;
    FILE *to = open_memstream(&text, &size);
    if (to == NULL)
        return false;
    frame(to, w, a, gone);
    bool good = fclose(to) == 0;
    if (good)
        kr_screen_show(&a->terminal, text);
    free(text);
    return good && kr_flushed(KR_EXIT_OK) == KR_EXIT_OK;
}

/* When a gateway answers again, it is shown again. */
static int watch(struct kr_client *client, const struct arguments *a)
{
    static struct watched watched;
    struct arguments now = *a;
    bool good = true;
    kr_screen_begin();
    do {
        struct kr_terminal terminal = kr_terminal_look(); /* its size may have changed */
        now.terminal.columns = terminal.columns;
        now.terminal.rows = terminal.rows;
        good = kr_terminal_style("status", now.characters, &now.style);
        bool read = read_station(client, &now);
        if (read) {
            watched.image = client->image;
            watched.at = time(NULL);
            watched.read = true;
        }
        good = good && show(&watched, &now, read ? NULL : client->error);
    } while (good && kr_screen_wait(1000));
    kr_screen_end(&a->terminal);
    return good ? KR_EXIT_OK : KR_EXIT_REFUSED;
}

/* ---- the command line ------------------------------------------------------------------------------------------ */

static int read_arguments(int argc, char **argv, struct arguments *a)
{
    const struct kr_option options[] = {
        KR_ADDRESS_OPTIONS(a->options), {"station", &a->station, NULL},       {"full", NULL, &a->full},
        {"holders", NULL, &a->holders}, {"drawing", NULL, &a->drawing},       {"json", NULL, &a->json},
        {"watch", NULL, &a->watch},     {"characters", &a->characters, NULL}, KR_PICTURE_OPTIONS(a->picture)};
    int answer = kr_read_only_options(argc, argv, options, sizeof options / sizeof options[0]);
    if (answer == KR_RUN && (!kr_address_read("status", &a->options, &a->address) ||
                             !kr_terminal_style("status", a->characters, &a->style)))
        return KR_EXIT_USAGE;
    if (answer == KR_RUN && a->watch && kr_picture_wanted(&a->picture))
        return kr_usage("status", "--watch does not go with --svg, --pdf and --png");
    return answer;
}

int kr_cmd_status(int argc, char **argv)
{
    static struct kr_client client;
    struct arguments arguments = {.options = KR_ADDRESS_DEFAULTS, .terminal = kr_terminal_look()};
    int answer = read_arguments(argc, argv, &arguments);
    if (answer != KR_RUN)
        return answer;
    if (arguments.station && !kr_station_named(&client, &arguments.address, arguments.station)) {
        fprintf(stderr, "kniferail status: %s\n", client.error);
        return KR_EXIT_REFUSED;
    }
    int status = arguments.watch ? watch(&client, &arguments) : once(&client, &arguments);
    kr_client_close(&client);
    return status;
}
