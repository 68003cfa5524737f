/* knife_list: knives of the ledger as a list that leaves one book and goes into another: for a new book, another
 * computer, or a plant that kept its knives in a table. Belongs to book; the command line stands on it. A list goes out
 * by kr_history_read (KR_HISTORY_KNIFE_LIST), a row of the book for each row here. */
#ifndef KNIFERAIL_KNIFE_LIST_H
#define KNIFERAIL_KNIFE_LIST_H

#include <stddef.h>

#include "kniferail/care.h"

/* What a row says. What became of a knife stands in rows behind the knife's own, the oldest first. */
#define KR_KNIFE_RECORDS(X) /* name, number, word, text */ \
    X(KNIFE, 0, "knife", "what the knife is, where, and what it has cut") \
    X(GRIND, 1, "grind", "that it was ground: when, metres until then, dimensions before and after") \
    X(BREAK, 2, "break", "that it broke: when, metres until then, cause, fragments")
enum kr_knife_record {
#define X(name, number, word, text) KR_RECORD_##name = number,
    KR_KNIFE_RECORDS(X)
#undef X
};

/* The columns of a list, in the order in which it goes out. */
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

#define KR_KNIFE_ROWS_MAX        20000                  /* of a list */
#define KR_KNIFE_EARLIER_MAX     INT64_C(1000000000000) /* metres: beyond that it is a slip of the pen */
#define KR_KNIFE_LIST_GRINDS_MAX 9999

/* Lengths are micrometres, and 0 is not measured, but an edge position, which has edge_known. Rails and holders count
 * from 1, 0 is none. */
struct kr_knife_row {
    unsigned long line; /* of the list's records, the heading being 1: only to tell of it */
    enum kr_knife_record record;
    char name[KR_KNIFE_NAME_MAX];
    char kind[KR_KNIFE_KIND_MAX];                    /* KNIFE only, as place, earlier_metres and grinds */
    uint16_t place;                                  /* enum kr_knife_place */
    uint16_t rail, holder;                           /* that it is on; GRIND and BREAK: was on, with that */
    int32_t diameter_um, thickness_um;               /* now; GRIND: after it */
    int32_t diameter_before_um, thickness_before_um; /* GRIND only */
    int32_t edge_um;
    bool edge_known;
    uint32_t metres;           /* since it was ground, or until this GRIND or BREAK */
    int64_t earlier_metres;    /* before it was ground last */
    uint32_t grinds;           /* in all */
    char at[KR_BOOK_TIME_MAX]; /* UTC, 2026-03-01 or 2026-03-01T06:30:00.000Z; "": KNIFE only, now */
    uint16_t cause, fragments; /* BREAK only: enum kr_knife_cause, enum kr_knife_fragments */
    bool fell_known;
    uint32_t fell_metres; /* LINE_METRES when VERIFIED fell last before it broke */
};

/* Who takes a list, and when. */
struct kr_knife_taking {
    const char *path, *station; /* the book, and which station of it */
    const char *list, *who;     /* the file that it came from, and who wants it: for the audit */
    int64_t now_utc_ms;
    /* Told of every row that the book can't take: its index, the column, and why. */
    void (*refuse)(void *arg, size_t row, enum kr_knife_column column, const char *why);
    void *arg;
};

/* Takes a list into the ledger of a book that no gateway uses: all of its rows, and an entry of the audit, in one
 * transaction. A knife that the list has on a holder is on it then, with its metres and its edge position as the
 * holder's edge offset, as if it had been mounted: its edge is not proven, the places of its rail are only remembered,
 * and a holder out of service comes back into service. row[]: each as its field says, knives before what became of
 * them, no name twice. False: the book is as it was; refuse() has told why, and else *error says it, which is "" then.
 */
bool kr_book_take_knives(const struct kr_knife_taking *taking, const struct kr_knife_row row[], size_t n,
                         struct kr_care_error *error);

#endif
