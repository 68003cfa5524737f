/* What commands that read a gateway's book are asked for in common: which book, station, period and part of it, in
 * which unit of length, and against which tolerance. */
#ifndef KNIFERAIL_CLI_BOOK_ASK_H
#define KNIFERAIL_CLI_BOOK_ASK_H

#include "cli.h"
#include "kniferail/history.h"
#include "kniferail/station.h"

struct book_ask {
    const char *command; /* its name, for what is told of mistakes */
    /* as they stand on the command line; NULL: not given */
    const char *config, *book, *station, *from, *to, *tolerance, *unit, *rail, *holder;
    const char *knife; /* asked for by an option of the command's own */
    /* what they say */
    struct kr_history_part part;
    double tolerance_um; /* either way */
    enum kr_length_unit length_unit;
    const struct kr_station_config *planned; /* what the station file says; NULL: none was given */
};

/* The options of the common part: each has the name of its field. */
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

/* Reads them; nothing is opened but the station file. Returns KR_RUN, or the exit status after telling what is
 * wrong. */
int book_ask_read(struct book_ask *ask);

/* Takes the number of text in names[]. False after telling that it is none of them. */
bool book_ask_word(const char *command, const char *option, const char *text, const char *const names[],
                   int n, int *value);

/* In which of the formats a book is told; --format has their names. */
enum book_format { TEXT, CSV, JSON };

/* Takes the format of that name; NULL: text. False after telling that it is none. */
bool book_ask_format(const char *command, const char *name, enum book_format *format);

/* The first line of text: which station, tolerance, rail and holder. */
void book_ask_print_heading(const struct book_ask *ask, const char *station);

/* Opens the book, takes its unit of length where none was asked for and no station file has one, and sees that a rail
 * holder or knife that is asked for is in it. NULL after telling what is wrong. The caller closes it. */
struct kr_history *book_ask_open(struct book_ask *ask);

/* Holds the history against the seals that it was stored with, and tells of what differs. What is printed may be wrong
 * then; it is printed nonetheless, and the exit status tells. */
bool book_ask_is_sound(const struct book_ask *ask, struct kr_history *history);

#endif
