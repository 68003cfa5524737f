/* Serves the simulated machine: Modbus/TCP listeners and serial lines (pseudo-terminals) for its drives, a console, and
 * the clock that drives it. It uses libuv, with one loop in one thread. */
#ifndef KNIFERAIL_SIM_SERVER_H
#define KNIFERAIL_SIM_SERVER_H

#include <uv.h>

#include "kniferail/bucket.h"
#include "kniferail/drivemap.h"
#include "sim/command.h"
#include "sim/machine.h"
#include "sim/script.h"
#include "sim/slave.h"

#define SIM_LINKS_MAX       KR_RAILS_MAX
#define SIM_CONNECTIONS_MAX 16 /* at the same time, on all listeners together */
/* A connection without a request, or a client without a command, for so long is closed if a new one needs its place. */
#define SIM_SILENT_MS    1000
#define SIM_CONSOLES_MAX 5    /* standard input and four clients of the control socket */
#define SIM_UNREAD_MS    5000 /* a client that leaves an answer unread for so long is disconnected */
#define SIM_ADU_MAX      260
#define SIM_TICK_MS      2
#define SIM_BACKLOG      16

struct sim_server;

/* The state of a serial line. Only one end sends at a time. */
enum sim_line_state {
    SIM_LINE_SILENT,
    SIM_LINE_HEARS,  /* a request is arriving, or the silence after it is not over yet */
    SIM_LINE_THINKS, /* the drive has the request, and has not begun to answer */
    SIM_LINE_SPEAKS, /* the answer is being sent */
};

/* One listener or serial line, and the rails that are on it. */
struct sim_link {
    struct sim_server *server;
    const struct kr_drive_link *drive_link; /* of the first rail on this link */
    uint16_t n_rails, rail[KR_RAILS_MAX];
    char name[KR_DRIVE_DEVICE_MAX + 16]; /* "127.0.0.1:1502" or the device */
    bool open;
    bool waiting; /* a new connection is not accepted until the one that must give way is closed */
    union {
        uv_tcp_t tcp;
        uv_poll_t poll;
    } handle;
    /* Serial line only; times are those of the monotonic clock. */
    int master_fd, slave_fd, due_fd;
    bool due_watched;
    bool linked; /* the device's name is a link to our pseudo-terminal, and is removed at the end */
    enum sim_line_state state;
    /* Watches due_fd, a timer; libuv's own timers count milliseconds, which is longer than a character. */
    uv_poll_t due;
    int64_t due_us;      /* when the present state ends */
    int64_t heard_us;    /* when the last character that the master has written so far has arrived */
    int64_t silent_us;   /* when the next request may begin */
    int64_t speaking_us; /* when the answer began */
    bool garbled;        /* the present request can't be understood by a drive */
    bool collided;       /* the master sent during the present answer */
    uint8_t request[SIM_RTU_MAX];
    size_t length;
    uint8_t answer[SIM_RTU_MAX];
    size_t answer_length, n_sent;
};

struct sim_connection {
    uv_tcp_t tcp;
    uv_timer_t delay;
    uv_write_t write;
    struct sim_link *link;
    uint8_t n_open; /* handles that libuv still holds; the slot is free at 0 */
    bool busy;      /* an answer is delayed or being sent; requests after it wait */
    bool closing;
    uint64_t asked_ms; /* when its last request came, or the connection itself, by the loop's clock */
    uint8_t request[SIM_ADU_MAX];
    size_t length;
    uint8_t answer[SIM_ADU_MAX];
    size_t answer_length;
};

/* A client's commands are read only while no answer to it waits, so at most one answer is kept for each client. */
struct sim_console {
    union {
        uv_stream_t stream;
        uv_pipe_t pipe;
        uv_tty_t tty;
    } in;
    uv_timer_t unread; /* runs while an answer waits */
    uint64_t asked_ms; /* when its last command came, or the client itself, by the loop's clock */
    uv_write_t write;
    struct sim_server *server;
    uint8_t n_open; /* handles that libuv still holds; the slot is free at 0 */
    bool open, is_stdin;
    bool waiting;  /* the client has not read the answer yet */
    bool skipping; /* the rest of a line that was too long is being skipped */
    char line[256];
    size_t length;
    char input[256]; /* the buffer into which libuv reads */
    size_t n_input, n_taken;
    char answer[SIM_ANSWER_MAX];
};

struct sim_server {
    uv_loop_t *loop;
    struct sim_machine machine;
    struct sim_slave slave;
    struct sim_script script;
    struct kr_drive drive[KR_RAILS_MAX];
    uint16_t n_links;
    struct sim_link link[SIM_LINKS_MAX];
    struct sim_connection connection[SIM_CONNECTIONS_MAX];
    struct sim_console console[SIM_CONSOLES_MAX];
    uv_pipe_t control;
    bool control_open;
    bool client_waits; /* a new client is not accepted until the one that must give way is closed */
    struct kr_buckets buckets;
    uv_timer_t tick;
    uv_signal_t interrupt, terminate;
    uint64_t started_ns, run_us; /* run_us: machine time so far */
    /* A console asked to end: no command is taken any more, and the next tick ends the server. */
    bool quit_asked;
    bool stopping;
};

/* Makes the machine and its slaves. The links are known then, but not open. False: *error says why, in one line. */
bool sim_server_init(struct sim_server *server, uv_loop_t *loop, const struct sim_config *config,
                     const struct kr_drive drive[], char *error, size_t size);

/* Opens one link on its configured address and port. If address is given, opens it there instead; port 0 takes any free
 * port. The link's name then contains the address and port in use. */
bool sim_server_listen(struct sim_link *link, const char *address, uint16_t port, char *error, size_t size);
/* Makes a pseudo-terminal, and a symbolic link to it under the configured device's name. An existing symbolic link that
 * leads nowhere is replaced. One that leads to something, and any other file, is left alone, and false is returned. */
bool sim_server_open_line(struct sim_link *link, char *error, size_t size);

/* Makes the control socket under that name, of at most 107 bytes. An existing socket at which nobody listens any more
 * is replaced. One at which somebody listens, and any other file, is left alone, and false is returned. */
bool sim_server_open_control(struct sim_server *server, const char *path, char *error, size_t size);
void sim_server_open_stdin(struct sim_server *server);

/* Starts the clock, and handles SIGINT and SIGTERM; then run the loop. The loop ends when everything is closed. */
bool sim_server_start(struct sim_server *server, char *error, size_t size);
void sim_server_stop(struct sim_server *server);

/* ---- shared by the server's own files ------------------------------------------------------------------ *
 * server.c starts and ends the parts in the other files. All of them use server_machine.c and do not call server.c: a
 * console only notes the command "quit", and the next tick of the clock ends the server. */

/* Runs the machine up to now; the script begins and ends its faults. */
void sim_server_catch_up(struct sim_server *server);
/* The rail on this link that has the unit identifier, or -1. */
int sim_server_rail(const struct sim_link *link, uint8_t unit_id);
/* Locks the folder that contains path, so that nobody else checks and creates a file of that name at the same time.
 * Returns the lock, for close(). Negative: the folder can't be locked; two simulators must then not start at once. */
int sim_server_lock_folder(const char *path);
/* Open and close both ends of the line's pseudo-terminal, and its name. */
bool sim_pty_open(struct sim_link *link, char *error, size_t size);
void sim_pty_close(struct sim_link *link);
/* Returns the settings that the line's user has made, as far as they can be seen. */
struct kr_drive_link sim_pty_settings(int master_fd);
/* Accepts the waiting connection of a listener, and closes it. */
void sim_server_refuse(uv_stream_t *listener, bool pipe);
/* Makes a console for the waiting client of the control socket, or closes the client if there is no place for it. */
void sim_server_take_client(uv_stream_t *listener);
void sim_server_close_connections(struct sim_server *server);
void sim_server_close_line(struct sim_link *link);
void sim_server_close_consoles(struct sim_server *server);

#endif
