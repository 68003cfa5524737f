/* year_book BOOK STATION: adds to a book that the gateway made, while no gateway uses it, what a busy line makes in a
 * year: 5 changeovers of 2 x 100 holders with 120 moves on each of 250 days (1,250 of them), before each 4 order requests
 * that were judged, and 16 alarms that came and went. Stored as the gateway stores it. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/book.h"

enum { DAYS = 250, CHANGEOVERS = 5, REQUESTS = 4, ALARMS = 16, HOLDERS = 100, MOVES = 120 };

#define DAY_MS       86400000LL
#define FIRST_DAY_MS 1735689600000LL /* 2025-01-01T00:00:00Z */

static struct kr_book_entry entry; /* large */

static void store(struct kr_book *book, uint16_t station)
{
    entry.durable.serial++;
    if (kr_book_commit(book, station, &entry))
        return;
    fprintf(stderr, "year_book: %s\n", kr_book_error(book));
    exit(1);
}

static void add_request(struct kr_book *book, uint16_t station)
{
    struct kr_verdict *verdict = &entry.durable.verdict;
    verdict->number = (uint16_t)(verdict->number % 65535 + 1);
    verdict->kind = 1;
    store(book, station);
}

static void add_alarms(void)
{
    entry.n_alarms = 2 * ALARMS;
    for (int i = 0; i < 2 * ALARMS; i++)
        entry.alarm[i] =
            (struct kr_book_alarm){.at_utc_ms = entry.now_utc_ms,
                                   .raised = i % 2 == 0,
                                   .alarm = {.code = 1, .rail = 1, .item = (uint16_t)(i / 2 + 1)}};
}

static void fill_changeover(struct kr_book_changeover *is)
{
    struct kr_record *record = &entry.durable.record;
    record->number = (uint16_t)(record->number % 65535 + 1);
    record->job = 1;
    record->outcome = KR_OUTCOME_VERIFIED;
    is->ended_utc_ms = entry.now_utc_ms;
    is->record = *record;
    for (int r = 0; r < 2; r++) {
        is->n_holders[r] = HOLDERS;
        for (int h = 0; h < HOLDERS; h++)
            is->holder[r][h] = (struct kr_book_holder){.cut = (uint16_t)(h % 2),
                                                       .known = KR_MEASURED,
                                                       .target_um = 30000 * h,
                                                       .position_um = 30000 * h + h % 7};
    }
    is->n_moves = MOVES;
    for (int m = 0; m < MOVES; m++)
        is->move[m] = (struct kr_book_move){.rail = (uint16_t)(m % 2 + 1),
                                            .holder = (uint16_t)(m / 2 + 1),
                                            .from_um = 15000 * m,
                                            .to_um = 15000 * m + 700,
                                            .start_ms = 900 * m,
                                            .end_ms = 900 * m + 800};
}

static void add_changeover(struct kr_book *book, uint16_t station)
{
    for (int i = 0; i < REQUESTS; i++)
        add_request(book, station);
    add_alarms();
    entry.n_changeovers = 1;
    fill_changeover(&entry.changeover[0]);
    store(book, station);
    entry.n_alarms = entry.n_changeovers = 0;
}

int main(int argc, char *argv[])
{
    char error[KR_BOOK_TEXT_MAX];
    uint16_t station;
    if (argc != 3) {
        fprintf(stderr, "usage: year_book BOOK STATION\n");
        return 2;
    }
    struct kr_book *book = kr_book_open(argv[1], error, sizeof error);
    if (book == NULL || kr_book_load(book, argv[2], &station, &entry.durable) != KR_LOAD_FOUND) {
        fprintf(stderr, "year_book: %s: %s\n", argv[1],
                book == NULL ? error : "there is no such station in it");
        return 1;
    }
    for (int r = 0; r < KR_RAILS_MAX; r++)
        while (entry.n_holders[r] < KR_HOLDERS_MAX &&
               entry.durable.holder[r][entry.n_holders[r]].holder_size > 0)
            entry.n_holders[r]++; /* those that the station has; the history tells of HOLDERS */
    for (int i = 0; i < DAYS * CHANGEOVERS; i++) {
        entry.now_utc_ms = FIRST_DAY_MS + i / CHANGEOVERS * DAY_MS + i % CHANGEOVERS * 3600000LL;
        add_changeover(book, station);
    }
    kr_book_close(book);
    return 0;
}
