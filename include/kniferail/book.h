/* book: what must survive a power cut, in one SQLite database a daemon: holders and where they stand, orders, the last
 * verdict, and besides the history that maintenance asks for: changeovers, alarms, edits, sessions. Stands on
 * station; the daemon and the command line stand on it. Any SQL tool can read the file, also while it is in use.
 *
 * What a commit has stored is on the disk when it returns: a power cut afterwards does not take it back. A commit that
 * fails has stored nothing, and may be tried again with the same entry. One thing only a disk that works can settle: if
 * the power goes after a commit has failed and before a later one succeeds, that commit may be found to be there after
 * all, whole.
 *
 * A lock on the file itself keeps a second gateway away. Beside it lies FILE.lock, which older programs lock, and
 * which holds the number of commits that were confirmed. A file that has fewer (its -wal was left behind or damaged,
 * or it is an older copy) is refused. So is a station whose stored numbers are not those that were stored. Both say
 * how to go on nonetheless.
 *
 * One thread at a time: the daemon opens and loads on its own thread, then has at most one commit in the thread
 * pool. Nothing here is called in the cycle: every call may wait for the disk. */
#ifndef KNIFERAIL_BOOK_H
#define KNIFERAIL_BOOK_H

#include "kniferail/audit.h"
#include "kniferail/station.h"

#define KR_BOOK_ALARMS_MAX      64   /* of one entry */
#define KR_BOOK_CHANGEOVERS_MAX 4    /* of one entry */
#define KR_BOOK_MOVES_MAX       1024 /* of one changeover, corrections included */
#define KR_BOOK_VERDICTS_KEPT \
    10000 /* of a station, and as many maintenance requests; older ones are dropped */
#define KR_BOOK_TEXT_MAX 256

struct kr_book;

/* path: the database; made if it isn't there. NULL: a book in memory, of which nothing survives the process. Checks
 * first all that stations start from; the history, which may hold years, kr_book_check() looks at (care.h). NULL if it
 * can't be used: *error says why in one line, always closed with a 0. Then the file is as it was. A second daemon
 * can't open a book that is in use, by whatever name. The files of the book get the rights 0640 at most; symbolic
 * links planted in their places are not followed, and a book has one name only. One of an older schema version is
 * brought up to this one, in one transaction, after a copy of it was made beside it. */
struct kr_book *kr_book_open(const char *path, char *error, size_t error_size);
void kr_book_close(struct kr_book *book); /* NULL is fine */

/* What opening did to a book of an older schema version: one line for the log, with the name of the copy; "":
 * nothing. */
#define KR_BOOK_MIGRATED_MAX 4200
const char *kr_book_migrated(const struct kr_book *book);

/* Looks at the file without storing anything: whether it is still there, and KR_BOOK_FREE_KB can be written.
 * If it isn't well, kr_book_error() says what is wrong. */
enum kr_book_look { KR_BOOK_WELL, KR_BOOK_GONE, KR_BOOK_DISK_FULL };
enum kr_book_look kr_book_look(struct kr_book *book);

/* Whether the last commit or look found the file deleted, moved, replaced, or with a second name. Nothing is stored
 * then. */
bool kr_book_is_gone(const struct kr_book *book);

/* Why the last call failed, one line; lives until the next call. */
const char *kr_book_error(const struct kr_book *book);

/* The last run of a gateway with this book. */
struct kr_book_run {
    enum kr_run_end end;
    uint16_t session;   /* 0: there was none */
    int64_t sign_utc_s; /* its end, or its last commit, by the clock of then; 0: unknown */
};

/* A new session number, 1 to 65535: one more than the last that was stored, 1 behind 65535. In memory it is drawn
 * by chance, so that two starts are not likely to have the same. boot: what tells this start of the computer from every
 * other; "": nobody knows. *last: the run before. False: nothing was stored, there is none. */
bool kr_book_session(struct kr_book *book, int64_t now_utc_ms, const char *boot, uint16_t *session,
                     struct kr_book_run *last);

/* Stores how the run of the newest session ends: ASKED, HURRIED or NOT_STARTED. False: it is not stored. */
bool kr_book_end_run(struct kr_book *book, int64_t now_utc_ms, enum kr_run_end end);

enum kr_load {
    KR_LOAD_FAILED,
    KR_LOAD_NEW,   /* the station wasn't there; it is now, with nothing stored. *durable is untouched */
    KR_LOAD_FOUND, /* what is stored was laid over *durable; holders that are not stored stay as they were */
};

/* Must come before the station's first commit. *station numbers the station in this book from now on. Of a copy that
 * was put in a book's place, durable->proof is 0 and no holder's place is known: holders may have moved since it was
 * made. A copy is a file without the count of commits beside it (the .lock file). */
enum kr_load kr_book_load(struct kr_book *book, const char *name, uint16_t *station,
                          struct kr_durable *durable);

/* When the job of durable's record ended, by the clock of then; 0: there is none, or nobody knows. Comes after
 * kr_book_load. */
int64_t kr_book_record_ended_s(struct kr_book *book, uint16_t station);

/* What the numbers of the station's sizes of holders mean. */
struct kr_book_sizes {
    char name[KR_SIZES_MAX][KR_SIZE_NAME_MAX]; /* of each size; empty: there is none of that number */
};

/* All are empty where none were stored yet: of a new station, and of one that an older program wrote. Both come after
 * kr_book_load. False: nothing was read, or stored. */
bool kr_book_sizes(struct kr_book *book, uint16_t station, struct kr_book_sizes *sizes);
bool kr_book_set_sizes(struct kr_book *book, uint16_t station, const struct kr_book_sizes *sizes);

/* ---- a commit ------------------------------------------------------------------------------------------- */

struct kr_book_alarm {
    int64_t at_utc_ms;
    bool raised; /* else: gone */
    struct kr_alarm alarm;
};

/* A move that was made, as the daemon saw it. Times are machine time from the changeover's start. */
struct kr_book_move {
    uint16_t rail, holder;
    int32_t from_um, to_um;
    int32_t start_ms, end_ms;
};

struct kr_book_holder {
    uint16_t cut; /* 0: idle */
    uint8_t known;
    int32_t target_um, position_um;
    uint8_t state;   /* enum kr_holder_state */
    int32_t body_um; /* the room that it takes along the rail: the nearest spacing of two of its size */
};

struct kr_book_slit {
    int32_t left_um, right_um; /* two cut lines, or a cut line and an untrimmed edge of the web */
    int64_t width_nm;          /* as ordered */
    int32_t measured_um;       /* 0: not all of its knives were measured */
};

/* The order's slits as they lay on the machine. */
struct kr_book_web {
    uint16_t n_slits;   /* 0: the job had no cut lines yet, and the rest means nothing */
    int32_t edge_um[2]; /* operator side, drive side */
    int64_t trim_nm[2]; /* 0 at an untrimmed edge */
    struct kr_book_slit slit[KR_SLITS_MAX];
};

struct kr_book_changeover {
    int64_t ended_utc_ms;
    char started_by[KR_ORIGIN_MAX]; /* the address that asked for the job; "": not known */
    struct kr_record record;
    struct kr_book_web web;
    uint8_t role[KR_RAILS_MAX]; /* enum kr_role */
    uint16_t n_holders[KR_RAILS_MAX];
    struct kr_book_holder holder[KR_RAILS_MAX][KR_HOLDERS_MAX];
    int32_t spent_ms[KR_N_SPENT]; /* machine time from the changeover's start; all 0: nothing counted it */
    /* Of each rail: whether its last scan saw references, and by how much they were off since they were taught, where
     * it is most. */
    bool references_seen[KR_RAILS_MAX];
    int32_t reference_um[KR_RAILS_MAX];
    uint16_t n_moves, moves_left_out;
    struct kr_book_move move[KR_BOOK_MOVES_MAX];
};

struct kr_book_entry {
    int64_t now_utc_ms;
    enum kr_length_unit length_unit; /* of the sentences */
    struct kr_durable durable;
    uint16_t n_holders[KR_RAILS_MAX]; /* this many of each rail are stored */
    uint16_t n_alarms, n_changeovers;
    struct kr_book_alarm alarm[KR_BOOK_ALARMS_MAX];
    struct kr_book_changeover changeover[KR_BOOK_CHANGEOVERS_MAX];
};

/* Stores, in one transaction, what differs from the last commit, and the entry's alarms and changeovers. False: nothing
 * was stored. entry is read during the call only. */
bool kr_book_commit(struct kr_book *book, uint16_t station, const struct kr_book_entry *entry);

/* What the ledger has of the knife of that name; answer's ticket is 0. False: it can't be read, and answer->failed
 * says so. */
bool kr_book_knife(struct kr_book *book, uint16_t station, const char *name, struct kr_knife_answer *answer);

/* ---- the audit -------------------------------------------------------------------------------------------- */

#define KR_BOOK_AUDIT_ROWS    112        /* of one transaction */
#define KR_BOOK_AUDIT_GATEWAY UINT16_MAX /* in a station's place: the gateway as a whole */

struct kr_audit_row {
    int64_t id; /* a row of the same id takes the place of the one before: a count goes on */
    int64_t at_utc_ms, until_utc_ms;
    uint32_t times;        /* that it happened from at to until */
    uint16_t book_station; /* as kr_book_load has numbered it */
    struct kr_audit_event event;
};

struct kr_book_audit {
    uint16_t n;
    struct kr_audit_row row[KR_BOOK_AUDIT_ROWS];
};

/* The id of the first row to come: one more than the last that is stored. False: it can't be read. */
bool kr_book_audit_next(struct kr_book *book, int64_t *id);

/* Stores the rows in one transaction of their own. False: none was stored; the same rows may be given again. */
bool kr_book_audit(struct kr_book *book, const struct kr_book_audit *audit);

/* "2026-03-01T06:30:00.125Z" */
#define KR_BOOK_TIME_MAX 32
void kr_book_time_text(int64_t utc_ms, char text[KR_BOOK_TIME_MAX]);

#endif
