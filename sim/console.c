/* Takes commands from standard input and from clients of the control socket, one on each line. */
#include <stdio.h>
#include <string.h>

#include "sim/command.h"
#include "sim/server.h"

static void on_room(uv_handle_t *handle, size_t suggested, uv_buf_t *room);
static void on_read(uv_stream_t *stream, ssize_t n, const uv_buf_t *room);
static void serve(struct sim_console *console);
static void take_waiting(struct sim_server *server);

/* ---- the end of a console ------------------------------------------------------------------------------ */

static void on_closed(uv_handle_t *handle)
{
    struct sim_console *console = handle->data;
    console->n_open--;
    if (console->n_open == 0)
        take_waiting(console->server);
}

static void close_console(struct sim_console *console)
{
    if (!console->open)
        return;
    console->open = false;
    uv_close((uv_handle_t *)&console->in.stream, on_closed);
    uv_close((uv_handle_t *)&console->unread, on_closed);
}

/* ---- answers ------------------------------------------------------------------------------------------- */

static void on_written(uv_write_t *write, int status)
{
    struct sim_console *console = write->handle->data;
    console->waiting = false;
    (void)uv_timer_stop(&console->unread); /* this can't fail */
    if (status != 0) {
        close_console(console);
        return;
    }
    serve(console);
    if (console->open && !console->waiting && uv_read_start(&console->in.stream, on_room, on_read) != 0)
        close_console(console);
}

static void on_unread(uv_timer_t *timer)
{
    fprintf(stderr, "control socket: a client left an answer unread for %d s; it is dropped\n", SIM_UNREAD_MS / 1000);
    close_console(timer->data);
}

/* The client's next commands wait in the kernel until the client has read the answer to this one. */
static void wait_for_reader(struct sim_console *console, size_t n_read)
{
    uv_buf_t rest = uv_buf_init(console->answer + n_read, (unsigned)(strlen(console->answer) - n_read));
    console->waiting = true;
    (void)uv_read_stop(&console->in.stream); /* this can't fail */
    if (uv_timer_start(&console->unread, on_unread, SIM_UNREAD_MS, 0) != 0 ||
        uv_write(&console->write, &console->in.stream, &rest, 1, on_written) != 0)
        close_console(console);
}

static void send_answer(struct sim_console *console)
{
    if (console->is_stdin) {
        fputs(console->answer, stdout);
        fflush(stdout);
        return;
    }
    uv_buf_t out = uv_buf_init(console->answer, (unsigned)strlen(console->answer));
    int sent = uv_try_write(&console->in.stream, &out, 1);
    if (sent == UV_EAGAIN)
        sent = 0;
    if (sent < 0) /* the client has disconnected */
        close_console(console);
    else if ((size_t)sent < out.len)
        wait_for_reader(console, (size_t)sent);
}

/* ---- lines --------------------------------------------------------------------------------------------- */

static void obey(struct sim_console *console)
{
    struct sim_server *server = console->server;
    if (console->line[0] == 0)
        return;
    if (strcmp(console->line, "quit") == 0) {
        server->quit_asked = true;
        return;
    }
    console->asked_ms = uv_now(server->loop);
    sim_server_catch_up(server);
    /* The answer says whether the command was carried out or refused. */
    (void)sim_command(&server->machine, console->line, console->answer);
    send_answer(console);
}

static void refuse_line(struct sim_console *console)
{
    snprintf(console->answer, sizeof console->answer, "the line is too long\n");
    send_answer(console);
}

static void take_byte(struct sim_console *console, char byte)
{
    if (byte == '\n') {
        while (console->length > 0 && strchr(" \t\r", console->line[console->length - 1]))
            console->length--;
        console->line[console->length] = 0;
        if (console->skipping)
            refuse_line(console);
        else
            obey(console);
        console->length = 0;
        console->skipping = false;
    } else if (console->length + 1 < sizeof console->line) {
        console->line[console->length++] = byte;
    } else {
        console->skipping = true;
    }
}

/* Serves the commands that have come, until the answer to one of them has to wait. */
static void serve(struct sim_console *console)
{
    while (console->n_taken < console->n_input && console->open && !console->waiting && !console->server->quit_asked)
        take_byte(console, console->input[console->n_taken++]);
}

/* ---- streams ------------------------------------------------------------------------------------------- */

static void on_room(uv_handle_t *handle, size_t suggested, uv_buf_t *room)
{
    (void)suggested;
    struct sim_console *console = handle->data;
    *room = uv_buf_init(console->input, sizeof console->input);
}

static void on_read(uv_stream_t *stream, ssize_t n, const uv_buf_t *room)
{
    (void)room;
    struct sim_console *console = stream->data;
    if (n < 0) {
        close_console(console);
        return;
    }
    console->n_input = (size_t)n;
    console->n_taken = 0;
    serve(console);
}

static void listen_to(struct sim_console *console, struct sim_server *server)
{
    (void)uv_timer_init(server->loop, &console->unread); /* this can't fail */
    console->n_open = 2;
    console->server = server;
    console->asked_ms = uv_now(server->loop);
    console->open = true;
    console->waiting = console->skipping = false;
    console->length = console->n_input = console->n_taken = 0;
    console->in.stream.data = console->unread.data = console;
    if (uv_read_start(&console->in.stream, on_room, on_read) != 0)
        close_console(console);
}

/* If standard input is a file or closed, as in a service, there are no commands from it. */
void sim_server_open_stdin(struct sim_server *server)
{
    struct sim_console *console = &server->console[0];
    console->is_stdin = true;
    int failed = -1;
    switch (uv_guess_handle(0)) {
    case UV_TTY: failed = uv_tty_init(server->loop, &console->in.tty, 0, 0); break;
    case UV_NAMED_PIPE:
        failed = uv_pipe_init(server->loop, &console->in.pipe, 0);
        if (failed == 0)
            failed = uv_pipe_open(&console->in.pipe, 0);
        break;
    default: break;
    }
    if (failed == 0)
        listen_to(console, server);
}

/* ---- clients of the control socket --------------------------------------------------------------------- */

static struct sim_console *free_console(struct sim_server *server)
{
    for (int i = 1; i < SIM_CONSOLES_MAX; i++)
        if (server->console[i].n_open == 0)
            return &server->console[i];
    return NULL;
}

/* A client that leaves an answer unread has a separate time limit. */
static bool displace_one(struct sim_server *server)
{
    struct sim_console *found = NULL;
    uint64_t now_ms = uv_now(server->loop);
    for (int i = 1; i < SIM_CONSOLES_MAX; i++) {
        struct sim_console *c = &server->console[i];
        if (c->open && !c->waiting && now_ms - c->asked_ms >= SIM_SILENT_MS &&
            (!found || c->asked_ms < found->asked_ms))
            found = c;
    }
    if (!found)
        return false;
    fprintf(stderr, "control socket: a client without a command for %llu ms gives way to a new one\n",
            (unsigned long long)(now_ms - found->asked_ms));
    close_console(found);
    return true;
}

static void take(struct sim_server *server, struct sim_console *console)
{
    if (uv_pipe_init(server->loop, &console->in.pipe, 0) != 0)
        return;
    bool taken = uv_accept((uv_stream_t *)&server->control, &console->in.stream) == 0;
    listen_to(console, server);
    if (!taken)
        close_console(console);
}

static void take_waiting(struct sim_server *server)
{
    struct sim_console *console = server->client_waits && server->control_open ? free_console(server) : NULL;
    if (!console)
        return;
    server->client_waits = false;
    take(server, console);
}

/* The place of a client that gives way is free only when libuv has closed it; until then libuv keeps the new client. */
void sim_server_take_client(uv_stream_t *listener)
{
    struct sim_server *server = listener->data;
    struct sim_console *console = free_console(server);
    if (console)
        take(server, console);
    else if (displace_one(server))
        server->client_waits = true;
    else
        sim_server_refuse(listener, true);
}

void sim_server_close_consoles(struct sim_server *server)
{
    if (server->control_open)
        uv_close((uv_handle_t *)&server->control, NULL);
    server->control_open = false;
    for (int i = 0; i < SIM_CONSOLES_MAX; i++)
        close_console(&server->console[i]);
}
