/* Servo drives over Modbus as a positioner: assigns the drives to lines, and exchanges data with the lines' threads. */
#include "kniferail/positioner.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "line.h"
#include "owner.h"
#include "pace.h"

/* If the caller did not call for so long, this program itself is the reason why an image is old. */
#define OWN_GAP_US 100000

struct drives {
    struct kr_positioner_note note;
    struct pace pace;   /* of the caller */
    int64_t called_us;  /* time of the last call */
    int64_t gap_us;     /* the last long time between two calls */
    int64_t gap_end_us; /* when that time was over */
    uint16_t number;    /* the number by which other gateways on the same drives know this one */
    uint16_t n_rails, n_lines;
    struct line *line_of[KR_RAILS_MAX];
    struct port *port_of[KR_RAILS_MAX];
    struct line line[KR_RAILS_MAX];
};

/* ---- exchange ------------------------------------------------------------------------------------------ */

static void keep_time(struct drives *d, int64_t dt_us)
{
    int64_t now_us = line_now_us();
    if (now_us - d->called_us >= OWN_GAP_US) {
        d->gap_us = now_us - d->called_us;
        d->gap_end_us = now_us;
    }
    d->called_us = now_us;
    pace_step(&d->pace, now_us, dt_us);
}

/* Call it under the line's lock. If an image was requested before this program's own gap, it is old because of the
 * gap. */
static enum kr_silent silent(const struct drives *d, uint16_t rail, uint16_t *other_rail)
{
    const struct line *line = d->line_of[rail];
    const struct mailbox *box = &d->port_of[rail]->box;
    *other_rail = 0;
    if (d->gap_us > 0 && box->asked_us < d->gap_end_us && d->called_us - d->gap_end_us < d->gap_us)
        return KR_SILENT_SELF;
    if (line->waits_for != 0 && line->waits_for != rail + 1) {
        *other_rail = line->waits_for;
        return KR_SILENT_LINE;
    }
    return box->network_silent ? KR_SILENT_NETWORK : KR_SILENT_DRIVE;
}

/* The line's thread holds the lock only while it copies, and so does this function. */
static void meet(const struct drives *d, uint16_t rail, const struct kr_axis_out *out, struct kr_axis_in *in)
{
    struct line *line = d->line_of[rail];
    struct mailbox *box = &d->port_of[rail]->box;
    char news[sizeof box->news];
    pthread_mutex_lock(&line->lock);
    /* Outputs that were made before the caller has seen the drive must not be sent: if a gateway has left the drive
     * running, it would coast, and its brake would close in motion. So the drive is only read first. */
    if (box->seen)
        box->out = *out;
    box->fresh = box->fresh || out->serial != 0;
    *in = box->in;
    box->seen = box->seen || in->link;
    /* The age is counted on the caller's time, not from the moment of the call: if a cycle began some milliseconds
     * late, a moving carriage would seem to jump. */
    in->age_ms = pace_age_ms(&d->pace, box->asked_us, &in->span_us);
    in->wire = box->figures;
    in->silent = (uint8_t)silent(d, rail, &in->silent_rail);
    bool has_news = box->has_news;
    if (has_news)
        snprintf(news, sizeof news, "%s", box->news);
    box->has_news = false;
    pthread_cond_signal(&line->news);
    pthread_mutex_unlock(&line->lock);
    if (has_news && d->note.say)
        d->note.say(d->note.arg, (uint16_t)(rail + 1), news);
}

static void exchange(void *self, const struct kr_axis_out out[], int64_t dt_us, struct kr_axis_in in[])
{
    struct drives *d = self;
    keep_time(d, dt_us);
    for (uint16_t r = 0; r < d->n_rails; r++)
        meet(d, r, &out[r], &in[r]);
}

/* ---- the end ------------------------------------------------------------------------------------------- */

void line_close(struct line *line)
{
    if (line->started) {
        pthread_mutex_lock(&line->lock);
        line->closing = true;
        pthread_cond_signal(&line->news);
        pthread_mutex_unlock(&line->lock);
        pthread_join(line->thread, NULL);
    }
    modbus_free(line->modbus); /* it accepts NULL */
    if (line->fd >= 0)
        (void)close(line->fd);
    if (line->null >= 0)
        (void)close(line->null);
    pthread_cond_destroy(&line->news);
    pthread_mutex_destroy(&line->lock);
}

static void close_drives(void *self)
{
    struct drives *d = self;
    for (uint16_t i = 0; i < d->n_lines; i++)
        line_close(&d->line[i]);
    free(d);
}

/* ---- the beginning ------------------------------------------------------------------------------------- */

static void put_on_line(struct drives *d, uint16_t rail, const struct kr_drive *drive)
{
    uint16_t i = 0;
    while (i < d->n_lines && !kr_drive_same_link(&d->line[i].link, &drive->link))
        i++;
    struct line *line = &d->line[i];
    if (i == d->n_lines) {
        line->link = drive->link;
        d->n_lines++;
    }
    struct port *port = &line->port[line->n_ports++];
    port->rail_index = rail;
    port->drive = *drive;
    port->owner.number = d->number;
    port->box.asked_us = line_now_us(); /* nothing is known of the drive since this time */
    d->line_of[rail] = line;
    d->port_of[rail] = port;
}

static bool start(struct drives *d, char *error, size_t size)
{
    uint16_t n = d->n_lines;
    d->n_lines = 0; /* counts the lines that have to be closed after an error */
    for (uint16_t i = 0; i < n; i++) {
        d->n_lines++;
        if (!line_open(&d->line[i], error, size))
            return false;
    }
    for (uint16_t i = 0; i < n; i++)
        if (!line_start(&d->line[i], error, size))
            return false;
    return true;
}

bool kr_positioner_modbus(uint16_t n_rails, const struct kr_drive *drive, struct kr_positioner_note note,
                          struct kr_positioner *positioner, char *error, size_t error_size)
{
    struct drives *d = calloc(1, sizeof *d);
    if (d == NULL) {
        snprintf(error, error_size, "no memory for the drives");
        return false;
    }
    d->note = note;
    d->n_rails = n_rails;
    d->number = owner_number();
    d->pace.origin_us = d->called_us = line_now_us();
    for (uint16_t r = 0; r < n_rails; r++)
        put_on_line(d, r, &drive[r]);
    if (!start(d, error, error_size)) {
        close_drives(d);
        return false;
    }
    *positioner = (struct kr_positioner){.exchange = exchange, .close = close_drives, .self = d};
    return true;
}
