/* The charts of a report. */
#ifndef KNIFERAIL_CLI_REPORT_CHARTS_H
#define KNIFERAIL_CLI_REPORT_CHARTS_H

#include "book_ask.h"
#include "history_table.h"
#include "picture.h"

/* The tables of a report, as report_tables.h makes them, in micrometres. */
struct report_charts {
    const struct history_table *changeovers, *shifts, *alarms, *holders, *references;
};

/* Draws the charts into each file that is wanted. False: the reason was printed. */
bool report_charts_write(const struct kr_picture_options *options, const struct report_charts *charts,
                         const struct book_ask *ask, const char *station);

#endif
