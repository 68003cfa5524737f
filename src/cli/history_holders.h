/* What the placement errors of a period say of each holder. */
#ifndef KNIFERAIL_CLI_HISTORY_HOLDERS_H
#define KNIFERAIL_CLI_HISTORY_HOLDERS_H

#include "history_table.h"

/* holders and errors are the tables of those names; adds the holders, with their statistics behind them, to *out:
 *   changeovers      how often it was placed in the period
 *   mean_um, sd_um   of its placement error, at the end of the changeover, corrections included
 *   cp, cpk          capability of the tolerance, either way, by that sd; off its centre by that mean
 *   since_regrind    of these, with the knife that it has now
 *   drift_um         change of the error from the first of those to the last, by the straight line through them
 *   drift_sd_um      standard deviation of that
 * A value that so few placements don't give is none. */
bool history_holders_add(const struct history_table *holders, const struct history_table *errors,
                         double tolerance_um, struct history_table *out);

#endif
