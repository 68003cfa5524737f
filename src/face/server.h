/* server: what face.c, connection.c and memory.c share: sockets, their memory, and whose turn it is.
 *
 * A turn of the loop does this: timers (the daemon's cycle is one); then turn_cb, which serves connections that still
 * hold whole requests, a bounded number for each; then what arrives on the sockets. A connection that has more requests
 * than its share waits in the ready queue for the next turn. As soon as a cycle is due, all connections wait there. */
#ifndef KR_FACE_SERVER_H
#define KR_FACE_SERVER_H

#include "answer.h"

/* So many connections are accepted in one turn; the rest wait in the kernel. A newcomer needs a slot before it is known
 * whose it is, and a closed slot is free only at the end of the turn. So there are as many spare slots. */
#define FACE_ACCEPTS_A_TURN 8

enum face_slot { FACE_SLOT_FREE, FACE_SLOT_OPEN, FACE_SLOT_CLOSING };

struct face_connection {
    uv_tcp_t tcp;
    uv_write_t write;
    struct kr_face *face;
    struct face_connection *next; /* in the free list, or in the ready queue */
    enum face_slot slot;
    bool ready;     /* in the ready queue, because it holds a whole request */
    bool writing;   /* the client has not taken its answers yet: meanwhile nothing is read or answered */
    bool throttled; /* over its rate: the same holds until the tick finds credit */
    bool unread;    /* in the ready queue because a cycle was due when its bytes came */
    bool ended;     /* the client has sent its last */
    bool partial;   /* a frame has begun and is not whole */
    uint64_t partial_since_ms, writing_since_ms, heard_ms; /* heard: the last whole request, or the connect */
    uint64_t credit, credited_ms;                          /* thousandths of a request */
    uint32_t first, end;                                   /* unanswered bytes in `in` */
    uint8_t *in, *out; /* queued_answers frames each, in the face's one block of memory */
    struct face_client client;
};

struct face_listener {
    uv_tcp_t tcp;
    struct kr_face *face;
    bool waiting; /* a connection is there, to be accepted in the next turn */
};

struct kr_face {
    uv_loop_t *loop;
    struct kr_face_config config;
    struct face_notes notes;
    struct kr_face_counters counters;
    struct face_layout layout;
    struct face_stations stations;
    uint16_t n_listeners;
    struct face_listener listener[KR_FACE_LISTEN_MAX];
    uv_timer_t tick;
    uv_prepare_t turn;
    uv_idle_t hurry; /* active while a connection waits for the next turn: the loop then does not sleep */
    uint32_t n_slots, buffer_bytes;
    struct face_connection *slot, *free;
    struct face_connection *ready_first, *ready_last;
    uint8_t *memory; /* of all the buffers */
    unsigned accepts_left;
    /* In this turn a cycle was found due: all wait for the next turn, and the hook is not asked again. */
    bool cycle_seen;
    uint32_t tick_at;   /* the slot that the tick looks at next */
    unsigned n_handles; /* that libuv still holds */
    bool closing;
    void (*closed_cb)(void *arg);
    void *closed_arg;
};

static inline bool face_cycle_due(struct kr_face *face)
{
    if (!face->cycle_seen && face->notes.hooks.cycle_due != NULL)
        face->cycle_seen = face->notes.hooks.cycle_due(face->notes.hooks.arg);
    return face->cycle_seen;
}

/* Allocates the registers of the face's stations, its connections and their buffers, sized by face->config. False:
 * there is no memory for all of them. face_free() frees what there is, and the face itself. */
bool face_allocate(struct kr_face *face);
void face_free(struct kr_face *face);

/* Call it when a handle of the face was closed. The last one frees the face. */
void face_handle_gone(struct kr_face *face);

/* Accepts one connection that the listener has for us, or turns it away. */
void face_accept(struct face_listener *listener);

/* Answers what the connection holds, as far as its share, the cycle and its rate allow. */
void face_connection_serve(struct face_connection *c);

/* Looks at the times and the rate of an open connection. */
void face_connection_tick(struct face_connection *c, uint64_t now_ms);

void face_connection_close(struct face_connection *c);

/* Serves one round: each connection that is in the queue now is served once, unless a cycle comes between. */
void face_serve_ready(struct kr_face *face);

#endif
