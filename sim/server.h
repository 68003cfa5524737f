/* The simulated machine behind wires: Modbus/TCP listeners and serial lines (pseudo-terminals) that serve its drives,
 * a console, and the clock that drives it. On libuv, one loop, one thread. */
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
#define SIM_CONNECTIONS_MAX 16 /* at once, on all listeners */
#define SIM_SILENT_MS \
    1000 /* a connection without a request, or a client without a command, for so long gives way */
#define SIM_CONSOLES_MAX 5    /* standard input and four clients of the control socket */
#define SIM_UNREAD_MS    5000 /* a client that leaves an answer unread for so long is dropped */
#define SIM_ADU_MAX      260
#define SIM_TICK_MS      2
#define SIM_BACKLOG      16

struct sim_server;

/* What a serial line does. One end speaks at a time. */
enum sim_line_state {
    SIM_LINE_SILENT,
    SIM_LINE_HEARS,  /* a request is on its way, or the silence behind it isn't over yet */
    SIM_LINE_THINKS, /* the drive has the request, and has not begun to answer */
    SIM_LINE_SPEAKS, /* the answer is on its way */
};

/* One listener or serial line, and the rails that are on it. */
struct sim_link {
    struct sim_server *server;
    const struct kr_drive_link *drive_link; /* of the first rail on it */
    uint16_t n_rails, rail[KR_RAILS_MAX];
    char name[KR_DRIVE_DEVICE_MAX + 16]; /* "127.0.0.1:1502" or the device */
    bool open;
    bool waiting; /* a new connection is left with libuv until the one that gives way has gone */
    union {
        uv_tcp_t tcp;
        uv_poll_t poll;
    } handle;
    /* serial line; times are the monotonic clock's */
    int master_fd, slave_fd, due_fd;
    bool due_watched;
    bool linked; /* the device's name stands for our pseudo-terminal and is taken away at the end */
    enum sim_line_state state;
    uv_poll_t due;       /* of due_fd, a timer: libuv's own count milliseconds, and a character lasts less */
    int64_t due_us;      /* when the present state ends */
    int64_t heard_us;    /* when the last character of what the master has written so far has arrived */
    int64_t silent_us;   /* from then on a request may begin */
    int64_t speaking_us; /* when the answer began */
    bool garbled;        /* the present request: a drive can make nothing of it */
    bool collided;       /* the present answer: the master spoke at the same time */
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
    bool busy;      /* an answer is held back or on its way out: requests behind it wait */
    bool closing;
    uint64_t asked_ms; /* when its last request came, or itself, by the loop's clock */
    uint8_t request[SIM_ADU_MAX];
    size_t length;
    uint8_t answer[SIM_ADU_MAX];
    size_t answer_length;
};

/* A client's commands are read only while no answer to it waits: one answer is the most that is kept for a client. */
struct sim_console {
    union {
        uv_stream_t stream;
        uv_pipe_t pipe;
        uv_tty_t tty;
    } in;
    uv_timer_t unread; /* runs while an answer waits */
    uint64_t asked_ms; /* when its last command came, or itself, by the loop's clock */
    uv_write_t write;
    struct sim_server *server;
    uint8_t n_open; /* handles that libuv still holds; the slot is free at 0 */
    bool open, is_stdin;
    bool waiting;  /* for the client to read the answer */
    bool skipping; /* the rest of a line that was too long */
    char line[256];
    size_t length;
    char input[256]; /* what libuv reads into */
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
    bool client_waits; /* a new client is left with libuv until the one that gives way has gone */
    struct kr_buckets buckets;
    uv_timer_t tick;
    uv_signal_t interrupt, terminate;
    uint64_t started_ns, run_us; /* run_us: machine time so far */
    bool quit_asked; /* on a console; the next tick ends the server, and no command is taken any more */
    bool stopping;
};

/* Makes the machine and its slaves. Links are known then, but not open. False: *error says why, one line. */
bool sim_server_init(struct sim_server *server, uv_loop_t *loop, const struct sim_config *config,
                     const struct kr_drive drive[], char *error, size_t size);

/* Opens one link: on its configured address and port, or, with address given, on that address; port 0 takes any that
 * is free. The link's name says where it is then. */
bool sim_server_listen(struct sim_link *link, const char *address, uint16_t port, char *error, size_t size);
/* Makes a pseudo-terminal, and under the configured device's name a link to it. A link of that name that leads
 * nowhere is replaced; one that leads to something, and any other file, is left alone and refused. */
bool sim_server_open_line(struct sim_link *link, char *error, size_t size);

/* Makes the control socket under that name, 107 bytes at most. A socket of that name at which nobody listens any more
 * is replaced; one at which somebody does, and any other file, is left alone and refused. */
bool sim_server_open_control(struct sim_server *server, const char *path, char *error, size_t size);
void sim_server_open_stdin(struct sim_server *server);

/* Starts the clock and heeds SIGINT and SIGTERM; then run the loop. It ends when everything is closed. */
bool sim_server_start(struct sim_server *server, char *error, size_t size);
void sim_server_stop(struct sim_server *server);

/* ---- between the server's own files -------------------------------------------------------------------- *
 * server.c starts and ends the others. They stand on server_machine.c and don't call it: what a console's "quit" asks
 * is noted, and the clock's tick heeds it. */

/* Brings the machine up to now; the script strikes what is due. */
void sim_server_catch_up(struct sim_server *server);
/* The rail on this link that has the unit identifier, or -1. */
int sim_server_rail(const struct sim_link *link, uint8_t unit_id);
/* Between the look at a name and the making of a new file nobody else may do the same. Returns the lock on the folder
 * in which the path is, for close(); negative: it can't be had, and then two simulators must not start at once. */
int sim_server_lock_folder(const char *path);
/* The line's two ends of a pseudo-terminal, and its name. */
bool sim_pty_open(struct sim_link *link, char *error, size_t size);
void sim_pty_close(struct sim_link *link);
/* What the line's user has set it to, so far as that shows. */
struct kr_drive_link sim_pty_settings(int master_fd);
/* Takes the waiting connection of a listener and closes it. */
void sim_server_refuse(uv_stream_t *listener, bool pipe);
/* Makes a console of the waiting client of the control socket, or closes it if there is no place for one more. */
void sim_server_take_client(uv_stream_t *listener);
void sim_server_close_connections(struct sim_server *server);
void sim_server_close_line(struct sim_link *link);
void sim_server_close_consoles(struct sim_server *server);

#endif
