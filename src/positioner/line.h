/* line: one TCP connection or serial line with the drives on it, and the thread that serves them. */
#ifndef POSITIONER_LINE_H
#define POSITIONER_LINE_H

#include <modbus.h>
#include <pthread.h>

#include "kniferail/drivemap.h"

#define LAG_MAX    16
#define REASON_MAX 240                        /* the longest sentence that says why a link was lost */
#define PLACE_MAX  (KR_DRIVE_DEVICE_MAX + 16) /* "DEVICE unit 1" or "ADDRESS port 502 unit 1" */
#define CONNECT_MS 1000                       /* the time limit for connecting */
/* The pause before the next try begins with RETRY_MS and doubles after each failure, up to RETRY_MAX_MS. It begins anew
 * once a link has held for STEADY_MS. */
#define RETRY_MS     100
#define RETRY_MAX_MS 5000
#define STEADY_MS    2000
/* A link that was lost before STEADY_MS is a flap. FLAPS_MAX flaps are logged one by one; the further ones are counted,
 * and their number is logged every FLAPS_MS. */
#define FLAPS_MAX   3
#define FLAPS_MS    60000
#define TCP_ADU_MAX 260 /* MODBUS Messaging on TCP/IP V1.0b, 4.1: MBAP header and the longest PDU */

/* The data that the loop's thread and the line's thread exchange, guarded by the line's lock. */
struct mailbox {
    struct kr_axis_out out; /* serial 0: nothing is to be written yet */
    bool seen;              /* the caller has received an image of this drive since the start */
    bool fresh;             /* the line's thread has not taken `out` yet */
    struct kr_axis_in in;
    int64_t asked_us;    /* when the request was sent to which `in` is the answer */
    bool network_silent; /* the other end has not even confirmed the TCP segments that were sent last */
    struct kr_wire_figures figures;
    char news[PLACE_MAX + REASON_MAX + 16]; /* the line for the log that was not told yet */
    bool has_news;
};

enum owner_state {
    OWNER_UNSEEN,  /* nothing has been read */
    OWNER_WATCHED, /* the number is another gateway's, which may be dead */
    OWNER_CLAIMED, /* this program's number was written, and has to be read back */
    OWNER_OURS,
};

/* Which gateway the drive belongs to (owner.c). */
struct owner {
    uint16_t number; /* this program's number */
    enum owner_state state;
    bool writes;         /* the next call writes the next count */
    uint16_t said, seen; /* the last value that this program wrote; the last value that another gateway wrote */
    int64_t since_us;    /* when `seen` was read first */
    int64_t look_us;     /* when to read again */
    bool looks_at_target;
    uint16_t differs; /* how many times in succession a value read back differed from the value written */
};

/* A drive, as the line's thread knows it. */
struct port {
    uint16_t rail_index;
    struct kr_drive drive;
    struct mailbox box;
    bool proven;      /* its watchdog was found active since the line was connected */
    bool method_read; /* its homing method was read since the line was connected */
    /* How many of its expected parameters were found right since the line was connected. */
    uint16_t n_checked;
    struct kr_drive_refusal refusal;
    struct owner owner;
    uint16_t homing_method; /* 0: the drive has no such register */
    bool linked;
    char reason[REASON_MAX]; /* why it is not linked */
    int64_t linked_us;       /* since when it is linked */
    uint16_t flaps;          /* flaps since a link held, or since their number was logged last */
    int64_t flaps_us;        /* when their number was logged last */
    int64_t next_try_us;
    int32_t pause_ms;
    /* The exchange under way. */
    int64_t asked_us, until_us; /* when it began, and how long its answers are waited for */
    bool stopped;               /* a stop was sent before its answer came */
    uint32_t retries, lost_answers, lost_links;
    struct kr_axis_out said; /* the outputs that were sent last; serial 0: none yet */
    uint32_t sent[LAG_MAX];  /* a ring: the serials of the newest outputs sent */
    uint32_t n_sent;         /* since the drive was linked */
    /* For drives without edge counters: the edges are counted from the latched values. */
    uint16_t probe_status;
    struct kr_probe_edges probe[2];
};

struct line {
    struct kr_drive_link link; /* the first drive's; those of the others differ only in the unit identifier */
    uint16_t n_ports;
    struct port port[KR_RAILS_MAX];
    modbus_t *modbus; /* serial line only */
    /* TCP only: */
    uint16_t transaction;
    size_t n_received;
    uint8_t received[TCP_ADU_MAX];
    char why[80]; /* what is wrong with the last answer, in words; empty: errno says it */
    /* Serial line only: */
    int64_t quiet_us;   /* until then a late answer may come that nobody waits for; 0: none can */
    int64_t silent_us;  /* the next frame must not begin earlier */
    uint16_t waits_for; /* the rail, from 1, whose drive is being asked; 0: none. Guarded by the lock */
    int fd;             /* reserved below FD_SETSIZE; the null device while there is no connection */
    int null;           /* the null device */
    bool connected;
    int64_t next_try_us;
    int32_t pause_ms;
    pthread_t thread;
    bool started;
    pthread_mutex_t lock;
    pthread_cond_t news; /* there are outputs, or the thread has to end */
    bool closing;        /* guarded by the lock */
};

/* Takes memory, descriptors and the lock, but starts no thread yet. The ports must be filled in before. False: *error
 * says why, and line_close() must be called nonetheless. */
bool line_open(struct line *line, char *error, size_t size);
bool line_start(struct line *line, char *error, size_t size);
/* Ends the thread. Before it ends, it switches off the outputs of every drive that it can reach. */
void line_close(struct line *line);

/* ---- shared by the line's own files -------------------------------------------------------------------- */

/* Connects, using the reserved descriptor. False: errno says why. */
bool line_connect(struct line *line);
void line_disconnect(struct line *line);

enum transfer { TRANSFER_DONE, TRANSFER_REFUSED, TRANSFER_UNANSWERED, TRANSFER_BROKEN };
/* Makes one exchange with a drive: writes all outputs (none if their serial is 0), and reads all inputs into *in,
 * except for its serials and age. REFUSED: the drive answered with an exception. UNANSWERED: there was no answer, or no
 * valid one. BROKEN: the connection is lost. errno says more. */
enum transfer line_exchange(struct line *line, struct port *port, const struct kr_axis_out *out, struct kr_axis_in *in);
/* Reads any registers of the drive. */
enum transfer line_read(struct line *line, struct port *port, struct kr_drive_run from, uint16_t word[]);
/* Writes registers: once over TCP, and on a serial line again if there is no answer. */
enum transfer line_write(struct line *line, struct port *port, struct kr_drive_run to, const uint16_t word[]);

int64_t line_now_us(void);
void line_sleep_us(int64_t us); /* returns at once if us is 0 or less */

#endif
