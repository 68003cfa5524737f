/* kniferail status: what a station does, for operators and maintenance, read over Modbus like any client. */
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "address.h"
#include "cli.h"
#include "picture.h"
#include "status_view.h"
#include "terminal.h"

const char kr_status_help[] =
    "Reads a running station over Modbus/TCP and prints its state, alarms, last verdict and last record in "
    "words, and\n"
    "its rails drawn to scale. It writes nothing, so it needs no control.\n"
    "\n"
    "In the drawing V and A cut above and below the web and were measured there, v and a were placed and not "
    "measured, o\n"
    "is idle (. if placed and not measured), ? only remembered, x out of service, # fixed, | a cut line, = "
    "the "
    "web, - a\n"
    "trim, ^ the carriage; a digit says how many stand in one column. Holders are drawn at their centres.\n"
    "\n"
    "  --host H     name or address of the gateway (127.0.0.1)\n"
    "  --port P     TCP port (1502)\n"
    "  --unit U     unit identifier (255: the only station, or the default one)\n"
    "  --holders    the numbers of every holder too\n"
    "  --drawing    the drawing alone\n" KR_PICTURE_HELP
    "  --characters SET   ascii, or box: draw with the characters for boxes and shapes (box on a terminal "
    "that "
    "has them)\n"
    "  --watch      again every second, until interrupted\n"
    "\n"
    "Exit status: 0, 1 the station can't be read, 2 wrong usage.\n";

struct arguments {
    struct kr_address_options options;
    struct kr_client_address address;
    const char *characters;
    struct kr_picture_options picture;
    struct kr_scene_style style;
    bool holders, drawing, watch;
};

static void print_drawing(const struct kr_image *image, struct kr_scene_style style)
{
    static struct kr_scene scene;
    kr_scene_of_image(&scene, image);
    kr_scene_text(&scene, style, kr_terminal_lines());
}

static void print_station(const struct kr_image *image, const struct arguments *a)
{
    if (!a->drawing) {
        kr_view_station(image);
        kr_view_alarms(image);
        kr_view_verdict(image);
        kr_view_record(image);
        for (uint16_t r = 0; r < kr_get_rails(image); r++)
            kr_view_drive(image, r);
        for (uint16_t r = 0; r < kr_get_rails(image); r++)
            kr_view_edges(image, r);
        printf("\n");
    }
    print_drawing(image, a->style);
    if (!a->holders)
        return;
    kr_view_sizes(image);
    for (uint16_t r = 0; r < kr_get_rails(image); r++)
        kr_view_holder_table(image, r);
}

/* What is drawn into a file is not printed besides. */
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
    snprintf(subtitle, sizeof subtitle, "As the station said at %s UTC; unit %s.", now,
             named ? named->name : "?");
    return kr_picture_write("status", &a->picture, &scene, subtitle) ? KR_EXIT_OK : KR_EXIT_REFUSED;
}

static int once(struct kr_client *client, const struct arguments *a)
{
    if ((client->modbus || kr_client_open(client, &a->address)) && kr_client_station(client)) {
        if (kr_picture_wanted(&a->picture))
            return draw(&client->image, a);
        print_station(&client->image, a);
        return kr_flushed(KR_EXIT_OK);
    }
    fprintf(stderr, "kniferail status: %s\n", client->error);
    kr_client_close(client);
    return KR_EXIT_REFUSED;
}

/* A gateway that goes away and comes back is shown again. */
static int watch(struct kr_client *client, const struct arguments *a)
{
    const struct timespec second = {.tv_sec = 1};
    for (;;) {
        printf("\033[H\033[2J"); /* home, and clear the screen: ECMA-48 */
        once(client, a);
        if (kr_flushed(KR_EXIT_OK) != KR_EXIT_OK)
            return KR_EXIT_REFUSED;
        nanosleep(&second, NULL);
    }
}

static int read_arguments(int argc, char **argv, struct arguments *a)
{
    const struct kr_option options[] = {KR_ADDRESS_OPTIONS(a->options),       {"holders", NULL, &a->holders},
                                        {"drawing", NULL, &a->drawing},       {"watch", NULL, &a->watch},
                                        {"characters", &a->characters, NULL}, KR_PICTURE_OPTIONS(a->picture)};
    int answer = kr_read_only_options(argc, argv, options, sizeof options / sizeof options[0]);
    if (answer == KR_RUN && (!kr_address_read("status", &a->options, &a->address) ||
                             !kr_terminal_style("status", a->characters, &a->style)))
        return KR_EXIT_USAGE;
    return answer;
}

int kr_cmd_status(int argc, char **argv)
{
    static struct kr_client client;
    struct arguments arguments = {.options = KR_ADDRESS_DEFAULTS};
    int answer = read_arguments(argc, argv, &arguments);
    if (answer != KR_RUN)
        return answer;
    if (arguments.watch)
        return watch(&client, &arguments);
    int status = once(&client, &arguments);
    kr_client_close(&client);
    return status;
}
