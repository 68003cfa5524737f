/* The state with which a station starts: the config fills a new book; from then on the book is what counts. */
#ifndef DAEMON_SEED_H
#define DAEMON_SEED_H

#include "kniferail/book.h"
#include "kniferail/config.h"

/* Logs the differences between the book and the values with which the file would fill a new one. */
void seed_tell_differences(const struct kr_config_station *config, const struct kr_durable *book);

/* Tells whether the file lists every size that the book's holders have. The station can't start without that, because
 * the spacing of a size that is missing is not known. False: error names the first such holder, how many more there
 * are, and what to do. */
bool seed_sizes_listed(const struct kr_config_station *config, const struct kr_durable *book, char *error,
                       size_t error_size);

/* Tells whether each carriage reaches every position that the file demands, with the frame that the book has for its
 * rail. False: error names the first carriage that does not, and the position that it does not reach. */
bool seed_frames_fit(const struct kr_config_station *config, const struct kr_durable *book, char *error,
                     size_t error_size);

/* Tells whether the sizes that the book knows have the same places in the file's list. The book stores numbers of
 * sizes, so a list in another sequence would give its holders other spacings. A name that the list does not have any
 * more, with another name in its place, counts as renamed, which is logged. False: error says which size has another
 * place, and where it has to stand. */
bool seed_sizes_in_place(const struct kr_config_station *config, const struct kr_book_sizes *book, char *error,
                         size_t error_size);

/* A simulated machine ends with the daemon. For a restart to find its holders as it would find real ones, they begin
 * where the book says that they were. If the machine can't be set up like that, it begins as configured, and the log
 * says so. */
void seed_machine(struct kr_config_station *config, const struct kr_durable *book);

#endif
