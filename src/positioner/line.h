/* One connection or serial line with the drives on it, and the thread that works it. */
#ifndef POSITIONER_LINE_H
#define POSITIONER_LINE_H

#include <modbus.h>
#include <pthread.h>

#include "kniferail/drivemap.h"

#define LAG_MAX      16
#define REASON_MAX   160                        /* of the sentence that says why a link was lost */
#define PLACE_MAX    (KR_DRIVE_DEVICE_MAX + 16) /* of "DEVICE unit 1", "ADDRESS port 502 unit 1" */
#define CONNECT_MS   1000                       /* the longest that connecting may take */
#define RETRY_MS     100                        /* first pause before the next try; it doubles ... */
#define RETRY_MAX_MS 5000                       /* ... up to this */

/* Where the loop's thread and the line's thread meet; guarded by the line's lock. */
struct mailbox {
    struct kr_axis_out out; /* serial 0: nothing is to be written yet */
    bool seen;              /* the caller has been given an image of this drive, since the beginning */
    bool fresh;             /* not yet taken by the line's thread */
    struct kr_axis_in in;
    int64_t asked_us;                       /* when the question that `in` answers was sent */
    char news[PLACE_MAX + REASON_MAX + 16]; /* what hasn't been told yet */
    bool has_news;
};

/* A drive, as the line's thread sees it. */
struct port {
    uint16_t rail_index;
    struct kr_drive drive;
    struct mailbox box;
    bool proven; /* its watchdog, since the line was connected */
    bool linked;
    char reason[REASON_MAX]; /* why it isn't */
    int64_t next_try_us;
    int32_t pause_ms;
    uint32_t sent[LAG_MAX]; /* serials of the newest outputs sent, a ring */
    uint32_t n_sent;        /* since it was linked */
    /* drives that count no edges: they are told by what was latched */
    uint16_t rise_count, fall_count, probe_status;
    int32_t rise_um, fall_um;
};

struct line {
    struct kr_drive_link link; /* the first drive's: the same for all but for the unit */
    uint16_t n_ports;
    struct port port[KR_RAILS_MAX];
    modbus_t *modbus;
    int fd;   /* reserved below FD_SETSIZE; the null device while there is no connection */
    int null; /* the null device */
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
/* One exchange with a drive: all outputs out (none if their serial is 0), all inputs in. *in has its contents, but for serials and age. REFUSED: an
 * exception; UNANSWERED: silence or garbage; BROKEN: the connection is gone. errno says more. */
enum transfer line_exchange(struct line *line, struct port *port, const struct kr_axis_out *out,
                            struct kr_axis_in *in);
/* Reads the drive's watchdog. */
enum transfer line_read_watchdog(struct line *line, struct port *port, uint16_t *value);

int64_t line_now_us(void);

#endif
