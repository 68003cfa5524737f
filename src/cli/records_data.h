/* The part of a station's past that kniferail-panel shows: reads it from the book, and makes JSON of it. Private to
 * src/cli. */
#ifndef KNIFERAIL_CLI_RECORDS_DATA_H
#define KNIFERAIL_CLI_RECORDS_DATA_H

#include "history_table.h"
#include "report_data.h"

#define RECORDS_MAX 1000 /* changeovers; the panel accepts no more */

struct records {
    size_t last;                      /* set by the caller: how many changeovers at most; the newest are taken */
    struct history_table changeovers; /* the oldest first */
    struct report_data data;          /* everything since the first of these changeovers */
    struct history_table placements;  /* of the same time: rail, holder, ended_at, error_um ... */
    bool failed;                      /* there was no memory */
};

/* False: kr_history_error() says why, or `failed` is set. Call records_free() in any case. */
bool records_read(struct records *records, struct kr_history *history, const struct kr_history_part *part);
void records_free(struct records *records);

struct records_head {
    const char *station, *made_at;
    enum kr_length_unit length_unit;
    double tolerance_um;
    bool sound; /* every row agrees with its seal */
};

/* Returns a new reference; NULL: there is no memory. */
json_t *records_json(const struct records *records, const struct records_head *head);

#endif
