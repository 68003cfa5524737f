/* kniferail-panel: reads stations over Modbus as any operator panel does, and shows them in a browser. It never writes
 * a register. */
#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "args.h"
#include "build_id.h"
#include "listen.h"
#include "server.h"

static bool start_watching(const struct args *args, struct panel *panel, struct events *events)
{
    for (int i = 0; i < args->n_stations; i++) {
        struct watch *watch = watch_start(&args->station[i], i + 1, args->period_ms, events_wake, events);
        if (watch == NULL) {
            fprintf(stderr, "kniferail-panel: no memory or thread to watch station %d\n", i + 1);
            return false;
        }
        panel->records[i] = args->records[i];
        panel->station[panel->n_stations++] = watch;
    }
    return true;
}

static void end_watching(struct panel *panel)
{
    for (int i = 0; i < panel->n_stations; i++)
        watch_end(panel->station[i]);
}

static bool tell_port(const struct args *args, int port)
{
    if (!args->print_port)
        return true;
    return printf("%d\n", port) > 0 && fflush(stdout) == 0;
}

/* Runs until a signal asks for the end. */
static int serve(const struct panel *panel, struct events *events, const struct args *args, const sigset_t *asked)
{
    char error[128];
    int port, which, fd = listen_open(args, &port);
    if (fd < 0)
        return EXIT_FAILURE;
    struct server *server = server_start(panel, events, fd, error, sizeof error);
    if (server == NULL) {
        fprintf(stderr, "kniferail-panel: %s\n", error);
        return EXIT_FAILURE;
    }
    bool told = tell_port(args, port);
    if (told)
        (void)sigwait(asked, &which);
    events_finish(events);
    server_end(server);
    listen_tidy(args);
    return told ? EXIT_SUCCESS : EXIT_FAILURE;
}

/* Signals are blocked in every thread, and serve() takes them. */
static bool prepare_signals(sigset_t *asked)
{
    const struct sigaction ignore = {.sa_handler = SIG_IGN};
    sigemptyset(asked);
    sigaddset(asked, SIGTERM);
    sigaddset(asked, SIGINT);
    return pthread_sigmask(SIG_BLOCK, asked, NULL) == 0 && sigaction(SIGPIPE, &ignore, NULL) == 0;
}

static bool print_version(void)
{
    char build[BUILD_ID_TEXT_MAX];
    bool done = printf("kniferail-panel %s, build %s\n", KR_VERSION, build_id_text(build)) > 0 && fflush(stdout) == 0;
    if (!done)
        fprintf(stderr, "kniferail-panel: standard output: %s\n", strerror(errno));
    return done;
}

int main(int argc, char *argv[])
{
    static struct args args;
    static struct panel panel;
    sigset_t asked;
    int status = EXIT_FAILURE;
    switch (args_read(argc, argv, &args)) {
    case ARGS_RUN: break;
    case ARGS_DONE: return EXIT_SUCCESS;
    case ARGS_VERSION: return print_version() ? EXIT_SUCCESS : 2;
    case ARGS_WRONG: return 2;
    }
    struct events *events = events_new(&panel);
    if (events == NULL || !prepare_signals(&asked)) {
        fprintf(stderr, "kniferail-panel: could not start\n");
        return EXIT_FAILURE;
    }
    panel.any_name = args.socket != NULL;
    panel.n_names = args.n_names;
    memcpy(panel.name, args.name, sizeof panel.name);
    if (start_watching(&args, &panel, events))
        status = serve(&panel, events, &args, &asked);
    end_watching(&panel);
    events_free(events);
    return status;
}
