/* book: one SQLite database for each daemon. It keeps what must survive a power cut: the holders and their positions,
 * the orders, and the last verdict. It also keeps the history for maintenance: changeovers, alarms, maintenance
 * requests, sessions. Stands on station; the daemon and the command line stand on it. Any SQL tool can read the file,
 * also while it is in use.
 *
 * When a commit returns true, its data is on the disk, and a power cut does not take it back. A commit that fails has
 * stored nothing, and may be tried again with the same entry. There is one exception: if the power goes after a failed
 * commit and before a later one succeeds, the failed commit may be found stored after all, as a whole.
 *
 * A lock on the file itself keeps a second gateway away. Beside the book lies FILE.lock. Older programs lock this file,
 * and it holds the number of commits that were confirmed. A book with fewer commits is refused: its -wal file was left
 * behind or damaged, or the book is an older copy. A station whose stored numbers do not match their seal is refused,
 * too. Both messages say how to go on nonetheless.
 *
 * Only one thread at a time may use a book. The daemon opens and loads it on its own thread, and later has at most one
 * commit in the thread pool. Nothing here may be called in the cycle, because every call may wait for the disk. */
#ifndef KNIFERAIL_BOOK_H
#define KNIFERAIL_BOOK_H

#include "kniferail/audit.h"
#include "kniferail/station.h"

#define KR_BOOK_ALARMS_MAX      64   /* alarms of one entry */
#define KR_BOOK_CHANGEOVERS_MAX 4    /* changeovers of one entry */
#define KR_BOOK_MOVES_MAX       1024 /* moves of one changeover, corrections included */
/* Verdicts that are kept of a station, and also its maintenance requests. Older ones are deleted. */
#define KR_BOOK_VERDICTS_KEPT 10000
#define KR_BOOK_TEXT_MAX      256

struct kr_book;

/* Opens the book at path, and makes it if it isn't there. path NULL: a book in memory, of which nothing survives the
 * process. Checks everything that stations start from. It does not check the history, which may hold years:
 * kr_book_check() does (care.h). NULL: the book can't be used, *error says why in one line, always closed with a 0, and
 * the file is unchanged. A second daemon can't open a book that is in use, whatever name it uses for the file. The
 * files of the book get at most the rights 0640. Symbolic links in their places are not followed, and a book with a
 * second name is refused. A book of an older schema version is brought up to this one, in one transaction, after a copy
 * of it was made beside it. */
struct kr_book *kr_book_open(const char *path, char *error, size_t error_size);
void kr_book_close(struct kr_book *book); /* NULL: does nothing */

/* Returns one line for the log, with the name of the copy, if opening has brought up a book of an older schema version;
 * "": it has not. */
#define KR_BOOK_MIGRATED_MAX 4200
const char *kr_book_migrated(const struct kr_book *book);

/* Looks at the file without storing anything: whether it is still there, and whether KR_BOOK_FREE_KB can be written. If
 * the answer is not KR_BOOK_WELL, kr_book_error() says what is wrong. */
enum kr_book_look { KR_BOOK_WELL, KR_BOOK_GONE, KR_BOOK_DISK_FULL };
enum kr_book_look kr_book_look(struct kr_book *book);

/* Tells whether the last commit or look found the file deleted, moved, replaced, or with a second name. Nothing is
 * stored then. */
bool kr_book_is_gone(const struct kr_book *book);

/* Returns in one line why the last call failed. The text is valid until the next call. */
const char *kr_book_error(const struct kr_book *book);

/* The last run of a gateway with this book. */
struct kr_book_run {
    enum kr_run_end end;
    uint16_t session;   /* 0: there was no run */
    int64_t sign_utc_s; /* its end, or its last commit, by the clock of that time; 0: unknown */
};

/* Stores a new session number, 1 to 65535. It is one more than the last one, and 1 after 65535. For a book in memory it
 * is random, so that two starts are unlikely to get the same number. boot identifies this start of the computer; "": it
 * is unknown. *last describes the run before. False: nothing was stored, and there is no number. */
bool kr_book_session(struct kr_book *book, int64_t now_utc_ms, const char *boot, uint16_t *session,
                     struct kr_book_run *last);

/* Stores how the run of the newest session ends: ASKED, HURRIED or NOT_STARTED. False: it could not be stored. */
bool kr_book_end_run(struct kr_book *book, int64_t now_utc_ms, enum kr_run_end end);

enum kr_load {
    KR_LOAD_FAILED,
    KR_LOAD_NEW, /* the station was not in the book; it is now, with nothing stored. *durable is untouched */
    /* What is stored was copied into *durable; holders that are not stored stay as they were. */
    KR_LOAD_FOUND,
};

/* Loads a station. It must come before the station's first commit. *station is the station's number in this book from
 * now on. If the book is a copy that took a book's place, durable->proof is 0 and no holder's position is known,
 * because holders may have moved since the copy was made. A copy is a file without the count of commits beside it (the
 * .lock file). */
enum kr_load kr_book_load(struct kr_book *book, const char *name, uint16_t *station, struct kr_durable *durable);

/* Says that all stations of this run are loaded. A copy stays a copy, also for the next start, until this was said and
 * each loaded station has made its first commit. So a start that fails halfway makes nothing of the copy believed. */
void kr_book_all_loaded(struct kr_book *book);

/* Returns when the job of durable's record ended, by the clock of that time; 0: there is no such job, or the time is
 * unknown. It must come after kr_book_load(). */
int64_t kr_book_record_ended_s(struct kr_book *book, uint16_t station);

/* The names of the station's sizes of holders. */
struct kr_book_sizes {
    char name[KR_SIZES_MAX][KR_SIZE_NAME_MAX]; /* name of each size; empty: no size has this number */
};

/* These read and store the names of sizes, after kr_book_load(). All names are empty if none are stored yet: for a new
 * station, and for one that an older program stored. False: nothing was read or stored. */
bool kr_book_sizes(struct kr_book *book, uint16_t station, struct kr_book_sizes *sizes);
bool kr_book_set_sizes(struct kr_book *book, uint16_t station, const struct kr_book_sizes *sizes);

/* ---- a commit ------------------------------------------------------------------------------------------- */

struct kr_book_alarm {
    int64_t at_utc_ms;
    bool raised; /* else: gone */
    struct kr_alarm alarm;
};

/* A move as the daemon saw it. Times are machine time from the changeover's start. */
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
    int32_t body_um; /* its width along the rail: the least spacing of two holders of its size */
};

struct kr_book_slit {
    int32_t left_um, right_um; /* two cut lines, or a cut line and an untrimmed edge of the web */
    int64_t width_nm;          /* ordered width */
    int32_t measured_um;       /* 0: not all of its knives were measured */
};

/* The positions of the order's slits on the machine. */
struct kr_book_web {
    uint16_t n_slits;   /* 0: the job had no cut lines yet, and the other fields have no meaning */
    int32_t edge_um[2]; /* operator side, drive side */
    int64_t trim_nm[2]; /* 0 at an untrimmed edge */
    struct kr_book_slit slit[KR_SLITS_MAX];
};

struct kr_book_changeover {
    int64_t ended_utc_ms;
    char started_by[KR_ORIGIN_MAX]; /* address of the client that started the job; "": unknown */
    struct kr_record record;
    struct kr_book_web web;
    uint8_t role[KR_RAILS_MAX]; /* enum kr_role */
    uint16_t n_holders[KR_RAILS_MAX];
    struct kr_book_holder holder[KR_RAILS_MAX][KR_HOLDERS_MAX];
    /* Machine time from the changeover's start. All are 0 if the times were not counted. */
    int32_t spent_ms[KR_N_SPENT];
    /* For each rail: whether its last scan saw references, and the largest deviation of one from its taught
     * position. */
    bool references_seen[KR_RAILS_MAX];
    int32_t reference_um[KR_RAILS_MAX];
    uint16_t n_moves, moves_left_out;
    struct kr_book_move move[KR_BOOK_MOVES_MAX];
};

struct kr_book_entry {
    int64_t now_utc_ms;
    enum kr_length_unit length_unit; /* unit of lengths in sentences */
    struct kr_durable durable;
    uint16_t n_holders[KR_RAILS_MAX]; /* number of holders of each rail that are stored */
    uint16_t n_alarms, n_changeovers;
    struct kr_book_alarm alarm[KR_BOOK_ALARMS_MAX];
    struct kr_book_changeover changeover[KR_BOOK_CHANGEOVERS_MAX];
};

/* Stores, in one transaction, everything that differs from the last commit, and the entry's alarms and changeovers.
 * False: nothing was stored. entry is read during the call only. */
bool kr_book_commit(struct kr_book *book, uint16_t station, const struct kr_book_entry *entry);

/* Reads what the ledger says of the knife of that name. The ticket of *answer is 0. False: the ledger can't be read,
 * and answer->failed says so. */
bool kr_book_knife(struct kr_book *book, uint16_t station, const char *name, struct kr_knife_answer *answer);

/* ---- the audit -------------------------------------------------------------------------------------------- */

#define KR_BOOK_AUDIT_ROWS    112        /* rows of one transaction */
#define KR_BOOK_AUDIT_GATEWAY UINT16_MAX /* in place of a station: the gateway as a whole */

struct kr_audit_row {
    int64_t id; /* a row replaces an earlier row of the same id, so that its count can grow */
    int64_t at_utc_ms, until_utc_ms;
    uint32_t times;        /* how often the event happened between the two times */
    uint16_t book_station; /* number of the station, from kr_book_load() */
    struct kr_audit_event event;
};

struct kr_book_audit {
    uint16_t n;
    struct kr_audit_row row[KR_BOOK_AUDIT_ROWS];
};

/* Reads the id that the next new row gets: one more than the last stored id. False: it can't be read. */
bool kr_book_audit_next(struct kr_book *book, int64_t *id);

/* Stores the rows in one transaction of their own. False: none was stored, and the same rows may be given again. */
bool kr_book_audit(struct kr_book *book, const struct kr_book_audit *audit);

/* Writes a time as text: "2026-03-01T06:30:00.125Z". */
#define KR_BOOK_TIME_MAX 32
void kr_book_time_text(int64_t utc_ms, char text[KR_BOOK_TIME_MAX]);

#endif
