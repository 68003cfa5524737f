/* Commands while it runs: on standard input, and on a control socket, a line each. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sim/command.h"
#include "sim/server.h"

/* ---- answers ------------------------------------------------------------------------------------------- */

struct reply {
    uv_write_t write;
    char text[SIM_ANSWER_MAX];
};

static void on_written(uv_write_t *write, int status)
{
    (void)status; /* a client that went away reads nothing */
    free(write->data);
}

static void answer(struct sim_console *console, const char *text)
{
    if (console->is_stdin) {
        fputs(text, stdout);
        fflush(stdout);
        return;
    }
    struct reply *reply = malloc(sizeof *reply);
    if (!reply)
        return;
    snprintf(reply->text, sizeof reply->text, "%s", text);
    reply->write.data = reply;
    uv_buf_t out = uv_buf_init(reply->text, (unsigned)strlen(reply->text));
    if (uv_write(&reply->write, &console->in.stream, &out, 1, on_written) != 0)
        free(reply);
}

/* ---- lines --------------------------------------------------------------------------------------------- */

static void obey(struct sim_console *console)
{
    char text[SIM_ANSWER_MAX];
    struct sim_server *server = console->server;
    if (console->line[0] == 0)
        return;
    if (strcmp(console->line, "quit") == 0) {
        server->quit_asked = true;
        return;
    }
    sim_server_catch_up(server);
    (void)sim_command(&server->machine, console->line, text); /* refused or done: the answer says so */
    answer(console, text);
}

static void take(struct sim_console *console, char byte)
{
    if (byte == '\n') {
        while (console->length > 0 && strchr(" \t\r", console->line[console->length - 1]))
            console->length--;
        console->line[console->length] = 0;
        if (console->skipping)
            answer(console, "the line is too long\n");
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

/* ---- streams ------------------------------------------------------------------------------------------- */

static void on_closed(uv_handle_t *handle)
{
    struct sim_console *console = handle->data;
    console->server = NULL;
}

static void close_console(struct sim_console *console)
{
    if (!console->open)
        return;
    console->open = false;
    uv_close((uv_handle_t *)&console->in.stream, on_closed);
}

static void on_room(uv_handle_t *handle, size_t suggested, uv_buf_t *room)
{
    (void)suggested;
    struct sim_console *console = handle->data;
    *room = uv_buf_init(console->input, sizeof console->input);
}

static void on_read(uv_stream_t *stream, ssize_t n, const uv_buf_t *room)
{
    struct sim_console *console = stream->data;
    if (n < 0) {
        close_console(console);
        return;
    }
    for (ssize_t i = 0; i < n && console->open && !console->server->quit_asked; i++)
        take(console, room->base[i]);
}

static void listen_to(struct sim_console *console, struct sim_server *server)
{
    console->server = server;
    console->open = true;
    console->length = 0;
    console->skipping = false;
    console->in.stream.data = console;
    if (uv_read_start(&console->in.stream, on_room, on_read) != 0)
        close_console(console);
}

/* A file or nothing as standard input gives no commands: a service has none. */
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

/* ---- the control socket -------------------------------------------------------------------------------- */

static void on_client(uv_stream_t *listener, int status)
{
    struct sim_server *server = listener->data;
    for (int i = 1; status == 0 && i < SIM_CONSOLES_MAX; i++) {
        struct sim_console *console = &server->console[i];
        if (console->server)
            continue;
        if (uv_pipe_init(server->loop, &console->in.pipe, 0) != 0)
            return;
        if (uv_accept(listener, &console->in.stream) == 0) {
            listen_to(console, server);
        } else {
            console->in.stream.data = console;
            uv_close((uv_handle_t *)&console->in.stream, on_closed);
        }
        return;
    }
    sim_server_refuse(listener, true);
}

bool sim_server_open_control(struct sim_server *server, const char *path, char *error, size_t size)
{
    int failed = uv_pipe_init(server->loop, &server->control, 0);
    if (failed == 0) {
        server->control.data = server;
        server->control_open = true;
        failed = uv_pipe_bind(&server->control, path);
    }
    if (failed == 0)
        failed = uv_listen((uv_stream_t *)&server->control, SIM_BACKLOG, on_client);
    if (failed != 0)
        snprintf(error, size, "cannot make the control socket %s: %s", path, uv_strerror(failed));
    return failed == 0;
}

void sim_server_close_consoles(struct sim_server *server)
{
    if (server->control_open)
        uv_close((uv_handle_t *)&server->control, NULL);
    server->control_open = false;
    for (int i = 0; i < SIM_CONSOLES_MAX; i++)
        close_console(&server->console[i]);
}
