/* knife_list: moves knives of the ledger from one book to another as a list, for instance for a new book, for another
 * computer, or for a plant that kept its knives in a table. Belongs to book; the command line stands on it.
 * kr_history_read() writes a list (KR_HISTORY_KNIFE_LIST), with one row of the book for each row here. */
#ifndef KNIFERAIL_KNIFE_LIST_H
#define KNIFERAIL_KNIFE_LIST_H

#include <stddef.h>

#include "kniferail/care.h"

/* The kinds of rows. The rows about a knife's grinds and breaks come after the row of the knife, the oldest first. */
#define KR_KNIFE_RECORDS(X) /* name, number, word, text */ \
    X(KNIFE, 0, "knife", "what the knife is, where, and what it has cut") \
    X(GRIND, 1, "grind", "that it was ground: when, metres until then, dimensions before and after") \
    X(BREAK, 2, "break", "that it broke: when, metres until then, cause, fragments")
enum kr_knife_record {
#define X(name, number, word, text) KR_RECORD_##name = number,
    KR_KNIFE_RECORDS(X)
#undef X
};

/* The columns of a list, in the sequence in which they are written. */
#define KR_KNIFE_COLUMNS(X) /* name, column */ \
    X(RECORD, "record") \
    X(NAME, "name") \
    X(KIND, "kind") \
    X(PLACE, "place") \
    X(RAIL, "rail") \
    X(HOLDER, "holder") \
    X(DIAMETER, "diameter_um") \
    X(THICKNESS, "thickness_um") \
    X(EDGE, "edge_um") \
    X(METRES, "metres") \
    X(EARLIER_METRES, "earlier_metres") \
    X(GRINDS, "grinds") \
    X(AT, "at") \
    X(DIAMETER_BEFORE, "diameter_before_um") \
    X(THICKNESS_BEFORE, "thickness_before_um") \
    X(CAUSE, "cause") \
    X(FRAGMENTS, "fragments") \
    X(FELL_METRES, "fell_metres")
enum kr_knife_column {
#define X(name, column) KR_COLUMN_##name,
    KR_KNIFE_COLUMNS(X)
#undef X
        KR_N_KNIFE_COLUMNS
};
const char *kr_knife_column_name(enum kr_knife_column column);

#define KR_KNIFE_ROWS_MAX        20000                  /* rows of a list */
#define KR_KNIFE_EARLIER_MAX     INT64_C(1000000000000) /* metres; a greater value is a typing error */
#define KR_KNIFE_LIST_GRINDS_MAX 9999

/* Lengths are micrometres, and 0 is not measured, except for an edge position, which has edge_known. Rails and holders
 * count from 1, and 0 is none. */
struct kr_knife_row {
    unsigned long line; /* line in the list, for messages; the heading is line 1 */
    enum kr_knife_record record;
    char name[KR_KNIFE_NAME_MAX];
    char kind[KR_KNIFE_KIND_MAX];      /* only in KNIFE, like place, earlier_metres and grinds */
    uint16_t place;                    /* enum kr_knife_place */
    uint16_t rail, holder;             /* where the knife is; GRIND and BREAK: where it was at that time */
    int32_t diameter_um, thickness_um; /* now; GRIND: after the grind */
    int32_t diameter_before_um, thickness_before_um; /* only in GRIND */
    int32_t edge_um;
    bool edge_known;
    uint32_t metres;           /* since the knife was ground, or until this GRIND or BREAK */
    int64_t earlier_metres;    /* before the knife was last ground */
    uint32_t grinds;           /* number of grinds */
    char at[KR_BOOK_TIME_MAX]; /* UTC: 2026-03-01 or 2026-03-01T06:30:00.000Z; "": now (only in KNIFE) */
    uint16_t cause, fragments; /* only in BREAK: enum kr_knife_cause, enum kr_knife_fragments */
    bool fell_known;
    uint32_t fell_metres; /* LINE_METRES when VERIFIED last became 0 before the knife broke */
};

/* The circumstances of taking a list. */
struct kr_knife_taking {
    const char *path, *station; /* path of the book, and the station in it */
    const char *list, *who;     /* name of the list's file, and who asked for it, for the audit */
    int64_t now_utc_ms;
    /* Receives every row that the book can't take: its index, the column, and why. */
    void (*refuse)(void *arg, size_t row, enum kr_knife_column column, const char *why);
    void *arg;
};

/* Takes a list into the ledger of a book that no gateway uses: all of its rows, and an entry of the audit, in one
 * transaction. A knife that the list has on a holder is afterwards on that holder, with its metres, and its edge
 * position becomes the holder's edge offset, as if the knife had been mounted. That means: its edge is not proven, the
 * positions of its rail are only remembered, and a holder out of service comes back into service. The rows must be as
 * their fields require, each knife must come before its grinds and breaks, and no name may come twice. False: the book
 * is unchanged. Either refuse() has told why, and *error is "", or *error says why. */
bool kr_book_take_knives(const struct kr_knife_taking *taking, const struct kr_knife_row row[], size_t n,
                         struct kr_care_error *error);

#endif
