/* What a report reckons from: a period of a station's book, in memory. */
#ifndef KNIFERAIL_CLI_REPORT_DATA_H
#define KNIFERAIL_CLI_REPORT_DATA_H

#include "kniferail/history.h"
#include "kniferail/report.h"

/* A placement: how far off its target a holder stood at the end of a changeover that moved it. */
struct report_error {
    uint16_t rail, holder;
    bool since_grind; /* with the knife that it has now */
    double um, day;
};

/* How far off a rail's references were since they were taught, by the last scan of a changeover. */
struct report_reference {
    char at[KR_BOOK_TIME_MAX];
    uint16_t rail;
    double um;
};

/* What a plan reckons with, as it was in one changeover, on one rail. */
enum report_step { REPORT_DOCK, REPORT_UNDOCK, REPORT_SETPOINT, REPORT_ROUNDING, N_REPORT_STEPS };
struct report_timing {
    uint16_t rail;
    struct kr_report_count step[N_REPORT_STEPS];
};

struct report_data {
    size_t n_changeovers, n_alarms, n_errors, n_references, n_timings;
    struct kr_report_changeover *changeover; /* oldest first */
    char (*ended_at)[KR_BOOK_TIME_MAX];      /* of each */
    struct kr_report_alarm *alarm;           /* oldest first */
    struct report_error *error;              /* in rail order, the oldest of each holder first */
    size_t room[6];                          /* of those five, and of timing */
    struct report_reference *reference;      /* in rail order, the oldest of each rail first */
    struct report_timing *timing;            /* likewise */
    bool failed;                             /* out of memory: what follows is not kept */
};

/* False after kr_history_error, or with failed. */
bool report_data_read(struct report_data *data, struct kr_history *history,
                      const struct kr_history_part *part);
void report_data_free(struct report_data *data);

#endif
