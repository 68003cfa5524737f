/* kniferail knives import: copies a list of knives to the ledger of a book that no gateway uses. */
#ifndef KNIFERAIL_CLI_KNIVES_IMPORT_H
#define KNIFERAIL_CLI_KNIVES_IMPORT_H

/* list: the file's name, "-" for standard input. Prints what was imported, or why nothing was, and returns the exit
 * status. */
int knives_import(const char *book, const char *station, const char *list);

#endif
