/* Tests of the book: after a restart it has exactly what was committed, and it says so if something can't be stored. */
#include "kniferail/book.h"

#include <fcntl.h>
#include <inttypes.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "fields.h"
#include "kniferail/alarm.h"
#include "kniferail/history.h"
#include "seal.h"
#include "suite.h"

static char folder[64];
static struct kr_book_run last_run;
static char path[96];
static struct kr_book_entry entry; /* half a megabyte: not for the stack */
static const char *const station_name = "heron mill, slitter 2";

static struct kr_history_part part; /* what the tests ask of the history; nothing: all of it */

static void setup(void)
{
    part = (struct kr_history_part){0};
    snprintf(folder, sizeof folder, "/tmp/kr_book_XXXXXX");
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/book.db", folder);
    memset(&entry, 0, sizeof entry);
}

static void remove_book(void)
{
    static const char *const suffix[] = {"", "-wal", "-shm", ".lock", ".version-1", ".version-2"};
    char name[128];
    for (size_t i = 0; i < sizeof suffix / sizeof suffix[0]; i++) {
        snprintf(name, sizeof name, "%s%s", path, suffix[i]);
        unlink(name); /* most tests leave only some of them */
    }
}

static void teardown(void)
{
    remove_book();
    ck_assert_int_eq(rmdir(folder), 0);
}

static struct kr_book *opened(const char *at)
{
    char error[KR_BOOK_TEXT_MAX] = "";
    struct kr_book *book = kr_book_open(at, error, sizeof error);
    ck_assert_msg(book != NULL, "%s", error);
    return book;
}

/* Opens a file that can't be used and returns why. */
static const char *refusal(void)
{
    static char error[KR_BOOK_TEXT_MAX];
    error[0] = 0;
    ck_assert_ptr_null(kr_book_open(path, error, sizeof error));
    ck_assert_str_ne(error, "");
    ck_assert_ptr_null(strchr(error, '\n'));
    return error;
}

static void assert_commit(struct kr_book *book, uint16_t station)
{
    ck_assert_msg(kr_book_commit(book, station, &entry), "%s", kr_book_error(book));
}

/* The file as any SQL tool sees it. */
static int64_t asked(const char *query)
{
    sqlite3 *db;
    sqlite3_stmt *stmt;
    ck_assert_int_eq(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    ck_assert_msg(sqlite3_prepare_v2(db, query, -1, &stmt, NULL) == SQLITE_OK, "%s: %s", query, sqlite3_errmsg(db));
    ck_assert_int_eq(sqlite3_step(stmt), SQLITE_ROW);
    int64_t number = sqlite3_column_int64(stmt, 0);
    sqlite3_finalize(stmt);
    sqlite3_close(db);
    return number;
}

static void told(const char *statements)
{
    sqlite3 *db;
    ck_assert_int_eq(sqlite3_open(path, &db), SQLITE_OK);
    char *error = NULL;
    ck_assert_msg(sqlite3_exec(db, statements, NULL, NULL, &error) == SQLITE_OK, "%s", error);
    sqlite3_close(db);
}

/* ---- a station with a story --------------------------------------------------------------------------------- */

static void fill_holders(struct kr_durable *d)
{
    for (int r = 0; r < 2; r++)
        for (int h = 0; h < 12; h++)
            d->holder[r][h] = (struct kr_holder_data){.position_um = 100000 * (h + 1) + r,
                                                      .edge_offset_um = -1500 - h,
                                                      .dock_retries = (uint16_t)h,
                                                      .metres = 1000u * (uint32_t)h,
                                                      .known = (uint8_t)(h % 4),
                                                      .holder_size = (uint8_t)(h % 3 + 1),
                                                      .state = (uint8_t)(h % 4)};
    d->docking[1] = 7;
    d->clamp_open[0] = 1;
    d->datum_doubted[1] = 1;
    d->clamp_open[1] = 1;
    d->datum_doubted[0] = 1;
}

static struct kr_order an_order(uint32_t number, uint16_t n_slits)
{
    struct kr_order order = {.order_number = number,
                             .n_slits = n_slits,
                             .edge_flags = KR_UNTRIMMED_DRIVE,
                             .alignment = KR_FROM_OPERATOR_EDGE,
                             .compensation_ppm = -250,
                             .tolerance_um = 180,
                             .web_width_nm = 2400000000,
                             .trim_nm = 12700000,
                             .shift_nm = -3175000,
                             .sum_nm = 1234567890123};
    for (uint16_t i = 0; i < n_slits; i++)
        order.width_nm[i] = 203200000 + i;
    return order;
}

static void fill_story(void)
{
    struct kr_durable *d = &entry.durable;
    d->serial = 41;
    fill_holders(d);
    entry.n_holders[0] = entry.n_holders[1] = 12;
    d->staged = d->in_force = 1;
    d->staged_order = an_order(4294967295u, 9);
    d->order = an_order(88, KR_SLITS_MAX);
    d->n_queued = 2;
    d->queue[0] = an_order(89, 3);
    d->queue[1] = an_order(90, 1);
    d->recipe[0] = an_order(0, 4);
    d->recipe[KR_RECIPES_MAX - 1] = an_order(7, 2);
    d->verdict = (struct kr_verdict){.session = 3,
                                     .number = 65535,
                                     .kind = KR_REQUEST_STAGE,
                                     .result = {KR_SLIT_TOO_NARROW, 2, 4, -20000, 50800},
                                     .order_number = 88,
                                     .replaced_order = 87,
                                     .slit_count = 9,
                                     .sum_nm = 1828800000,
                                     .time_ms = 61500};
    d->record =
        (struct kr_record){.number = 5,
                           .outcome = KR_OUTCOME_ABORTED,
                           .job = KR_JOB_CHANGEOVER,
                           .order_number = 88,
                           .planned_ms = 60000,
                           .actual_ms = 61234,
                           .total_ms = 99000,
                           .worst_pair_um = -31,
                           .worst_slit_um = 44,
                           .rail[1] = {.moves = 9, .corrections = 2, .retries = 1, .worst_holder = 7, .worst_um = -180},
                           .cause = {KR_ALARM_PIN_LOST, 2, 7, 1, 2}};
    d->edit = (struct kr_edit){.session = 2,
                               .number = 9,
                               .kind = KR_EDIT_SWAP,
                               .rail = 1,
                               .holder = 4,
                               .holder_size = 2,
                               .edge_offset_um = -2000,
                               .position_um = 77,
                               .result = {KR_SPACING, 1, 5, 50000, 50800},
                               .origin = "192.0.2.17"};
    entry.now_utc_ms = 1772346600125;
}

/* A row of the book's list of fields: the field is the same in a and b. */
#define EQUAL(field, column, type, sealed) \
    ck_assert_msg(a->field == b->field, "%s: %lld, not %lld", column, (long long)a->field, (long long)b->field);

static void assert_orders_equal(const struct kr_order *a, const struct kr_order *b)
{
    ORDER_FIELDS(EQUAL)
    ck_assert_uint_eq(a->n_slits, b->n_slits);
    for (int i = 0; i < KR_SLITS_MAX; i++)
        ck_assert_int_eq(a->width_nm[i], b->width_nm[i]);
}

static void assert_holders_equal(const struct kr_holder_data *a, const struct kr_holder_data *b)
{
    HOLDER_FIELDS(EQUAL)
}

static void assert_verdicts_equal(const struct kr_verdict *a, const struct kr_verdict *b)
{
    VERDICT_FIELDS(EQUAL)
}

static void assert_edits_equal(const struct kr_edit *a, const struct kr_edit *b)
{
    EDIT_FIELDS(EQUAL)
    ck_assert_str_eq(a->origin, b->origin);
}

static void assert_record_rails_equal(const struct kr_record_rail *a, const struct kr_record_rail *b)
{
    RECORD_RAIL_FIELDS(EQUAL)
}

static void assert_records_equal(const struct kr_record *a, const struct kr_record *b)
{
    RECORD_FIELDS(EQUAL)
    for (int r = 0; r < KR_RAILS_MAX; r++)
        assert_record_rails_equal(&a->rail[r], &b->rail[r]);
}

static void assert_points_equal(const struct kr_frame *a, const struct kr_frame *b)
{
    ck_assert_uint_eq(a->n_points, b->n_points);
    for (int i = 0; i < KR_FRAME_POINTS_MAX; i++) {
        ck_assert_int_eq(a->point[i].at_um, b->point[i].at_um);
        ck_assert_int_eq(a->point[i].error_um, b->point[i].error_um);
    }
}

static void assert_rails_equal(const struct kr_durable *a, const struct kr_durable *b)
{
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        RAIL_FIELDS(EQUAL)
        assert_points_equal(&a->frame[r], &b->frame[r]);
        assert_points_equal(&a->frame_before[r], &b->frame_before[r]);
        for (int h = 0; h < KR_HOLDERS_MAX; h++)
            assert_holders_equal(&a->holder[r][h], &b->holder[r][h]);
    }
}

static void assert_durables_equal(const struct kr_durable *a, const struct kr_durable *b)
{
    ck_assert_uint_eq(a->serial, b->serial);
    STATION_FIELDS(EQUAL)
    assert_rails_equal(a, b);
    ck_assert_uint_eq(a->staged, b->staged);
    ck_assert_uint_eq(a->in_force, b->in_force);
    assert_orders_equal(&a->staged_order, &b->staged_order);
    assert_orders_equal(&a->order, &b->order);
    ck_assert_uint_eq(a->n_queued, b->n_queued);
    for (int i = 0; i < a->n_queued; i++)
        assert_orders_equal(&a->queue[i], &b->queue[i]);
    for (int i = 0; i < KR_RECIPES_MAX; i++) {
        ck_assert_uint_eq(a->recipe[i].n_slits, b->recipe[i].n_slits);
        if (a->recipe[i].n_slits > 0)
            assert_orders_equal(&a->recipe[i], &b->recipe[i]);
    }
    assert_verdicts_equal(&a->verdict, &b->verdict);
    assert_edits_equal(&a->edit, &b->edit);
    assert_records_equal(&a->record, &b->record);
}

static void assert_book_holds(const struct kr_durable *expected)
{
    static struct kr_durable loaded;
    memset(&loaded, 0, sizeof loaded);
    struct kr_book *book = opened(path);
    uint16_t station;
    ck_assert_int_eq(kr_book_load(book, station_name, &station, &loaded), KR_LOAD_FOUND);
    assert_durables_equal(&loaded, expected);
    kr_book_close(book);
}

static struct kr_book *book_with_story(uint16_t *station)
{
    struct kr_book *book = opened(path);
    fill_story();
    ck_assert_int_eq(kr_book_load(book, station_name, station, &entry.durable), KR_LOAD_NEW);
    assert_commit(book, *station);
    return book;
}

static void leave_a_story(void)
{
    uint16_t station;
    kr_book_close(book_with_story(&station));
}

/* ---- what survives -------------------------------------------------------------------------------------------- */

START_TEST(what_was_committed_is_there_again_after_a_restart)
{
    leave_a_story();
    assert_book_holds(&entry.durable);
}
END_TEST

START_TEST(what_was_committed_is_there_again_after_a_kill)
{
    pid_t child = fork();
    ck_assert_int_ge(child, 0);
    if (child == 0) {
        uint16_t station;
        book_with_story(&station);
        raise(SIGKILL);
    }
    int status;
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    ck_assert(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL);
    fill_story();
    assert_book_holds(&entry.durable);
}
END_TEST

START_TEST(a_station_that_is_new_keeps_what_the_config_seeds)
{
    struct kr_book *book = opened(path);
    fill_story();
    uint16_t station;
    ck_assert_int_eq(kr_book_load(book, station_name, &station, &entry.durable), KR_LOAD_NEW);
    ck_assert_uint_eq(entry.durable.serial, 41);
    ck_assert_int_eq(entry.durable.holder[0][3].position_um, 400000);
    kr_book_close(book);
}
END_TEST

START_TEST(holders_added_to_the_config_are_seeded_and_the_others_stay_as_stored)
{
    leave_a_story();
    struct kr_durable seed;
    memset(&seed, 0, sizeof seed);
    for (int h = 0; h < 14; h++)
        seed.holder[0][h] = (struct kr_holder_data){.position_um = 7, .holder_size = 3, .known = KR_REMEMBERED};
    struct kr_book *book = opened(path);
    uint16_t station;
    ck_assert_int_eq(kr_book_load(book, station_name, &station, &seed), KR_LOAD_FOUND);
    ck_assert_int_eq(seed.holder[0][11].position_um, 1200000);
    ck_assert_int_eq(seed.holder[0][12].position_um, 7);
    ck_assert_int_eq(seed.holder[0][13].holder_size, 3);
    kr_book_close(book);
}
END_TEST

START_TEST(an_order_that_was_cancelled_is_gone_with_its_slits)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    entry.durable.staged = 0;
    assert_commit(book, station);
    ck_assert_int_eq(asked("SELECT count(*) FROM slit WHERE place = 0"), 0);
    ck_assert_int_eq(asked("SELECT count(*) FROM slit WHERE place = 1"), KR_SLITS_MAX);
    kr_book_close(book);
}
END_TEST

START_TEST(two_stations_of_one_book_are_kept_apart)
{
    uint16_t first, second;
    struct kr_book *book = book_with_story(&first);
    entry.durable.serial = 1;
    entry.durable.in_force = 0;
    ck_assert_int_eq(kr_book_load(book, "heron mill, slitter 3", &second, &entry.durable), KR_LOAD_NEW);
    ck_assert_uint_ne(first, second);
    assert_commit(book, second);
    kr_book_close(book);
    fill_story();
    assert_book_holds(&entry.durable);
}
END_TEST

START_TEST(only_what_differs_is_written)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    entry.durable.holder[0][4].position_um += 25;
    entry.durable.serial++;
    told("CREATE TRIGGER h AFTER INSERT ON holder BEGIN INSERT INTO session(number, started_at) VALUES(1, "
         "''); END;"
         "CREATE TRIGGER s AFTER INSERT ON slit BEGIN INSERT INTO session(number, started_at) VALUES(2, ''); "
         "END;");
    assert_commit(book, station);
    ck_assert_int_eq(asked("SELECT count(*) FROM session WHERE number = 1"), 1);
    ck_assert_int_eq(asked("SELECT count(*) FROM session WHERE number = 2"), 0);
    ck_assert_int_eq(asked("SELECT count(*) FROM verdict"), 1);
    kr_book_close(book);
}
END_TEST

/* ---- the audit ------------------------------------------------------------------------------------------------ */

static struct kr_book_audit told_rows; /* large */

static struct kr_audit_row *add_audit(int64_t id, uint16_t station)
{
    struct kr_audit_row *row = &told_rows.row[told_rows.n++];
    *row = (struct kr_audit_row){.id = id, .at_utc_ms = 1000 * id, .until_utc_ms = 1000 * id, .times = 1};
    row->book_station = station;
    row->event = (struct kr_audit_event){.kind = KR_AUDIT_REFUSED, .port = 502};
    snprintf(row->event.who, sizeof row->event.who, "192.0.2.%d", (int)id);
    snprintf(row->event.what, sizeof row->event.what, "writes block ORDER");
    snprintf(row->event.result, sizeof row->event.result, "exception 01");
    return row;
}

START_TEST(the_audit_keeps_its_rows_and_a_count_takes_its_own_place)
{
    struct kr_book *book = opened(path);
    uint16_t station;
    int64_t next = 0;
    told_rows.n = 0;
    ck_assert_int_eq(kr_book_load(book, station_name, &station, &entry.durable), KR_LOAD_NEW);
    ck_assert(kr_book_audit_next(book, &next));
    ck_assert_int_eq(next, 1);
    add_audit(1, station);
    add_audit(2, KR_BOOK_AUDIT_GATEWAY);
    ck_assert_msg(kr_book_audit(book, &told_rows), "%s", kr_book_error(book));
    told_rows.n = 0;
    add_audit(2, KR_BOOK_AUDIT_GATEWAY)->times = 77;
    ck_assert(kr_book_audit(book, &told_rows));
    ck_assert(kr_book_audit_next(book, &next));
    ck_assert_int_eq(next, 3);
    kr_book_close(book);
    ck_assert_int_eq(asked("SELECT count(*) FROM audit WHERE station IS NULL AND times = 77"), 1);
    ck_assert_int_eq(asked("SELECT count(*) FROM audit JOIN station USING(station) WHERE times = 1"), 1);
    ck_assert_int_eq(asked("SELECT count(*) FROM audit"), 2);
}
END_TEST

/* ---- sessions ------------------------------------------------------------------------------------------------- */

START_TEST(every_start_has_the_next_session_and_zero_is_left_out)
{
    uint16_t first = 0, session;
    for (uint16_t i = 0; i < 3; i++) {
        struct kr_book *book = opened(path);
        ck_assert(kr_book_session(book, 0, "", &session, &last_run));
        first = i == 0 ? session : first;
        ck_assert_uint_ge(session, 1);
        ck_assert_uint_eq(session, first + i);
        kr_book_close(book);
    }
    told("INSERT INTO session(number, started_at) VALUES(65534, '')");
    struct kr_book *book = opened(path);
    ck_assert(kr_book_session(book, 0, "", &session, &last_run));
    ck_assert_uint_eq(session, 65535);
    ck_assert(kr_book_session(book, 0, "", &session, &last_run));
    ck_assert_uint_eq(session, 1);
    kr_book_close(book);
}
END_TEST

START_TEST(a_new_book_does_not_begin_at_the_session_at_which_the_one_before_it_began)
{
    uint16_t first = 0, session;
    bool differs = false;
    for (int i = 0; i < 8; i++) { /* eight equal ones by chance: one in 10^31 */
        struct kr_book *book = opened(path);
        ck_assert(kr_book_session(book, 0, "", &session, &last_run));
        kr_book_close(book);
        first = i == 0 ? session : first;
        differs = differs || session != first;
        remove_book();
    }
    ck_assert(differs);
}
END_TEST

/* Each run that is said to end so, or that says nothing on a computer that started as the next one's did, or
 * otherwise. */
START_TEST(the_next_run_finds_how_the_last_one_ended)
{
    static const struct {
        enum kr_run_end said, found;
        const char *boot, *next_boot;
    } cases[] = {{KR_RUN_UNKNOWN, KR_RUN_KILLED, "boot 1", "boot 1"},
                 {KR_RUN_UNKNOWN, KR_RUN_POWER, "boot 1", "boot 2"},
                 {KR_RUN_UNKNOWN, KR_RUN_UNKNOWN, "", "boot 2"},
                 {KR_RUN_UNKNOWN, KR_RUN_UNKNOWN, "boot 1", ""},
                 {KR_RUN_ASKED, KR_RUN_ASKED, "boot 1", "boot 1"},
                 {KR_RUN_ASKED, KR_RUN_ASKED, "boot 1", "boot 2"},
                 {KR_RUN_HURRIED, KR_RUN_HURRIED, "boot 1", "boot 1"},
                 {KR_RUN_NOT_STARTED, KR_RUN_NOT_STARTED, "boot 1", "boot 2"}};
    uint16_t session, next;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct kr_book *book = opened(path);
        ck_assert(kr_book_session(book, 1000, cases[i].boot, &session, &last_run));
        if (cases[i].said != KR_RUN_UNKNOWN)
            ck_assert(kr_book_end_run(book, 7000, cases[i].said));
        kr_book_close(book);
        book = opened(path);
        ck_assert(kr_book_session(book, 9000, cases[i].next_boot, &next, &last_run));
        ck_assert_msg(last_run.end == cases[i].found, "case %zu: %d, not %d", i, (int)last_run.end,
                      (int)cases[i].found);
        ck_assert_uint_eq(last_run.session, session);
        ck_assert_int_eq(last_run.sign_utc_s, cases[i].said != KR_RUN_UNKNOWN ? 7 : 1);
        kr_book_close(book);
    }
}
END_TEST

START_TEST(the_last_sign_of_a_run_that_said_nothing_is_its_last_commit)
{
    uint16_t session, station;
    struct kr_book *book = opened(path);
    ck_assert(kr_book_session(book, 1000, "boot 1", &session, &last_run));
    ck_assert_uint_eq(last_run.session, 0);
    ck_assert_int_eq(last_run.end, KR_RUN_UNKNOWN);
    ck_assert_int_eq(kr_book_load(book, station_name, &station, &entry.durable), KR_LOAD_NEW);
    entry.durable.serial = 1;
    entry.now_utc_ms = 5000;
    ck_assert(kr_book_commit(book, station, &entry));
    kr_book_close(book);
    book = opened(path);
    ck_assert(kr_book_session(book, 9000, "boot 1", &session, &last_run));
    ck_assert_int_eq(last_run.sign_utc_s, 5);
    kr_book_close(book);
}
END_TEST

START_TEST(a_book_in_memory_draws_sessions_that_are_not_all_the_same)
{
    uint16_t first, session;
    bool differs = false;
    struct kr_book *book = opened(NULL);
    ck_assert(kr_book_session(book, 0, "", &first, &last_run));
    for (int i = 0; i < 8; i++) { /* eight equal ones by chance: one in 10^38 */
        ck_assert(kr_book_session(book, 0, "", &session, &last_run));
        ck_assert_uint_ge(session, 1);
        differs = differs || session != first;
    }
    ck_assert(differs);
    kr_book_close(book);
}
END_TEST

/* ---- history -------------------------------------------------------------------------------------------------- */

START_TEST(a_regrind_is_kept_with_what_the_offset_was)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    entry.durable.holder[1][2].edge_offset_um = -1650;
    entry.durable.serial++;
    assert_commit(book, station);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE what = 'edge_offset_um' AND rail = 2 AND holder = 3"), 2);
    ck_assert_int_eq(asked("SELECT was FROM edit ORDER BY id DESC LIMIT 1"), -1502);
    ck_assert_int_eq(asked("SELECT became FROM edit ORDER BY id DESC LIMIT 1"), -1650);
    ck_assert_int_eq(asked("SELECT was IS NULL FROM edit ORDER BY id LIMIT 1"), 1);
    kr_book_close(book);
}
END_TEST

START_TEST(an_edge_is_kept_with_who_proved_it_and_a_crash_is_the_plc_s)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    entry.durable.holder[1][2].edge = KR_EDGE_FEELER;
    entry.durable.serial++;
    assert_commit(book, station);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE what = 'edge' AND rail = 2 AND holder = 3 AND "
                           "was = 0 AND became = 2 AND origin = '192.0.2.17'"),
                     1);
    entry.durable.holder[1][2].edge = KR_EDGE_STRUCK;
    entry.durable.serial++;
    assert_commit(book, station);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE what = 'edge'"), 2);
    ck_assert_int_eq(asked("SELECT was = 2 AND became = 4 AND origin = 'PLC' FROM edit ORDER BY id DESC LIMIT 1"), 1);
    kr_book_close(book);
}
END_TEST

START_TEST(a_maintenance_request_is_kept_with_who_asked_and_what_it_changed)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    entry.durable.edit.number = 10;
    entry.durable.edit.result.code = KR_OK;
    entry.durable.holder[0][3].edge_offset_um = -2000;
    entry.durable.serial++;
    assert_commit(book, station);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit_request WHERE origin = '192.0.2.17'"), 2);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE origin = '192.0.2.17' AND became = -2000"), 1);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE origin = 'config'"), 3 * 24);
    kr_book_close(book);
}
END_TEST

/* A table of the history: how many rows it has, and a column of the last of them. */
struct last_row {
    const char *column;
    int n;
    struct kr_cell cell;
};

static bool keep_last(void *arg, const struct kr_history_row *row)
{
    struct last_row *last = arg;
    if (row->is_heading)
        return true;
    last->n++;
    for (int i = 0; i < row->n; i++)
        if (strcmp(row->name[i], last->column) == 0)
            last->cell = row->cell[i];
    return true;
}

static struct last_row last_of(enum kr_history_table table, const char *column)
{
    char error[KR_BOOK_TEXT_MAX] = "";
    struct last_row last = {.column = column};
    struct kr_history *history = kr_history_open(path, station_name, error, sizeof error);
    ck_assert_msg(history != NULL, "%s", error);
    ck_assert(kr_history_read(history, table, &part, keep_last, &last));
    kr_history_close(history);
    last.cell.text = NULL; /* it lived until the next row */
    return last;
}

static struct kr_test_cut two_strips(uint32_t number)
{
    return (struct kr_test_cut){.number = number,
                                .order_number = 4711,
                                .rail = 2,
                                .n_strips = 2,
                                .pairs_looked_at = number % 2 == 0,
                                .strip = {{440000000, 440125000, {{1, 3}, {2, 4}}}, {420000000, 0, {{0}}}}};
}

START_TEST(the_strips_of_test_cuts_are_kept_and_stay_after_a_restart)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    for (uint32_t number = 1; number <= 2; number++) {
        entry.durable.test_cut = two_strips(number);
        entry.durable.serial++;
        assert_commit(book, station);
    }
    entry.durable.serial++; /* the same test cut is no new one */
    assert_commit(book, station);
    kr_book_close(book);
    book = opened(path);
    ck_assert_int_eq(kr_book_load(book, station_name, &station, &entry.durable), KR_LOAD_FOUND);
    entry.durable.test_cut = two_strips(1); /* the next gateway counts anew */
    entry.durable.serial++;
    assert_commit(book, station);
    kr_book_close(book);
    ck_assert_int_eq(asked("SELECT count(*) FROM test_cut WHERE origin = '192.0.2.17' AND order_number = 4711 AND rail "
                           "= 2"),
                     6);
    ck_assert_int_eq(asked("SELECT count(*) FROM test_cut WHERE slit = 1 AND ordered_nm = 440000000 AND measured_nm = "
                           "440125000 AND proven = '1/1 2/3 1/2 2/4'"),
                     3);
    ck_assert_int_eq(asked("SELECT count(*) FROM test_cut WHERE slit = 2 AND measured_nm IS NULL AND proven = ''"), 3);
    ck_assert_int_eq(asked("SELECT group_concat(pairs_looked_at, '') = '001100' FROM test_cut"), 1);
    struct last_row last = last_of(KR_HISTORY_TEST_CUTS, "ordered_um");
    ck_assert_int_eq(last.n, 6);
    ck_assert(last.cell.kind == KR_CELL_REAL && last.cell.real == 420000.0);
    ck_assert_int_eq(last_of(KR_HISTORY_TEST_CUTS, "measured_um").cell.kind, KR_CELL_NONE);
    part = (struct kr_history_part){.rail = 2};
    ck_assert_int_eq(last_of(KR_HISTORY_TEST_CUTS, "slit").n, 6);
    part = (struct kr_history_part){.rail = 1, .holder = 2};
    ck_assert_int_eq(last_of(KR_HISTORY_TEST_CUTS, "slit").n, 3);
    part = (struct kr_history_part){.rail = 1, .holder = 12};
    ck_assert_int_eq(last_of(KR_HISTORY_TEST_CUTS, "slit").n, 0);
}
END_TEST

/* The block still has what the request before left there. */
static void fill_frames(struct kr_durable *d)
{
    d->frame_origin[0] = KR_FRAME_FROM_FILE;
    d->frame_origin[1] = KR_FRAME_FROM_PERSON;
    d->frame[1] = (struct kr_frame){
        .offset_um = -12345, .scale_ppb = 250000, .n_points = 2, .point = {{-1000, 30}, {900000, -20}}};
    d->frame_before[1] = (struct kr_frame){.offset_um = 77, .n_points = KR_FRAME_POINTS_MAX};
    d->switch_origin[1] = KR_FRAME_FROM_PERSON;
    d->of_switch[1] = (struct kr_switch){.offset_um = -30000, .bias_um = 140};
    d->switch_before[1] = (struct kr_switch){.offset_um = -29500};
    d->times_origin[1] = KR_FRAME_FROM_PERSON;
    d->times[1] = (struct kr_rail_times){812400, 790000, 20000, 15100};
    d->times_before[1] = (struct kr_rail_times){800000, 790000, 20000, 0};
    for (int i = 0; i < KR_FRAME_POINTS_MAX; i++)
        d->frame_before[1].point[i] = (struct kr_frame_point){10000 * i, i};
    d->serial++;
}

START_TEST(a_frame_is_kept_with_what_it_was_and_who_set_it)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    struct kr_durable *d = &entry.durable;
    fill_frames(d);
    assert_commit(book, station);
    ck_assert_int_eq(asked("SELECT count(*) FROM frame_point"), 2 + KR_FRAME_POINTS_MAX);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE what LIKE 'frame%'"), 0); /* the file's is no history */
    d->frame_before[1] = d->frame[1];
    d->switch_before[1] = d->of_switch[1];
    d->of_switch[1] = (struct kr_switch){.offset_um = -30010};
    d->times_before[1] = d->times[1];
    d->times[1].dock_us = 830000;
    d->frame[1] = (struct kr_frame){.offset_um = -12400, .scale_ppb = 250000, .n_points = 1, .point = {{5, 6}}};
    d->serial++;
    assert_commit(book, station);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE what = 'frame_offset_um' AND rail = 2 AND holder = 0 AND "
                           "was = -12345 AND became = -12400 AND origin = '192.0.2.17'"),
                     1);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE what = 'frame_scale_ppb'"), 0);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE what = 'frame_points' AND was = 2 AND became = 1"), 1);
    ck_assert_int_eq(asked("SELECT count(*) FROM frame_point"), 3);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE what = 'scan_bias_um' AND rail = 2 AND was = 140 "
                           "AND became = 0"),
                     1);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE what = 'switch_offset_um'"), 1);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE what = 'dock_us' AND rail = 2 AND holder = 0 AND "
                           "was = 812400 AND became = 830000 AND origin = '192.0.2.17'"),
                     1);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE what LIKE '%dock_us'"), 1);
    ck_assert_int_eq(last_of(KR_HISTORY_FRAMES, "dock_us").cell.number, 830000);
    ck_assert_int_eq(last_of(KR_HISTORY_FRAMES, "error_um").cell.number, 6);
    kr_book_close(book);
    assert_book_holds(d);
}
END_TEST

START_TEST(the_history_shows_of_a_maintenance_request_only_what_its_kind_names)
{
    static const char *const nothing[] = {"rail", "holder", "size", "edge_offset_um", "position_um"};
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    ck_assert_int_eq(last_of(KR_HISTORY_EDITS, "size").cell.number, 2); /* a swap */
    ck_assert_int_eq(last_of(KR_HISTORY_EDITS, "position_um").cell.kind, KR_CELL_NONE);
    entry.durable.edit.number = 10;
    entry.durable.edit.kind = KR_EDIT_APPLY;
    assert_commit(book, station);
    for (size_t i = 0; i < sizeof nothing / sizeof nothing[0]; i++)
        ck_assert_int_eq(last_of(KR_HISTORY_EDITS, nothing[i]).cell.kind, KR_CELL_NONE);
    entry.durable.edit.number = 11;
    entry.durable.edit.kind = KR_EDIT_INSERT;
    assert_commit(book, station);
    ck_assert_int_eq(last_of(KR_HISTORY_EDITS, "position_um").cell.number, 77);
    ck_assert_int_eq(last_of(KR_HISTORY_EDITS, "holder").cell.number, 4);
    ck_assert_int_eq(last_of(KR_HISTORY_EDITS, "edge_offset_um").cell.kind, KR_CELL_NONE);
    kr_book_close(book);
}
END_TEST

/* A knife that stays where it was shows the error of the time before: counted again and again, it would make every
 * spread 0. */
START_TEST(only_a_holder_that_was_moved_counts_as_placed)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    struct kr_book_changeover *c = &entry.changeover[0];
    for (uint16_t i = 0; i < 5; i++) {
        entry.n_changeovers = 1;
        entry.durable.record.number = (uint16_t)(6 + i);
        *c = (struct kr_book_changeover){.record = entry.durable.record, .n_holders = {2}, .n_moves = 1};
        c->holder[0][0] = (struct kr_book_holder){.cut = 1, .known = KR_MEASURED, .position_um = 20 + i};
        c->holder[0][1] = (struct kr_book_holder){.cut = 2, .known = KR_MEASURED, .position_um = 30};
        c->move[0] = (struct kr_book_move){1, 1, 100, 20 + i, 2000, 5500};
        c->n_moves = i < 3;
        assert_commit(book, station);
    }
    struct last_row errors = last_of(KR_HISTORY_ERRORS, "holder");
    ck_assert_int_eq(errors.n, 3);
    ck_assert_int_eq(errors.cell.number, 1);
    kr_book_close(book);
}
END_TEST

static int rows_of(enum kr_history_table table, uint16_t rail, uint16_t holder)
{
    part = (struct kr_history_part){.rail = rail, .holder = holder};
    return last_of(table, "").n;
}

/* The story's changeover has 9 moves of rail 2, its request is a swap of holder 4 of rail 1. */
START_TEST(the_history_of_a_rail_leaves_out_what_is_of_others)
{
    kr_book_close(book_with_story(&(uint16_t){0}));
    part.rail = 2;
    ck_assert_int_eq(last_of(KR_HISTORY_CHANGEOVERS, "moves").cell.number, 9);
    ck_assert_int_eq(last_of(KR_HISTORY_CHANGEOVERS, "worst_um").cell.number, -180);
    part.rail = 1;
    ck_assert_int_eq(last_of(KR_HISTORY_CHANGEOVERS, "moves").cell.number, 0);
    ck_assert_int_eq(rows_of(KR_HISTORY_EDITS, 1, 0), 1);
    ck_assert_int_eq(rows_of(KR_HISTORY_EDITS, 1, 4), 1);
    ck_assert_int_eq(rows_of(KR_HISTORY_EDITS, 1, 5), 0);
    ck_assert_int_eq(rows_of(KR_HISTORY_EDITS, 2, 0), 0);
    ck_assert_int_eq(rows_of(KR_HISTORY_HOLDERS, 1, 2), 1);
    ck_assert_int_gt(rows_of(KR_HISTORY_HOLDERS, 0, 0), rows_of(KR_HISTORY_HOLDERS, 1, 0));
}
END_TEST

/* One that sets what is proposed names no holder; the edits that are stored with it do. */
START_TEST(a_request_is_in_the_history_of_every_holder_that_it_changed_or_means)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    entry.now_utc_ms += 1000;
    entry.durable.edit.number = 10;
    entry.durable.edit.kind = KR_EDIT_APPLY;
    entry.durable.holder[0][1].edge_offset_um += 5;
    assert_commit(book, station);
    ck_assert_int_eq(rows_of(KR_HISTORY_EDITS, 1, 2), 1);
    ck_assert_int_eq(rows_of(KR_HISTORY_EDITS, 1, 3), 0);
    entry.now_utc_ms += 1000;
    entry.durable.edit.number = 11;
    entry.durable.edit.kind = KR_EDIT_BENCH;
    entry.durable.edit.holder = 0; /* the whole rail */
    assert_commit(book, station);
    ck_assert_int_eq(rows_of(KR_HISTORY_EDITS, 1, 3), 1);
    ck_assert_int_eq(rows_of(KR_HISTORY_EDITS, 2, 3), 0);
    kr_book_close(book);
}
END_TEST

START_TEST(an_alarm_is_in_the_history_of_the_holder_that_it_names)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    entry.n_alarms = 3;
    entry.alarm[0] = (struct kr_book_alarm){.raised = true, .alarm = {KR_ALARM_PIN_LOST, 2, 7, 0, 0}};
    entry.alarm[1] = (struct kr_book_alarm){.raised = true, .alarm = {KR_ALARM_SLIT_OUT_OF_TOLERANCE, 2, 7, 0, 0}};
    entry.alarm[2] = (struct kr_book_alarm){.raised = true, .alarm = {KR_ALARM_PIN_LOST, 1, 7, 0, 0}};
    assert_commit(book, station);
    kr_book_close(book);
    ck_assert_int_eq(rows_of(KR_HISTORY_ALARMS, 0, 0), 3);
    ck_assert_int_eq(rows_of(KR_HISTORY_ALARMS, 2, 0), 2);
    ck_assert_int_eq(rows_of(KR_HISTORY_ALARMS, 2, 7), 1);
    ck_assert_int_eq(rows_of(KR_HISTORY_ALARMS, 2, 8), 0);
}
END_TEST

START_TEST(a_changeover_is_in_the_history_of_a_holder_that_it_moved_with_where_from_and_where_to)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    entry.n_changeovers = 1;
    entry.durable.record.number = 6;
    struct kr_book_changeover *c = &entry.changeover[0];
    *c = (struct kr_book_changeover){.record = entry.durable.record, .n_holders = {2}, .n_moves = 3};
    c->holder[0][1] = (struct kr_book_holder){.cut = 3, .known = KR_MEASURED, .target_um = 400, .position_um = 407};
    c->move[0] = (struct kr_book_move){1, 2, 100, 460, 2000, 5500};
    c->move[1] = (struct kr_book_move){1, 1, 5000, 6000, 5600, 5900};
    c->move[2] = (struct kr_book_move){1, 2, 460, 405, 6000, 7500}; /* a correction */
    assert_commit(book, station);
    kr_book_close(book);
    part = (struct kr_history_part){.rail = 1, .holder = 2};
    ck_assert_int_eq(last_of(KR_HISTORY_MOVED, "moves").n, 1);
    ck_assert_int_eq(last_of(KR_HISTORY_MOVED, "moves").cell.number, 2);
    ck_assert_int_eq(last_of(KR_HISTORY_MOVED, "from_um").cell.number, 100);
    ck_assert_int_eq(last_of(KR_HISTORY_MOVED, "to_um").cell.number, 405);
    ck_assert_int_eq(last_of(KR_HISTORY_MOVED, "cut").cell.number, 3);
    ck_assert_int_eq(last_of(KR_HISTORY_MOVED, "deviation_um").cell.number, 7);
    ck_assert_int_eq(rows_of(KR_HISTORY_MOVED, 2, 2), 0);
}
END_TEST

START_TEST(the_book_says_in_which_unit_of_length_its_station_speaks)
{
    uint16_t station;
    char error[KR_BOOK_TEXT_MAX];
    enum kr_length_unit unit = KR_LENGTH_MM;
    struct kr_book *book = book_with_story(&station);
    entry.length_unit = KR_LENGTH_INCH;
    entry.durable.serial++;
    assert_commit(book, station);
    kr_book_close(book);
    struct kr_history *history = kr_history_open(path, station_name, error, sizeof error);
    ck_assert_ptr_nonnull(history);
    ck_assert(kr_history_length_unit(history, &unit));
    ck_assert_int_eq(unit, KR_LENGTH_INCH);
    kr_history_close(history);
}
END_TEST

static void assert_drawn_from(const struct kr_book_changeover *c)
{
    static struct kr_history_changeover read;
    char error[KR_BOOK_TEXT_MAX] = "";
    struct kr_history *history = kr_history_open(path, NULL, error, sizeof error);
    ck_assert_msg(history != NULL, "%s", error);
    ck_assert_msg(kr_history_changeover(history, "2026-03", &read), "%s", kr_history_error(history));
    ck_assert_int_eq(read.changeover.record.order_number, c->record.order_number);
    ck_assert_int_eq(read.changeover.record.outcome, c->record.outcome);
    ck_assert_str_eq(read.changeover.started_by, c->started_by);
    ck_assert(read.has_web);
    ck_assert_mem_eq(&read.changeover.web, &c->web, sizeof c->web);
    ck_assert_int_eq(read.n_rails, 2);
    ck_assert_mem_eq(read.changeover.role, c->role, sizeof c->role);
    ck_assert_int_eq(read.changeover.n_holders[0], c->n_holders[0]);
    for (int h = 0; h < c->n_holders[0]; h++) {
        const struct kr_book_holder *is = &read.changeover.holder[0][h], *was = &c->holder[0][h];
        ck_assert(is->cut == was->cut && is->known == was->known && is->target_um == was->target_um &&
                  is->position_um == was->position_um && is->state == was->state && is->body_um == was->body_um);
    }
    ck_assert(!kr_history_changeover(history, "2027", &read));
    ck_assert_ptr_nonnull(strstr(kr_history_error(history), "2027"));
    kr_history_close(history);
}

START_TEST(a_changeover_is_kept_with_every_move_and_every_deviation)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    struct kr_book_changeover *c = &entry.changeover[0];
    entry.n_changeovers = 1;
    entry.durable.record.number = 6;
    *c = (struct kr_book_changeover){
        .record = entry.durable.record,
        .started_by = "192.0.2.7",
        .web = {.n_slits = 1, .edge_um = {400, 1500}, .trim_nm = {100000, 0}, .slit = {{500, 1500, 1000000, 998}}},
        .role = {KR_LOWER},
        .n_holders = {2},
        .n_moves = 1};
    c->holder[0][0] = (struct kr_book_holder){.cut = 1, .known = KR_MEASURED, .target_um = 500, .position_um = 480};
    c->holder[0][1] = (struct kr_book_holder){.cut = 0,
                                              .known = KR_MEASURED,
                                              .target_um = 900,
                                              .position_um = 900,
                                              .state = KR_HOLDER_FIXED,
                                              .body_um = 60000};
    c->ended_utc_ms = 1772346600125;
    c->move[0] = (struct kr_book_move){1, 1, 100, 480, 2000, 5500};
    c->spent_ms[KR_SPENT_HELD] = 1500;
    c->references_seen[1] = true;
    c->reference_um[1] = -35;
    c->spent_ms[KR_SPENT_WAITING] = 7;
    assert_commit(book, station);
    assert_drawn_from(c);
    ck_assert_int_eq(asked("SELECT count(*) FROM changeover WHERE number = 6"), 1);
    ck_assert_int_eq(asked("SELECT count(*) FROM changeover_rail WHERE reference_um IS NOT NULL"), 1);
    ck_assert_int_eq(asked("SELECT reference_um FROM changeover_rail WHERE rail = 2 AND reference_um IS NOT NULL"),
                     -35);
    ck_assert_int_eq(asked("SELECT held_ms FROM changeover WHERE number = 6"), 1500);
    ck_assert_int_eq(asked("SELECT waiting_ms FROM changeover WHERE number = 6"), 7);
    ck_assert_int_eq(asked("SELECT dragging_ms FROM changeover WHERE number = 6"), 0);
    ck_assert_int_eq(asked("SELECT deviation_um FROM changeover_holder WHERE holder = 1"), -20);
    ck_assert_int_eq(asked("SELECT deviation_um IS NULL FROM changeover_holder WHERE holder = 2"), 1);
    ck_assert_int_eq(asked("SELECT to_um FROM changeover_move"), 480);
    ck_assert_int_eq(asked("SELECT corrections FROM changeover_rail ORDER BY changeover DESC, rail DESC"), 2);
    kr_book_close(book);
    assert_book_holds(&entry.durable);
}
END_TEST

START_TEST(alarms_are_kept_with_their_time_and_in_words)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    entry.n_alarms = 2;
    entry.alarm[0] = (struct kr_book_alarm){1772346600125, true, {KR_ALARM_FLAG_MISSING, 1, 4, 11, 12}};
    entry.alarm[1] = (struct kr_book_alarm){1772346660000, false, {KR_ALARM_FLAG_MISSING, 1, 4, 11, 12}};
    assert_commit(book, station);
    ck_assert_int_eq(asked("SELECT count(*) FROM alarm WHERE raised = 1 AND at = '2026-03-01T06:30:00.125Z'"), 1);
    ck_assert_int_eq(asked("SELECT count(*) FROM alarm WHERE raised = 0 AND at = '2026-03-01T06:31:00.000Z'"), 1);
    ck_assert_int_eq(asked("SELECT count(*) FROM alarm WHERE sentence LIKE '%holder 4%'"), 2);
    kr_book_close(book);
}
END_TEST

START_TEST(old_verdicts_are_dropped_and_the_newest_stay)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    told("WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 10050) "
         "INSERT INTO verdict(station, at, session, number, kind, code, rail, item, value, limit_value, "
         "order_number, replaced_order, slit_count, sum_nm, time_ms, sentence) "
         "SELECT 1, '', 1, i, 1, 0, 0, 0, 0, 0, 1, 0, 1, 0, 0, '' FROM n");
    entry.durable.verdict.number = 77;
    entry.durable.serial++;
    assert_commit(book, station);
    ck_assert_int_eq(asked("SELECT count(*) FROM verdict"), KR_BOOK_VERDICTS_KEPT);
    ck_assert_int_eq(asked("SELECT number FROM verdict ORDER BY id DESC LIMIT 1"), 77);
    kr_book_close(book);
    assert_book_holds(&entry.durable);
}
END_TEST

/* How many numbers of a list the table explains with other words than the list has, or not at all. */
static int explained_otherwise(const char *set, const char *table)
{
    const struct kr_named_number *row;
    int n = 0, others = 0;
    for (size_t i = 0; (row = kr_named_number(i)) != NULL; i++) {
        char query[200];
        if (strcmp(row->set, set) != 0)
            continue;
        snprintf(query, sizeof query, "SELECT COUNT(*) FROM %s WHERE number = %d AND meaning = '%s'", table,
                 row->number, kr_number_word(set, row->number));
        others += asked(query) != 1;
        n++;
    }
    ck_assert_int_gt(n, 0);
    return others;
}

START_TEST(the_words_of_the_tables_are_those_of_the_maps_lists)
{
    leave_a_story();
    ck_assert_int_eq(explained_otherwise("HOLDER_STATE", "holder_state"), 0);
    ck_assert_int_eq(explained_otherwise("HOLDER_KNOWN", "known"), 0);
    ck_assert_int_eq(explained_otherwise("RECORD_RESULT", "outcome"), 0);
    ck_assert_int_eq(explained_otherwise("FRAME_ORIGIN", "frame_origin"), 0);
}
END_TEST

START_TEST(the_numbers_that_the_tables_explain_are_those_of_the_code)
{
    leave_a_story();
    ck_assert_int_eq(asked("SELECT number FROM known WHERE meaning = 'measured'"), KR_MEASURED);
    ck_assert_int_eq(asked("SELECT number FROM known WHERE meaning = 'placed'"), KR_PLACED);
    ck_assert_int_eq(asked("SELECT number FROM known WHERE meaning = 'remembered'"), KR_REMEMBERED);
    ck_assert_int_eq(asked("SELECT number FROM holder_state WHERE meaning = 'out of service'"), KR_HOLDER_OUT);
    ck_assert_int_eq(asked("SELECT number FROM holder_state WHERE meaning = 'fixed'"), KR_HOLDER_FIXED);
    ck_assert_int_eq(asked("SELECT number FROM holder_state WHERE meaning = 'absent'"), KR_HOLDER_ABSENT);
    ck_assert_int_eq(asked("SELECT number FROM outcome WHERE meaning = 'verified'"), KR_OUTCOME_VERIFIED);
    ck_assert_int_eq(asked("SELECT number FROM outcome WHERE meaning = 'aborted'"), KR_OUTCOME_ABORTED);
}
END_TEST

/* ---- what goes wrong ------------------------------------------------------------------------------------------ */

/* RLIMIT_FSIZE makes every write behind it fail with EFBIG, as a full disk does with ENOSPC. */
static void limit_files(rlim_t bytes)
{
    struct rlimit limit;
    ck_assert_int_eq(getrlimit(RLIMIT_FSIZE, &limit), 0);
    limit.rlim_cur = bytes;
    ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &limit), 0);
}

START_TEST(a_disk_that_is_full_fails_the_commit_and_leaves_the_story_whole)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    static struct kr_durable before;
    before = entry.durable;
    signal(SIGXFSZ, SIG_IGN);
    limit_files(1);
    entry.durable.holder[0][0].position_um = 31415;
    entry.durable.serial++;
    ck_assert(!kr_book_commit(book, station, &entry));
    ck_assert_str_ne(kr_book_error(book), "");
    ck_assert(!kr_book_commit(book, station, &entry));
    limit_files(RLIM_INFINITY);
    ck_assert_int_eq(asked("SELECT position_um FROM holder WHERE rail = 1 AND holder = 1"),
                     before.holder[0][0].position_um);
    assert_commit(book, station); /* the same entry again, once there is room */
    ck_assert_int_eq(asked("SELECT position_um FROM holder WHERE rail = 1 AND holder = 1"), 31415);
    kr_book_close(book);
    assert_book_holds(&entry.durable);
}
END_TEST

START_TEST(somebody_who_holds_the_file_too_long_fails_the_commit)
{
    uint16_t station;
    struct kr_book *book = book_with_story(&station);
    sqlite3 *other;
    ck_assert_int_eq(sqlite3_open(path, &other), SQLITE_OK);
    ck_assert_int_eq(sqlite3_exec(other, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
    entry.durable.serial++;
    ck_assert(!kr_book_commit(book, station, &entry));
    ck_assert_ptr_nonnull(strstr(kr_book_error(book), "locked"));
    ck_assert_int_eq(sqlite3_exec(other, "COMMIT", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(other);
    assert_commit(book, station);
    kr_book_close(book);
}
END_TEST

START_TEST(a_second_gateway_cannot_open_a_book_that_is_in_use)
{
    struct kr_book *book = opened(path);
    pid_t child = fork(); /* a lock doesn't keep out its own process */
    ck_assert_int_ge(child, 0);
    if (child == 0) {
        char error[KR_BOOK_TEXT_MAX] = "";
        bool refused = kr_book_open(path, error, sizeof error) == NULL && strstr(error, "another gateway") != NULL;
        _exit(refused ? 0 : 1);
    }
    int status;
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    ck_assert_int_eq(status, 0);
    kr_book_close(book);
    kr_book_close(opened(path));
}
END_TEST

START_TEST(a_folder_that_is_not_there_is_named)
{
    char error[KR_BOOK_TEXT_MAX] = "";
    ck_assert_ptr_null(kr_book_open("/nonexistent/folder/book.db", error, sizeof error));
    ck_assert_ptr_nonnull(strstr(error, "/nonexistent/folder/book.db"));
}
END_TEST

START_TEST(a_file_of_somebody_else_is_left_alone)
{
    told("CREATE TABLE recipes(name); INSERT INTO recipes VALUES('soup')");
    ck_assert_ptr_nonnull(strstr(refusal(), "not a book"));
    ck_assert_int_eq(asked("SELECT count(*) FROM sqlite_schema"), 1);
}
END_TEST

START_TEST(a_file_that_is_no_database_is_left_alone)
{
    static const char text[] =
        "dear diary, today we slit 9 rolls; and a lot more words, to fill a database's header page";
    int fd = open(path, O_WRONLY | O_CREAT, 0644);
    ck_assert_int_eq(write(fd, text, sizeof text), sizeof text);
    close(fd);
    ck_assert_ptr_nonnull(strstr(refusal(), "not a database"));
    struct stat st;
    ck_assert_int_eq(stat(path, &st), 0);
    ck_assert_int_eq(st.st_size, sizeof text);
}
END_TEST

START_TEST(a_book_of_a_newer_program_is_left_alone)
{
    leave_a_story();
    told("PRAGMA user_version = 99");
    ck_assert_ptr_nonnull(strstr(refusal(), "schema version is 99"));
}
END_TEST

/* A file that a program of schema version 2 wrote, as text. */
static void leave_the_book_of_version_2(void)
{
    static char text[65536];
    FILE *file = fopen("tests/survive/book-version-2.sql", "r");
    ck_assert_ptr_nonnull(file);
    size_t n = fread(text, 1, sizeof text - 1, file);
    fclose(file);
    ck_assert_uint_lt(n, sizeof text - 1);
    text[n] = 0;
    told(text);
    /* The count of commits beside it: without that it would be a copy, of which no place is believed. */
    char name[128];
    snprintf(name, sizeof name, "%s.lock", path);
    file = fopen(name, "w");
    ck_assert_ptr_nonnull(file);
    ck_assert_int_gt(fprintf(file, "%020d %020d\n", 1, 1), 0);
    ck_assert_int_eq(fclose(file), 0);
}

/* And as the first version left it: without a seal in its history. */
static void leave_the_book_of_version_1(void)
{
    static const char *const tables[] = {
        "edit", "edit_request", "verdict", "changeover", "changeover_rail", "changeover_holder", "changeover_move",
        "alarm"};
    leave_the_book_of_version_2();
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        char drop[80];
        snprintf(drop, sizeof drop, "ALTER TABLE %s DROP COLUMN seal", tables[i]);
        told(drop);
    }
    told("PRAGMA user_version = 1");
}

static int64_t newest_version(void)
{
    kr_book_close(opened(path));
    int64_t version = asked("PRAGMA user_version");
    ck_assert_int_eq(unlink(path), 0);
    return version;
}

static void tell_damage(void *arg, const char *table, int64_t rows, int64_t first)
{
    (void)arg;
    ck_abort_msg("table %s: %lld rows are damaged, the first is %lld", table, (long long)rows, (long long)first);
}

static void assert_history_whole(void)
{
    char error[KR_BOOK_TEXT_MAX] = "";
    struct kr_history *history = kr_history_open(path, NULL, error, sizeof error);
    ck_assert_msg(history != NULL, "%s", error);
    ck_assert_msg(kr_history_check(history, tell_damage, NULL), "%s", kr_history_error(history));
    kr_history_close(history);
}

START_TEST(a_book_that_an_older_program_wrote_holds_what_it_held_with_every_seal)
{
    int64_t newest = newest_version();
    leave_the_book_of_version_2();
    fill_story();
    assert_book_holds(&entry.durable);
    ck_assert_int_eq(asked("PRAGMA user_version"), newest);
    ck_assert_int_eq(asked("SELECT count(*) FROM verdict WHERE seal IS NOT NULL"), 1);
    assert_history_whole();
}
END_TEST

START_TEST(the_names_of_sizes_are_stored_for_each_station_and_in_place_of_the_old_ones)
{
    static struct kr_durable durable;
    struct kr_book_sizes read, first = {{"1 in", "", "wide"}}, second = {{"2 in"}};
    uint16_t a, b;
    struct kr_book *book = opened(path);
    ck_assert_int_eq(kr_book_load(book, "north", &a, &durable), KR_LOAD_NEW);
    ck_assert_int_eq(kr_book_load(book, "south", &b, &durable), KR_LOAD_NEW);
    ck_assert(kr_book_sizes(book, a, &read));
    ck_assert_str_eq(read.name[0], "");
    ck_assert(kr_book_set_sizes(book, a, &second));
    ck_assert(kr_book_set_sizes(book, a, &first));
    ck_assert(kr_book_set_sizes(book, b, &second));
    kr_book_close(book);
    book = opened(path);
    ck_assert_int_ne(kr_book_load(book, "north", &a, &durable), KR_LOAD_FAILED);
    ck_assert(kr_book_sizes(book, a, &read));
    ck_assert_mem_eq(&read, &first, sizeof read);
    kr_book_close(book);
}
END_TEST

/* Version 2 knew three sizes of holders. */
START_TEST(a_book_that_an_older_program_wrote_takes_every_size_that_a_station_may_list)
{
    static struct kr_durable loaded;
    uint16_t station;
    leave_the_book_of_version_2();
    fill_story();
    struct kr_book *book = opened(path);
    ck_assert_int_eq(kr_book_load(book, station_name, &station, &loaded), KR_LOAD_FOUND);
    entry.durable.serial++;
    for (int h = 0; h < KR_SIZES_MAX; h++)
        entry.durable.holder[0][h].holder_size = (uint8_t)(h + 1);
    ck_assert(kr_book_commit(book, station, &entry));
    kr_book_close(book);
    assert_book_holds(&entry.durable);
    ck_assert_int_eq(asked("SELECT max(became) FROM edit WHERE what = 'class'"), KR_SIZES_MAX);
}
END_TEST

START_TEST(a_book_without_seals_in_its_history_gets_them_and_keeps_all_else)
{
    static struct kr_durable loaded;
    uint16_t station;
    int64_t newest = newest_version();
    leave_the_book_of_version_1();
    int64_t edits = asked("SELECT count(*) FROM edit");
    fill_story();
    struct kr_book *book = opened(path);
    ck_assert_int_eq(kr_book_load(book, station_name, &station, &loaded), KR_LOAD_FOUND);
    assert_durables_equal(&loaded, &entry.durable);
    entry.durable.serial++;
    entry.durable.holder[0][0].edge_offset_um += 7;
    ck_assert(kr_book_commit(book, station, &entry));
    kr_book_close(book);
    ck_assert_int_eq(asked("PRAGMA user_version"), newest);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE seal IS NULL"), edits);
    ck_assert_int_eq(asked("SELECT count(*) FROM edit WHERE seal IS NOT NULL"), 1);
}
END_TEST

static void flip(off_t at)
{
    int fd = open(path, O_RDWR);
    unsigned char page[512];
    ck_assert_int_eq(pread(fd, page, sizeof page, at), sizeof page);
    for (size_t i = 0; i < sizeof page; i++)
        page[i] = (unsigned char)~page[i];
    ck_assert_int_eq(pwrite(fd, page, sizeof page, at), sizeof page);
    close(fd);
}

START_TEST(a_damaged_file_is_found_at_the_start)
{
    leave_a_story();
    off_t root = 4096 * (asked("SELECT rootpage FROM sqlite_schema WHERE name = 'holder'") - 1);
    flip(root);
    ck_assert_ptr_nonnull(strstr(refusal(), "damaged: "));
}
END_TEST

START_TEST(a_file_that_was_cut_off_is_found_at_the_start)
{
    leave_a_story();
    struct stat st;
    ck_assert_int_eq(stat(path, &st), 0);
    ck_assert_int_eq(truncate(path, st.st_size / 2), 0);
    refusal();
}
END_TEST

START_TEST(a_number_edited_by_hand_out_of_its_range_is_named)
{
    leave_a_story();
    told("UPDATE holder SET position_um = 3000000000 WHERE rail = 1 AND holder = 2");
    struct kr_book *book = opened(path);
    uint16_t station;
    ck_assert_int_eq(kr_book_load(book, station_name, &station, &entry.durable), KR_LOAD_FAILED);
    ck_assert_ptr_nonnull(strstr(kr_book_error(book), "position_um: 3000000000"));
    kr_book_close(book);
}
END_TEST

START_TEST(a_point_of_a_frame_that_does_not_grow_is_named_though_a_person_meant_it)
{
    uint16_t of_story;
    struct kr_book *with_frames = book_with_story(&of_story);
    fill_frames(&entry.durable);
    assert_commit(with_frames, of_story);
    kr_book_close(with_frames);
    told("UPDATE frame_point SET at_um = 900001 WHERE rail = 2 AND before = 0 AND point = 1");
    told("UPDATE station SET seal = NULL");
    struct kr_book *book = opened(path);
    uint16_t station;
    ck_assert_int_eq(kr_book_load(book, station_name, &station, &entry.durable), KR_LOAD_FAILED);
    ck_assert_ptr_nonnull(strstr(kr_book_error(book), "table frame_point, rail 2, point 2"));
    kr_book_close(book);
}
END_TEST

START_TEST(a_row_that_refers_to_nothing_is_found_at_the_start)
{
    leave_a_story();
    /* Foreign keys are off in a plain tool */
    told("UPDATE holder SET known = 9 WHERE rail = 1 AND holder = 2");
    ck_assert_ptr_nonnull(strstr(refusal(), "table holder refers to a missing row of table known"));
}
END_TEST

/* ---- lists of fields ------------------------------------------------------------------------------------------ */

#define COLUMN(field, column, type, sealed) column,
#define SPENT(name, word, text)             #word "_ms",

/* What the tables have beside the columns of their lists, NULL behind the last. */
static const struct {
    const char *table;
    const char *column[64];
} listed[] = {
    {"station", {"station", "name", "serial", "changed_at", "seal", "length_unit", STATION_FIELDS(COLUMN)}},
    {"holder", {"station", "rail", "holder", HOLDER_FIELDS(COLUMN)}},
    {"rail", {"station", "rail", RAIL_FIELDS(COLUMN)}},
    {"orders", {"station", "place", ORDER_FIELDS(COLUMN)}},
    {"verdict", {"id", "station", "at", "sentence", "seal", VERDICT_FIELDS(COLUMN)}},
    {"edit_request", {"id", "station", "at", "origin", "sentence", "seal", EDIT_FIELDS(COLUMN)}},
    {"changeover",
     {"id", "station", "ended_at", "cause_sentence", "seal", RECORD_FIELDS(COLUMN) KR_SPENT(SPENT) "cut_metres"}},
    {"changeover_rail", {"changeover", "rail", "seal", "reference_um", "role", RECORD_RAIL_FIELDS(COLUMN)}},
};

START_TEST(each_list_of_fields_has_the_columns_of_its_table_and_no_others)
{
    char query[160];
    int n = 0;
    kr_book_close(opened(path));
    for (; listed[_i].column[n] != NULL; n++) {
        snprintf(query, sizeof query, "SELECT count(*) FROM pragma_table_info('%s') WHERE name = '%s'",
                 listed[_i].table, listed[_i].column[n]);
        ck_assert_msg(asked(query) == 1, "table %s has no column %s", listed[_i].table, listed[_i].column[n]);
        for (int k = 0; k < n; k++)
            ck_assert_str_ne(listed[_i].column[k], listed[_i].column[n]);
    }
    snprintf(query, sizeof query, "SELECT count(*) FROM pragma_table_info('%s')", listed[_i].table);
    ck_assert_msg(asked(query) == n, "table %s has %d columns, %d are listed", listed[_i].table, (int)asked(query), n);
}
END_TEST

/* A row of the list: the field gets the least, or the most, that its column may hold. */
#define LIMIT_OF(c_type, low, high)      (c_type)(at_most ? (int64_t)(high) : (int64_t)(low))
#define LIMIT(...)                       LIMIT_OF(__VA_ARGS__)
#define SET(field, column, type, sealed) is->field = LIMIT(type);

static void set_station(struct kr_durable *is, bool at_most)
{
    STATION_FIELDS(SET)
}

static void set_rails(struct kr_durable *is, bool at_most)
{
    for (int r = 0; r < KR_RAILS_MAX; r++) {
        RAIL_FIELDS(SET)
        entry.n_holders[r] = KR_HOLDERS_MAX;
    }
}

static void set_holder(struct kr_holder_data *is, bool at_most)
{
    HOLDER_FIELDS(SET)
}

static void set_order(struct kr_order *is, bool at_most)
{
    ORDER_FIELDS(SET)
    is->n_slits = 2;
    is->width_nm[0] = is->width_nm[1] = LIMIT(I64);
}

static void set_verdict(struct kr_verdict *is, bool at_most)
{
    VERDICT_FIELDS(SET)
}

static void set_edit(struct kr_edit *is, bool at_most)
{
    EDIT_FIELDS(SET)
}

static void set_record_rail(struct kr_record_rail *is, bool at_most)
{
    RECORD_RAIL_FIELDS(SET)
}

static void set_record(struct kr_record *is, bool at_most)
{
    RECORD_FIELDS(SET)
    is->number = 7; /* 0 is none */
    for (int r = 0; r < KR_RAILS_MAX; r++)
        set_record_rail(&is->rail[r], at_most);
}

START_TEST(every_field_is_there_again_with_the_least_and_with_the_most_that_it_may_hold)
{
    bool at_most = _i == 1;
    struct kr_durable *d = &entry.durable;
    struct kr_book *book = opened(path);
    uint16_t station;
    ck_assert_int_eq(kr_book_load(book, station_name, &station, d), KR_LOAD_NEW);
    set_station(d, at_most);
    set_rails(d, at_most);
    for (int r = 0; r < KR_RAILS_MAX; r++)
        for (int h = 0; h < KR_HOLDERS_MAX; h++)
            set_holder(&d->holder[r][h], at_most);
    d->staged = 1;
    set_order(&d->staged_order, at_most);
    set_verdict(&d->verdict, at_most);
    set_edit(&d->edit, at_most);
    set_record(&d->record, at_most);
    assert_commit(book, station);
    kr_book_close(book);
    assert_book_holds(d);
}
END_TEST

START_TEST(a_later_field_leaves_the_seal_as_it_is_until_it_is_set)
{
    uint64_t none = SEAL_BEGIN, one = SEAL_BEGIN, other = SEAL_BEGIN;
    seal_add_if_set(&none, "temperature", 0);
    ck_assert_uint_eq(none, SEAL_BEGIN);
    seal_add_if_set(&one, "temperature", 41);
    ck_assert_uint_ne(one, SEAL_BEGIN);
    seal_add_if_set(&other, "humidity", 41);
    ck_assert_uint_ne(one, other);
}
END_TEST

/* ---- a copy in a book's place ------------------------------------------------------------------------------------ */

/* The file without the count of commits beside it, as after a restore. */
static void leave_a_copy(void)
{
    char name[128];
    fill_story();
    struct kr_book *book = opened(path);
    for (int i = 0; i < 2; i++) {
        uint16_t station;
        ck_assert_int_eq(kr_book_load(book, i == 0 ? station_name : "the other one", &station, &entry.durable),
                         KR_LOAD_NEW);
        entry.durable.proof[0] = 77;
        assert_commit(book, station);
    }
    kr_book_close(book);
    snprintf(name, sizeof name, "%s.lock", path);
    ck_assert_int_eq(unlink(name), 0);
}

static bool is_believed(struct kr_book *book, const char *name, uint16_t *station)
{
    ck_assert_int_eq(kr_book_load(book, name, station, &entry.durable), KR_LOAD_FOUND);
    bool known = false;
    for (int h = 0; h < 12; h++)
        known = known || entry.durable.holder[0][h].known != KR_UNKNOWN;
    ck_assert_int_eq(known, entry.durable.proof[0] != 0);
    return known;
}

/* The steps of a start, of which it makes so many: it takes a session, loads a station, stores it, loads the other
 * station; it ends without having stored that one. */
static void begin_a_start(int n_steps)
{
    uint16_t session, station;
    struct kr_book *book = opened(path);
    ck_assert(kr_book_session(book, entry.now_utc_ms, "", &session, &last_run));
    if (n_steps > 0)
        ck_assert(!is_believed(book, station_name, &station));
    if (n_steps > 1)
        assert_commit(book, station);
    if (n_steps > 2)
        ck_assert(!is_believed(book, "the other one", &station));
    if (n_steps > 3)
        kr_book_all_loaded(book);
    ck_assert(kr_book_end_run(book, entry.now_utc_ms, KR_RUN_NOT_STARTED));
    kr_book_close(book);
}

/* A station file that doesn't fit ends a start after its first commits. */
START_TEST(a_start_that_fails_halfway_makes_nothing_of_a_copy_believed)
{
    uint16_t station;
    leave_a_copy();
    begin_a_start(_i);
    struct kr_book *book = opened(path);
    if (_i < 2)
        ck_assert(!is_believed(book, station_name, &station));
    ck_assert(!is_believed(book, "the other one", &station));
    kr_book_close(book);
}
END_TEST

START_TEST(what_a_gateway_has_stored_since_it_began_from_a_copy_is_believed)
{
    uint16_t station[2];
    leave_a_copy();
    struct kr_book *book = opened(path);
    for (int i = 0; i < 2; i++)
        ck_assert(!is_believed(book, i == 0 ? station_name : "the other one", &station[i]));
    kr_book_all_loaded(book);
    for (int i = 0; i < 2; i++) {
        entry.durable.serial++;
        entry.durable.holder[0][0].known = KR_MEASURED;
        entry.durable.proof[0] = 78;
        assert_commit(book, station[i]);
    }
    kr_book_close(book);
    book = opened(path);
    for (int i = 0; i < 2; i++)
        ck_assert(is_believed(book, i == 0 ? station_name : "the other one", &station[i]));
    kr_book_close(book);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("book");
    TCase *tc = suite_case(suite, "survives");
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_test(tc, what_was_committed_is_there_again_after_a_restart);
    tcase_add_test(tc, what_was_committed_is_there_again_after_a_kill);
    tcase_add_test(tc, a_station_that_is_new_keeps_what_the_config_seeds);
    tcase_add_test(tc, holders_added_to_the_config_are_seeded_and_the_others_stay_as_stored);
    tcase_add_test(tc, the_strips_of_test_cuts_are_kept_and_stay_after_a_restart);
    tcase_add_test(tc, an_order_that_was_cancelled_is_gone_with_its_slits);
    tcase_add_test(tc, two_stations_of_one_book_are_kept_apart);
    tcase_add_test(tc, only_what_differs_is_written);
    tcase_add_test(tc, the_audit_keeps_its_rows_and_a_count_takes_its_own_place);
    tcase_add_test(tc, every_start_has_the_next_session_and_zero_is_left_out);
    tcase_add_test(tc, a_new_book_does_not_begin_at_the_session_at_which_the_one_before_it_began);
    tcase_add_test(tc, the_next_run_finds_how_the_last_one_ended);
    tcase_add_test(tc, the_last_sign_of_a_run_that_said_nothing_is_its_last_commit);
    tcase_add_test(tc, a_book_in_memory_draws_sessions_that_are_not_all_the_same);

    tc = suite_case(suite, "a copy");
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_loop_test(tc, a_start_that_fails_halfway_makes_nothing_of_a_copy_believed, 0, 5);
    tcase_add_test(tc, what_a_gateway_has_stored_since_it_began_from_a_copy_is_believed);

    tc = suite_case(suite, "fields");
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_loop_test(tc, each_list_of_fields_has_the_columns_of_its_table_and_no_others, 0,
                        sizeof listed / sizeof listed[0]);
    tcase_add_loop_test(tc, every_field_is_there_again_with_the_least_and_with_the_most_that_it_may_hold, 0, 2);
    tcase_add_test(tc, a_later_field_leaves_the_seal_as_it_is_until_it_is_set);

    tc = suite_case(suite, "history");
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_test(tc, a_regrind_is_kept_with_what_the_offset_was);
    tcase_add_test(tc, a_frame_is_kept_with_what_it_was_and_who_set_it);
    tcase_add_test(tc, an_edge_is_kept_with_who_proved_it_and_a_crash_is_the_plc_s);
    tcase_add_test(tc, a_maintenance_request_is_kept_with_who_asked_and_what_it_changed);
    tcase_add_test(tc, the_history_shows_of_a_maintenance_request_only_what_its_kind_names);
    tcase_add_test(tc, only_a_holder_that_was_moved_counts_as_placed);
    tcase_add_test(tc, the_history_of_a_rail_leaves_out_what_is_of_others);
    tcase_add_test(tc, a_request_is_in_the_history_of_every_holder_that_it_changed_or_means);
    tcase_add_test(tc, an_alarm_is_in_the_history_of_the_holder_that_it_names);
    tcase_add_test(tc, a_changeover_is_in_the_history_of_a_holder_that_it_moved_with_where_from_and_where_to);
    tcase_add_test(tc, the_book_says_in_which_unit_of_length_its_station_speaks);
    tcase_add_test(tc, a_changeover_is_kept_with_every_move_and_every_deviation);
    tcase_add_test(tc, alarms_are_kept_with_their_time_and_in_words);
    tcase_add_test(tc, old_verdicts_are_dropped_and_the_newest_stay);
    tcase_add_test(tc, the_numbers_that_the_tables_explain_are_those_of_the_code);
    tcase_add_test(tc, the_words_of_the_tables_are_those_of_the_maps_lists);

    tc = suite_case(suite, "goes wrong");
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_test(tc, a_disk_that_is_full_fails_the_commit_and_leaves_the_story_whole);
    tcase_add_test(tc, somebody_who_holds_the_file_too_long_fails_the_commit);
    tcase_add_test(tc, a_second_gateway_cannot_open_a_book_that_is_in_use);
    tcase_add_test(tc, a_folder_that_is_not_there_is_named);
    tcase_add_test(tc, a_file_of_somebody_else_is_left_alone);
    tcase_add_test(tc, a_file_that_is_no_database_is_left_alone);
    tcase_add_test(tc, a_book_of_a_newer_program_is_left_alone);
    tcase_add_test(tc, a_book_without_seals_in_its_history_gets_them_and_keeps_all_else);
    tcase_add_test(tc, the_names_of_sizes_are_stored_for_each_station_and_in_place_of_the_old_ones);
    tcase_add_test(tc, a_book_that_an_older_program_wrote_takes_every_size_that_a_station_may_list);
    tcase_add_test(tc, a_book_that_an_older_program_wrote_holds_what_it_held_with_every_seal);
    tcase_add_test(tc, a_damaged_file_is_found_at_the_start);
    tcase_add_test(tc, a_file_that_was_cut_off_is_found_at_the_start);
    tcase_add_test(tc, a_number_edited_by_hand_out_of_its_range_is_named);
    tcase_add_test(tc, a_point_of_a_frame_that_does_not_grow_is_named_though_a_person_meant_it);
    tcase_add_test(tc, a_row_that_refers_to_nothing_is_found_at_the_start);
    return suite;
}
