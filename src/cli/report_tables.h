/* The tables of a report. */
#ifndef KNIFERAIL_CLI_REPORT_TABLES_H
#define KNIFERAIL_CLI_REPORT_TABLES_H

#include "history_table.h"
#include "kniferail/station.h"
#include "report_data.h"

#define REPORT_MONTHS 7 /* characters of a time that are alike in one month: "2026-03" */
#define REPORT_DAYS   10

/* Each function adds its rows to *out, which was begun. False: there is no memory. */

/* Adds a row for each month or day, and one for all: the number of changeovers, and minutes: planned and actual time of
 * the moves, the whole time, its mean, and what it was spent on. */
bool report_add_changeovers(const struct report_data *data, size_t alike, struct history_table *out);

/* Adds a row for each shift of the day. Uses local_ms of each changeover instead of its ended_ms. */
bool report_add_shifts(const struct report_data *data, struct kr_report_shift shift[], size_t n_shifts,
                       struct history_table *out);

/* Adds a row for each alarm that was raised: how often, for how long, and where it was raised most often. */
bool report_add_alarms(const struct report_data *data, struct history_table *out);

/* Adds a row for each rail and month or day: in how many changeovers its references were seen, and how far they had
 * shifted since they were taught. */
bool report_add_references(const struct report_data *data, size_t alike, struct history_table *out);

/* Adds a row for each rail and each duration that a plan assumes, by the name of its setting: the duration that was
 * measured, and beside it the planned one: the book's, or that of the station file's config if the book has none yet.
 * planned: that config, or NULL. */
bool report_add_timing(const struct report_data *data, const struct kr_station_config *planned,
                       struct history_table *out);

/* Prints for each rail whose durations were all measured how a person accepts them at the running station. times: the
 * table that report_add_timing() has filled. */
void report_print_acceptance(const struct history_table *times);

/* Adds a row for each holder that was placed. */
bool report_add_holders(const struct report_data *data, double tolerance_um, struct history_table *out);

#endif
