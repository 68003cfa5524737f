/* kniferail status: what a station does, for operators and maintenance, read over Modbus like any client. */
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "address.h"
#include "cli.h"
#include "status_view.h"

const char kr_status_help[] = "Reads a running station over Modbus/TCP and prints its state, alarms, last "
                              "verdict and last record in words, and\n"
                              "each rail drawn to scale: | a cut line; # a holder that cuts and was measured "
                              "there, * one that cuts and was not,\n"
                              "o an idle one, - one out of service, X a fixed one; ^ the carriage. It writes "
                              "nothing, so it needs no control.\n"
                              "\n"
                              "  --host H     name or address of the gateway (127.0.0.1)\n"
                              "  --port P     TCP port (1502)\n"
                              "  --unit U     unit identifier (255: the only station, or the default one)\n"
                              "  --holders    the numbers of every holder too\n"
                              "  --watch      again every second, until interrupted\n"
                              "\n"
                              "Exit status: 0, 1 the station can't be read, 2 wrong usage.\n";

struct arguments {
    struct kr_address_options options;
    struct kr_client_address address;
    bool holders, watch;
};

static void print_station(const struct kr_image *image, bool holders)
{
    kr_view_station(image);
    kr_view_alarms(image);
    kr_view_verdict(image);
    kr_view_record(image);
    if (holders)
        kr_view_sizes(image);
    for (uint16_t r = 0; r < kr_get_rails(image); r++)
        kr_view_rail(image, r, holders);
}

static int once(struct kr_client *client, const struct arguments *a)
{
    if ((client->modbus || kr_client_open(client, &a->address)) && kr_client_station(client)) {
        print_station(&client->image, a->holders);
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
    const struct kr_option options[] = {
        KR_ADDRESS_OPTIONS(a->options), {"holders", NULL, &a->holders}, {"watch", NULL, &a->watch}};
    int answer = kr_read_only_options(argc, argv, options, sizeof options / sizeof options[0]);
    if (answer == KR_RUN && !kr_address_read("status", &a->options, &a->address))
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
