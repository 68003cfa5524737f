/* kniferail knives import: a list of knives goes into the ledger of a book that no gateway uses. */
#ifndef KNIFERAIL_CLI_KNIVES_IMPORT_H
#define KNIFERAIL_CLI_KNIVES_IMPORT_H

/* list: the file's name, "-" for standard input. Returns the exit status after telling what was taken, or why nothing
 * was. */
int knives_import(const char *book, const char *station, const char *list);

#endif
