/* Where a station begins: the config seeds a new book, then the book wins. */
#ifndef DAEMON_SEED_H
#define DAEMON_SEED_H

#include "kniferail/book.h"
#include "kniferail/config.h"

/* Tells in the log where the book differs from what the file would seed it with. */
void seed_tell_differences(const struct kr_config_station *config, const struct kr_durable *book);

/* Whether the file lists the sizes that the book's holders have: of one that it lists no more nobody knows the
 * spacing, so the station can't start. False: error names the first such holder, how many more there are, and what to
 * do. */
bool seed_sizes_listed(const struct kr_config_station *config, const struct kr_durable *book, char *error,
                       size_t error_size);

/* Whether each carriage reaches, by the frame that the book has for its rail, all that the file asks of it. False:
 * error names the first that does not, and where it would have to go. */
bool seed_frames_fit(const struct kr_config_station *config, const struct kr_durable *book, char *error,
                     size_t error_size);

/* Whether the sizes that the book knows stand at the same places of the file's list: the book keeps numbers, and a
 * list in another order would give its holders other spacings. A name that the list has no more, with another in its
 * place, is a new name, which the log tells. False: error says which size stands elsewhere, and where it has to
 * stand. */
bool seed_sizes_in_place(const struct kr_config_station *config, const struct kr_book_sizes *book,
                         char *error, size_t error_size);

/* A simulated machine ends with the daemon. So that a restart finds its holders as a real one would, they begin where
 * the book left them; if the machine can't stand so, it begins as configured, and the log says so. */
void seed_machine(struct kr_config_station *config, const struct kr_durable *book);

#endif
