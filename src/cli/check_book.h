/* Where the book and the station file differ. Private to src/cli. */
#ifndef CLI_CHECK_BOOK_H
#define CLI_CHECK_BOOK_H

#include "kniferail/config.h"

/* Prints the differences of every station's holders. False: the book can't be read; why was told. */
bool kr_check_book(const struct kr_config *config);

#endif
