/* kniferail knives due: which knives are due for a grind, and for about how many more orders the others last. */
#ifndef KNIFERAIL_CLI_KNIVES_DUE_H
#define KNIFERAIL_CLI_KNIVES_DUE_H

#include "book_ask.h"
#include "history_table.h"

#define KNIVES_DUE_ORDERS     50 /* how many of the last orders are averaged, unless another number is asked for */
#define KNIVES_DUE_ORDERS_MAX 10000

/* Fills a table that was begun, with a row for each knife of the part whose kind has a limit in the station file. The
 * knife that is due next comes first. False: the table can't be made; the reason was printed. */
bool knives_due(const struct book_ask *ask, struct kr_history *history, size_t orders, struct history_table *table);

/* Prints the explanation below the table as text. */
void knives_due_explain(const struct history_table *table);

#endif
