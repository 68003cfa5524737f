/* year_book BOOK STATION [DAYS]: adds to a book, while no gateway uses it, what a busy line makes in a year: 5
 * changeovers of 2 x 100 holders with 120 moves on each of 250 days (1,250 of them), before each 4 order requests that
 * were judged, and 16 alarms that came and went. Every tenth changeover one knife was ground before. Holder LOOSE of
 * rail 1 loosens by 2 um with each of the last changeovers. Stored as the gateway stores it; all values are invented,
 * and the same each time. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kniferail/alarm.h"
#include "kniferail/book.h"

enum { DAYS = 250, CHANGEOVERS = 5, REQUESTS = 4, ALARMS = 16, HOLDERS = 100, MOVES = 120, LOOSE = 2, LOOSENING = 60 };

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

/* A regrind of a knife, each time of another holder; never of the one that is loose. */
static void add_grind(struct kr_book *book, uint16_t station, int changeover)
{
    struct kr_edit *edit = &entry.durable.edit;
    int holder = 3 + changeover / 10 % 50;
    *edit = (struct kr_edit){.session = 1,
                             .number = (uint16_t)(edit->number % 65535 + 1),
                             .kind = KR_EDIT_REGRIND,
                             .rail = 1,
                             .holder = (uint16_t)holder,
                             .edge_offset_um = 10000 - changeover,
                             .origin = "192.0.2.17"};
    entry.durable.holder[0][holder - 1].edge_offset_um = edit->edge_offset_um;
    store(book, station);
}

/* Between -8 and 8 um, different for each changeover and holder; and what a loose holder adds. */
static int32_t error_um(int changeover, int left, int rail, int holder)
{
    int32_t um = (changeover * 37 + rail * 11 + holder * holder * 5 + changeover * holder) % 17 - 8;
    return rail == 0 && holder == LOOSE - 1 && left < LOOSENING ? um + 2 * (LOOSENING - left) : um;
}

static void add_alarms(void)
{
    entry.n_alarms = 2 * ALARMS;
    for (int i = 0; i < 2 * ALARMS; i++)
        entry.alarm[i] = (struct kr_book_alarm){.at_utc_ms = entry.now_utc_ms + 1000 * i,
                                                .raised = i % 2 == 0,
                                                .alarm = {.code = i < 20 ? KR_ALARM_PIN_NOT_IN : KR_ALARM_MOVE_LATE,
                                                          .rail = 1,
                                                          .item = (uint16_t)(i / 4 + 1)}};
}

/* Rail 2 is slower, and each changeover differs a little. */
static void fill_timing(struct kr_record_rail *rail, int changeover, int r)
{
    rail->docks = rail->undocks = (uint16_t)(5 + changeover % 4);
    rail->ways = (uint16_t)(2 * rail->docks + 4);
    rail->dock_ms = rail->docks * (800 + 30 * r) + changeover % 13;
    rail->undock_ms = rail->undocks * (790 + 20 * r) - changeover % 7;
    rail->setpoint_ms = rail->ways * (20 + 5 * r) + changeover % 3;
    rail->rounding_ms = rail->ways * 15 + changeover % 5 - 2;
}

static void fill_changeover(struct kr_book_changeover *is, int changeover, int left)
{
    struct kr_record *record = &entry.durable.record;
    record->number = (uint16_t)(record->number % 65535 + 1);
    record->job = 1;
    entry.durable.cut_metres += (uint32_t)(2000 + changeover * 37 % 61 * 100);
    record->outcome = changeover % 25 == 24 ? KR_OUTCOME_ABORTED : KR_OUTCOME_VERIFIED;
    record->planned_ms = 120000 + changeover % 7 * 1000;
    record->actual_ms = record->planned_ms + changeover % 5 * 3000;
    record->total_ms = 0;
    for (int i = 0; i < KR_N_SPENT; i++)
        record->total_ms += is->spent_ms[i] = 20000 + 1500 * i + changeover % 11 * 700;
    for (int r = 0; r < 2; r++)
        fill_timing(&record->rail[r], changeover, r);
    is->ended_utc_ms = entry.now_utc_ms;
    is->record = *record;
    for (int r = 0; r < 2; r++) {
        is->n_holders[r] = HOLDERS;
        for (int h = 0; h < HOLDERS; h++)
            is->holder[r][h] = (struct kr_book_holder){.cut = (uint16_t)(h % 2),
                                                       .known = KR_MEASURED,
                                                       .target_um = 30000 * h,
                                                       .position_um = 30000 * h + error_um(changeover, left, r, h)};
    }
    is->references_seen[1] = true;
    is->reference_um[1] = changeover / 10 - changeover % 3;
    is->n_moves = MOVES;
    for (int m = 0; m < MOVES; m++)
        is->move[m] = (struct kr_book_move){.rail = (uint16_t)(m % 2 + 1),
                                            .holder = (uint16_t)(m / 2 + 1),
                                            .from_um = 15000 * m,
                                            .to_um = 15000 * m + 700,
                                            .start_ms = 900 * m,
                                            .end_ms = 900 * m + 800};
}

static void add_changeover(struct kr_book *book, uint16_t station, int changeover, int left)
{
    if (changeover % 10 == 9)
        add_grind(book, station, changeover);
    for (int i = 0; i < REQUESTS; i++)
        add_request(book, station);
    add_alarms();
    entry.n_changeovers = 1;
    fill_changeover(&entry.changeover[0], changeover, left);
    store(book, station);
    entry.n_alarms = entry.n_changeovers = 0;
}

int main(int argc, char *argv[])
{
    char error[KR_BOOK_TEXT_MAX];
    uint16_t station;
    int days = argc == 4 ? atoi(argv[3]) : DAYS;
    if (argc < 3 || argc > 4 || days < 1) {
        fprintf(stderr, "usage: year_book BOOK STATION [DAYS]\n");
        return 2;
    }
    struct kr_book *book = kr_book_open(argv[1], error, sizeof error);
    enum kr_load load = book != NULL ? kr_book_load(book, argv[2], &station, &entry.durable) : KR_LOAD_FAILED;
    if (load == KR_LOAD_FAILED) {
        fprintf(stderr, "year_book: %s: %s\n", argv[1], book == NULL ? error : kr_book_error(book));
        return 1;
    }
    for (int r = 0; load == KR_LOAD_NEW && r < 2; r++)
        for (int h = 0; h < HOLDERS; h++)
            entry.durable.holder[r][h].holder_size = 1;
    for (int r = 0; r < KR_RAILS_MAX; r++)
        while (entry.n_holders[r] < KR_HOLDERS_MAX && entry.durable.holder[r][entry.n_holders[r]].holder_size > 0)
            entry.n_holders[r]++; /* those that the station has; the history tells of HOLDERS */
    for (int i = 0; i < days * CHANGEOVERS; i++) {
        entry.now_utc_ms = FIRST_DAY_MS + i / CHANGEOVERS * DAY_MS + i % CHANGEOVERS * 3600000LL;
        add_changeover(book, station, i, days * CHANGEOVERS - 1 - i);
    }
    kr_book_close(book);
    return 0;
}
