/* The options that all commands have that read a gateway's book: which book, station, period and part of it, the unit
 * of length, and the tolerance to compare with. */
#ifndef KNIFERAIL_CLI_BOOK_ASK_H
#define KNIFERAIL_CLI_BOOK_ASK_H

#include "cli.h"
#include "kniferail/history.h"
#include "kniferail/station.h"

struct book_ask {
    const char *command; /* the command's name, for messages */
    /* The options as they stand on the command line; NULL: not given. */
    const char *config, *book, *station, *from, *to, *tolerance, *unit, *rail, *holder;
    const char *knife; /* from an option that only this command has */
    /* The values of these options. */
    struct kr_history_part part;
    double tolerance_um; /* in both directions */
    enum kr_length_unit length_unit;
    const struct kr_station_config *planned; /* the station file's config; NULL: no file was given */
};

/* The common options; each has the name of its field. */
#define BOOK_ASK_OPTIONS(X) \
    X(config) \
    X(book) \
    X(station) \
    X(from) \
    X(to) \
    X(tolerance) \
    X(unit) \
    X(rail) \
    X(holder)

/* Reads the options. Opens only the station file. Returns KR_RUN, or the exit status after a mistake was printed. */
int book_ask_read(struct book_ask *ask);

/* Sets *value to the index of text in names[]. False: text is none of the names, which was printed. */
bool book_ask_word(const char *command, const char *option, const char *text, const char *const names[], int n,
                   int *value);

/* The formats in which a command prints the book's content; --format has their names. */
enum book_format { TEXT, CSV, JSON };

/* Sets *format to the format of that name; NULL means text. False: there is no such format, which was printed. */
bool book_ask_format(const char *command, const char *name, enum book_format *format);

/* Prints the first line of the text format: station, tolerance, rail and holder. */
void book_ask_print_heading(const struct book_ask *ask, const char *station);

/* Opens the book. If neither an option nor a station file gave the unit of length, takes it from the book. Checks that
 * the book knows the rail, holder or knife that was asked for. NULL: the error was printed. The caller closes it. */
struct kr_history *book_ask_open(struct book_ask *ask);

/* Compares the history with its seals, and prints which entries are damaged. False: some are, so the output may be
 * wrong. It is printed nonetheless, and the exit status must say so. */
bool book_ask_is_sound(const struct book_ask *ask, struct kr_history *history);

#endif
