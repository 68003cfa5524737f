#include "committer.h"

#include <stdio.h>
#include <stdlib.h>

#include "clock.h"
#include "log.h"
#include "record.h"

#define BACKOFF_FIRST_MS 100
#define BACKOFF_LAST_MS  5000
#define LOOK_US          1000000

void committer_open(struct committer *committer, uv_loop_t *loop, struct kr_book *book, int64_t last_sign_utc_ms)
{
    *committer = (struct committer){.loop = loop, .book = book};
    committer->work.data = committer;
    pruner_open(&committer->pruner, last_sign_utc_ms);
}

void committer_add(struct committer *committer, struct station_commits *station)
{
    committer->station[committer->n_stations++] = station;
}

/* ---- what is to be stored --------------------------------------------------------------------------------- */

void committer_alarm(struct station_commits *station, const struct kr_alarm *alarm, bool raised)
{
    struct kr_book_entry *news = &station->news;
    if (news->n_alarms == KR_BOOK_ALARMS_MAX)
        station->left_out++; /* the first entries explain the later ones, so they are kept */
    else
        news->alarm[news->n_alarms++] = (struct kr_book_alarm){clock_utc_ms(), raised, *alarm};
}

void committer_changeover(struct station_commits *station, const struct kr_book_changeover *changeover)
{
    struct kr_book_entry *news = &station->news;
    if (news->n_changeovers == KR_BOOK_CHANGEOVERS_MAX)
        station->left_out++;
    else
        news->changeover[news->n_changeovers++] = *changeover;
}

/* Adds the news to the entry that a failed attempt has left. The durable data is copied again, because the station may
 * have taken back what could not be stored. */
static void gather(struct station_commits *s)
{
    struct kr_book_entry *to = &s->entry, *from = &s->news;
    for (int i = 0; i < from->n_alarms; i++) {
        if (to->n_alarms == KR_BOOK_ALARMS_MAX)
            s->left_out++;
        else
            to->alarm[to->n_alarms++] = from->alarm[i];
    }
    for (int i = 0; i < from->n_changeovers; i++) {
        if (to->n_changeovers == KR_BOOK_CHANGEOVERS_MAX)
            s->left_out++;
        else
            to->changeover[to->n_changeovers++] = from->changeover[i];
    }
    from->n_alarms = from->n_changeovers = 0;
    to->durable = *kr_station_durable(s->station);
    to->now_utc_ms = clock_utc_ms();
}

static bool has_news(const struct station_commits *s)
{
    return s->news.n_alarms > 0 || s->news.n_changeovers > 0 || s->entry.n_alarms > 0 || s->entry.n_changeovers > 0 ||
           kr_station_durable(s->station)->serial != s->committed_serial;
}

/* ---- a commit --------------------------------------------------------------------------------------------- */

/* Logs each changeover's record once, even if the book can't store it. */
static void tell_records(struct station_commits *s)
{
    for (; s->n_told < s->entry.n_changeovers; s->n_told++)
        if (!record_tell(s->name, s->session, s->entry.length_unit, &s->entry.changeover[s->n_told], log_record))
            log_line(LOG_ERROR, "%s: no memory for the record of a changeover", s->name);
}

static void commit(uv_work_t *work)
{
    struct committer *committer = work->data;
    struct station_commits *s = committer->busy_with;
    tell_records(s);
    committer->ok = kr_book_commit(committer->book, s->book_station, &s->entry);
}

static void stored(struct station_commits *s)
{
    if (s->failed)
        log_line(LOG_NOTICE, "%s: the book stores again", s->name);
    if (s->left_out > 0)
        log_line(LOG_WARNING, "%s: %u alarms or records are missing in the book", s->name, s->left_out);
    s->left_out = 0;
    s->failed = false;
    s->backoff_ms = 0;
    s->committed_serial = s->entry.durable.serial;
    s->entry.n_alarms = s->entry.n_changeovers = 0;
    s->n_told = 0;
}

static void not_stored(struct station_commits *s, const char *why)
{
    if (!s->failed) /* logged once, not with every attempt */
        log_line(LOG_ERROR,
                 "%s: the book could not store what must be stored: %s; orders are refused and motion is held", s->name,
                 why);
    s->failed = true;
    s->failure_seen = false;
    s->backoff_ms = s->backoff_ms == 0 ? BACKOFF_FIRST_MS : s->backoff_ms * 2;
    if (s->backoff_ms > BACKOFF_LAST_MS)
        s->backoff_ms = BACKOFF_LAST_MS;
    s->retry_us = clock_us() + s->backoff_ms * 1000LL;
}

/* ---- the book's file ------------------------------------------------------------------------------------------- */

/* Logs a change once, not with every check. */
static void tell_look(struct committer *committer, enum kr_book_look seen)
{
    if (seen == committer->seen)
        return;
    if (seen == KR_BOOK_WELL)
        log_line(LOG_NOTICE, "the book's file exists again, and has room");
    else
        log_line(LOG_ERROR, "book: %s", kr_book_error(committer->book));
    committer->seen = seen;
}

static void look(uv_work_t *work)
{
    struct committer *committer = work->data;
    committer->looked = kr_book_look(committer->book);
}

static void looked(uv_work_t *work, int status)
{
    struct committer *committer = work->data;
    (void)status; /* it is never cancelled */
    committer->looking = false;
    tell_look(committer, committer->looked);
    committer_step(committer); /* a station may have waited for the pool */
}

/* If the pool can't take this check, the check of the next second may succeed. */
static void begin_look(struct committer *committer)
{
    committer->look_us = clock_us() + LOOK_US;
    committer->looking = uv_queue_work(committer->loop, &committer->work, look, looked) == 0;
}

/* ---- the audit -------------------------------------------------------------------------------------------------- */

static void store_audit(uv_work_t *work)
{
    struct committer *committer = work->data;
    committer->ok = kr_book_audit(committer->book, &committer->audit.entry);
}

static void audit_stored(uv_work_t *work, int status)
{
    struct committer *committer = work->data;
    (void)status; /* it is never cancelled */
    committer->auditing = false;
    audit_ended(&committer->audit, committer->ok, kr_book_error(committer->book));
    committer_step(committer); /* a station may have waited for the pool */
}

static void begin_audit(struct committer *committer)
{
    audit_begin(&committer->audit);
    int rc = uv_queue_work(committer->loop, &committer->work, store_audit, audit_stored);
    committer->auditing = rc == 0;
    if (rc != 0)
        audit_ended(&committer->audit, false, uv_strerror(rc));
}

void committer_close(struct committer *committer)
{
    for (int i = 0; i < 2; i++) { /* first the rows that failed before, then those that have come since */
        audit_begin(&committer->audit);
        if (committer->audit.entry.n > 0)
            audit_ended(&committer->audit, kr_book_audit(committer->book, &committer->audit.entry),
                        kr_book_error(committer->book));
    }
}

/* ---- the history's limits -------------------------------------------------------------------------------------- */

static void prune(uv_work_t *work)
{
    struct committer *committer = work->data;
    pruner_run(&committer->pruner, committer->book);
}

static void pruned(uv_work_t *work, int status)
{
    struct committer *committer = work->data;
    (void)status; /* it is never cancelled */
    committer->pruning = false;
    pruner_ended(&committer->pruner, &committer->audit);
    committer_step(committer); /* a station may have waited for the pool */
}

/* If the pool can't take this work, the work of the next cycle may succeed. */
static void begin_pruning(struct committer *committer)
{
    pruner_begin(&committer->pruner);
    committer->pruning = uv_queue_work(committer->loop, &committer->work, prune, pruned) == 0;
}

/* ---- beginning and ending -------------------------------------------------------------------------------------- */

static void ended(uv_work_t *work, int status)
{
    struct committer *committer = work->data;
    struct station_commits *s = committer->busy_with;
    (void)status; /* it is never cancelled */
    committer->busy_with = NULL;
    if (!committer->ok && kr_book_is_gone(committer->book))
        tell_look(committer, KR_BOOK_GONE);
    if (committer->ok)
        stored(s);
    else
        not_stored(s, kr_book_error(committer->book));
    committer_step(committer); /* another station may have waited for the pool */
    s->on_commit(s->arg);
}

/* A failure is noted in the station's data, and the commit is tried again later. */
static void begin(struct committer *committer, struct station_commits *s)
{
    gather(s);
    committer->busy_with = s;
    int rc = uv_queue_work(committer->loop, &committer->work, commit, ended);
    if (rc == 0)
        return;
    committer->busy_with = NULL;
    not_stored(s, uv_strerror(rc));
}

void committer_store_first(struct committer *committer, struct station_commits *s)
{
    gather(s);
    if (kr_book_commit(committer->book, s->book_station, &s->entry))
        stored(s);
    else
        not_stored(s, kr_book_error(committer->book));
}

/* ---- the ledger of knives -------------------------------------------------------------------------------------- */

void committer_knife(struct station_commits *s, uint32_t ticket, const char *name)
{
    if (ticket == 0 || ticket == s->knife_ticket)
        return;
    s->knife_ticket = ticket;
    s->knife_waits = true;
    snprintf(s->knife_name, sizeof s->knife_name, "%s", name);
}

static void look_up(uv_work_t *work)
{
    struct committer *committer = work->data;
    struct station_commits *s = committer->busy_with;
    (void)kr_book_knife(committer->book, s->book_station, s->knife_name,
                        &s->found); /* the answer says whether the look-up failed */
}

static void tell_knife(struct station_commits *s)
{
    s->knife = s->found;
    s->knife.ticket = s->knife_ticket;
    s->knife_waits = false;
}

static void looked_up(uv_work_t *work, int status)
{
    struct committer *committer = work->data;
    struct station_commits *s = committer->busy_with;
    (void)status; /* it is never cancelled */
    committer->busy_with = NULL;
    if (s->found.failed)
        log_line(LOG_ERROR, "%s: the ledger of knives can't be read: %s", s->name, kr_book_error(committer->book));
    tell_knife(s);
    committer_step(committer);
    s->on_commit(s->arg);
}

static void begin_look_up(struct committer *committer, struct station_commits *s)
{
    committer->busy_with = s;
    if (uv_queue_work(committer->loop, &committer->work, look_up, looked_up) == 0)
        return;
    committer->busy_with = NULL;
    s->found = (struct kr_knife_answer){.failed = 1};
    tell_knife(s);
}

/* No attempt is made before the station knows of the failure. The station then refuses what was to be stored, and takes
 * it back. An earlier attempt would store what was refused. */
static bool may_try(const struct station_commits *s)
{
    return !s->failed || (s->failure_seen && clock_us() >= s->retry_us);
}

void committer_step(struct committer *committer)
{
    if (committer->looking || committer->pruning || committer->auditing)
        return;
    for (uint16_t i = 0; i < committer->n_stations && committer->busy_with == NULL; i++) {
        struct station_commits *s = committer->station[committer->next];
        committer->next = (uint16_t)((committer->next + 1) % committer->n_stations);
        if (s->knife_waits)
            begin_look_up(committer, s);
        else if (has_news(s) && may_try(s))
            begin(committer, s);
    }
    if (committer->busy_with == NULL && audit_is_due(&committer->audit))
        begin_audit(committer);
    else if (committer->busy_with == NULL && clock_us() >= committer->look_us)
        begin_look(committer);
    else if (committer->busy_with == NULL && pruner_is_due(&committer->pruner))
        begin_pruning(committer);
}

bool committer_pending(const struct committer *committer, const struct station_commits *station)
{
    return committer->busy_with == station || station->knife_waits || (!station->failed && has_news(station));
}
