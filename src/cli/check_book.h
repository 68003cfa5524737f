/* Compares the book with the station file. Private to src/cli. */
#ifndef CLI_CHECK_BOOK_H
#define CLI_CHECK_BOOK_H

#include "kniferail/config.h"

/* Prints the differences between the holders of every station. False: the book can't be read; the reason was
 * printed. */
bool kr_check_book(const struct kr_config *config);

#endif
