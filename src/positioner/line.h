/* One connection or serial line with the drives on it, and the thread that works it. */
#ifndef POSITIONER_LINE_H
#define POSITIONER_LINE_H

#include <modbus.h>
#include <pthread.h>

#include "kniferail/drivemap.h"

#define LAG_MAX      16
#define REASON_MAX   240                        /* of the sentence that says why a link was lost */
#define PLACE_MAX    (KR_DRIVE_DEVICE_MAX + 16) /* of "DEVICE unit 1", "ADDRESS port 502 unit 1" */
#define CONNECT_MS   1000                       /* the longest that connecting may take */
#define RETRY_MS     100                        /* first pause before the next try; it doubles ... */
#define RETRY_MAX_MS 5000                       /* ... up to this, until a link has held for STEADY_MS */
#define STEADY_MS    2000
#define FLAPS_MAX    3     /* links that were lost sooner: further ones are counted, and told ... */
#define FLAPS_MS     60000 /* ... so often */
#define TCP_ADU_MAX  260   /* MODBUS Messaging on TCP/IP V1.0b, 4.1: MBAP header and the longest PDU */

/* Where the loop's thread and the line's thread meet; guarded by the line's lock. */
struct mailbox {
    struct kr_axis_out out; /* serial 0: nothing is to be written yet */
    bool seen;              /* the caller has been given an image of this drive, since the beginning */
    bool fresh;             /* not yet taken by the line's thread */
    struct kr_axis_in in;
    int64_t asked_us;    /* when the question that `in` answers was sent */
    bool network_silent; /* what was sent last is not even confirmed */
    struct kr_wire_figures figures;
    char news[PLACE_MAX + REASON_MAX + 16]; /* what hasn't been told yet */
    bool has_news;
};

enum owner_state {
    OWNER_UNSEEN,  /* nothing has been read */
    OWNER_WATCHED, /* it is another's, or a dead one's */
    OWNER_CLAIMED, /* this program's number was written, and is to be read back */
    OWNER_OURS,
};

/* Whose drive it is (owner.c). */
struct owner {
    uint16_t number; /* this program's */
    enum owner_state state;
    bool writes;         /* the next number, with the next call */
    uint16_t said, seen; /* the last number written; the last one that was another's */
    int64_t since_us;    /* when that was seen first */
    int64_t look_us;     /* when to look again */
    bool looks_at_target;
    uint16_t differs; /* so often in succession what was read back was not what was written */
};

/* A drive, as the line's thread sees it. */
struct port {
    uint16_t rail_index;
    struct kr_drive drive;
    struct mailbox box;
    bool proven;        /* its watchdog, since the line was connected */
    bool method_read;   /* likewise its homing method */
    uint16_t n_checked; /* likewise how many of its expected parameters were right */
    struct kr_drive_refusal refusal;
    struct owner owner;
    uint16_t homing_method; /* 0: it has no such register */
    bool linked;
    char reason[REASON_MAX]; /* why it isn't */
    int64_t linked_us;       /* since when it is */
    uint16_t flaps;          /* links that did not hold, since one did, or since they were told last */
    int64_t flaps_us;        /* when they were told last */
    int64_t next_try_us;
    int32_t pause_ms;
    /* the present question */
    int64_t asked_us, until_us; /* when it was begun, and how long its answers are waited for */
    bool stopped;               /* a stop has overtaken it */
    uint32_t retries, lost_answers, lost_links;
    struct kr_axis_out said; /* what the drive was sent last; serial 0: nothing yet */
    uint32_t sent[LAG_MAX];  /* serials of the newest outputs sent, a ring */
    uint32_t n_sent;         /* since it was linked */
    /* drives that count no edges: they are told by what was latched */
    uint16_t probe_status;
    struct kr_probe_edges probe[2];
};

struct line {
    struct kr_drive_link link; /* the first drive's: the same for all but for the unit */
    uint16_t n_ports;
    struct port port[KR_RAILS_MAX];
    modbus_t *modbus; /* serial line only */
    /* TCP: */
    uint16_t transaction;
    size_t n_received;
    uint8_t received[TCP_ADU_MAX];
    char why[80]; /* what is wrong with the last answer, in words; empty: errno says it */
    /* Serial line: until then an answer may come that nobody waits for; 0: none is on its way. */
    int64_t quiet_us;
    int64_t silent_us;  /* serial line: until then it has to be silent before another frame may begin */
    uint16_t waits_for; /* rail, from 1, whose drive is being asked; 0: none. Guarded by the lock */
    int fd;             /* reserved below FD_SETSIZE; the null device while there is no connection */
    int null;           /* the null device */
    bool connected;
    int64_t next_try_us;
    int32_t pause_ms;
    pthread_t thread;
    bool started;
    pthread_mutex_t lock;
    pthread_cond_t news; /* outputs, or the end */
    bool closing;        /* guarded by the lock */
};

/* Takes memory, descriptors and the lock; no thread yet. False: *error says why, and line_close() gives back what there
 * is. Ports are in place before. */
bool line_open(struct line *line, char *error, size_t size);
bool line_start(struct line *line, char *error, size_t size);
void line_close(
    struct line *line); /* ends the thread; the drives' outputs go off first, if they can be reached */

/* ---- between the line's own files ---------------------------------------------------------------------- */

/* Makes the connection, on the reserved descriptor. False: errno says why. */
bool line_connect(struct line *line);
void line_disconnect(struct line *line);

enum transfer { TRANSFER_DONE, TRANSFER_REFUSED, TRANSFER_UNANSWERED, TRANSFER_BROKEN };
/* One exchange with a drive: all outputs out (none if their serial is 0), all inputs in. *in has its contents, but
 * for serials and age. REFUSED: an exception; UNANSWERED: silence or garbage; BROKEN: the connection is gone. errno
 * says more. */
enum transfer line_exchange(struct line *line, struct port *port, const struct kr_axis_out *out,
                            struct kr_axis_in *in);
/* Reads registers of the drive, whatever they are. */
enum transfer line_read(struct line *line, struct port *port, struct kr_drive_run from, uint16_t word[]);
/* Writes them; over TCP once, on a serial line again if there is no answer. */
enum transfer line_write(struct line *line, struct port *port, struct kr_drive_run to, const uint16_t word[]);

int64_t line_now_us(void);
void line_sleep_us(int64_t us); /* 0 or less: not at all */

#endif
