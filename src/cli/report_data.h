/* The data for a report: a period of a station's book, in memory. */
#ifndef KNIFERAIL_CLI_REPORT_DATA_H
#define KNIFERAIL_CLI_REPORT_DATA_H

#include "kniferail/history.h"
#include "kniferail/report.h"

/* A placement: how far a holder stood from its target at the end of a changeover that moved it. */
struct report_error {
    uint16_t rail, holder;
    bool since_grind; /* it was made with the present knife */
    double um, day;
};

/* The shift of a rail's references since they were taught, as the last scan of a changeover measured it. */
struct report_reference {
    char at[KR_BOOK_TIME_MAX];
    uint16_t rail;
    double um;
};

/* The durations that a plan assumes, as they were in one changeover on one rail. */
enum report_step { REPORT_DOCK, REPORT_UNDOCK, REPORT_SETPOINT, REPORT_ROUNDING, N_REPORT_STEPS };
struct report_timing {
    uint16_t rail;
    struct kr_report_count step[N_REPORT_STEPS];
};

/* A rail's planned times, as the book has them. */
struct report_planned {
    uint16_t origin; /* enum kr_frame_origin; NONE: the book has none yet */
    double ms[N_REPORT_STEPS];
};

struct report_data {
    size_t n_changeovers, n_alarms, n_errors, n_references, n_timings;
    struct kr_report_changeover *changeover; /* oldest first */
    char (*ended_at)[KR_BOOK_TIME_MAX];      /* of each changeover */
    struct kr_report_alarm *alarm;           /* oldest first */
    struct report_error *error;              /* in rail order, the oldest of each holder first */
    size_t room[6];                          /* of the five arrays above and of timing */
    struct report_reference *reference;      /* in rail order, the oldest of each rail first */
    struct report_timing *timing;            /* in rail order, the oldest of each rail first */
    struct report_planned planned[KR_RAILS_MAX];
    bool failed; /* there was no memory, and entries are missing from then on */
};

/* False: kr_history_error() says why, or `failed` is set. */
bool report_data_read(struct report_data *data, struct kr_history *history, const struct kr_history_part *part);
void report_data_free(struct report_data *data);

#endif
