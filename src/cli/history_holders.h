/* Statistics of each holder's placement errors in a period. */
#ifndef KNIFERAIL_CLI_HISTORY_HOLDERS_H
#define KNIFERAIL_CLI_HISTORY_HOLDERS_H

#include "history_table.h"

/* holders and errors are the history tables of those names. Adds each holder, with its statistics, to *out:
 *   changeovers      how often the holder was placed in the period
 *   mean_um, sd_um   mean and standard deviation of its placement error, at the end of the changeover, with corrections
 *   cp, cpk          process capability for the tolerance in both directions, from sd_um; cpk also from mean_um
 *   since_regrind    how many of these placements were made with the present knife
 *   drift_um         how the error changed from the first of these to the last, by the regression line
 *   drift_sd_um      standard deviation of drift_um
 * A value is empty if there are too few placements for it. */
bool history_holders_add(const struct history_table *holders, const struct history_table *errors, double tolerance_um,
                         struct history_table *out);

#endif
