/* What kniferail-panel shows of a station's past: read from the book, and as JSON. Private to src/cli. */
#ifndef KNIFERAIL_CLI_RECORDS_DATA_H
#define KNIFERAIL_CLI_RECORDS_DATA_H

#include "history_table.h"
#include "report_data.h"

#define RECORDS_MAX 1000 /* changeovers; the panel takes no more */

struct records {
    size_t last;                      /* the caller's: how many changeovers at most, the newest */
    struct history_table changeovers; /* oldest first */
    struct report_data data;          /* since the first of them */
    struct history_table placements;  /* likewise: rail, holder, ended_at, error_um ... */
    bool failed;                      /* memory is out */
};

/* False after kr_history_error, or with failed. records_free in any case. */
bool records_read(struct records *records, struct kr_history *history, const struct kr_history_part *part);
void records_free(struct records *records);

struct records_head {
    const char *station, *made_at;
    enum kr_length_unit length_unit;
    double tolerance_um;
    bool sound; /* every row is what was stored */
};

/* A new reference; NULL without memory. */
json_t *records_json(const struct records *records, const struct records_head *head);

#endif
