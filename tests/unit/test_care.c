/* Tests of the care of a book: copies, checks, and the end of old history. */
#include "kniferail/care.h"

#include <fcntl.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "kniferail/history.h"
#include "suite.h"

static char folder[64], path[96], copy[96];
static struct kr_book_run last_run;
static struct kr_book_entry entry; /* half a megabyte: not for the stack */
static struct kr_care_report report;
static struct kr_care_error error;

#define DAY_MS       86400000LL
#define FIRST_DAY_MS 1767225600000LL /* 2026-01-01T00:00:00Z */
#define DAYS         40
#define MANY         300

static void setup(void)
{
    snprintf(folder, sizeof folder, "/tmp/kr_care_XXXXXX");
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/book.db", folder);
    snprintf(copy, sizeof copy, "%s/copy.db", folder);
}

static void teardown(void)
{
    static const char *const name[] = {"book.db",     "book.db-wal", "book.db-shm",  "book.db.lock", "copy.db",
                                       "copy.db-wal", "copy.db-shm", "copy.db.lock", "copy.db.part"};
    char file[128];
    for (size_t i = 0; i < sizeof name / sizeof name[0]; i++) {
        snprintf(file, sizeof file, "%s/%s", folder, name[i]);
        unlink(file); /* most tests leave only some of them */
    }
    ck_assert_int_eq(rmdir(folder), 0);
}

static struct kr_book *opened(const char *at)
{
    char why[KR_BOOK_TEXT_MAX] = "";
    struct kr_book *book = kr_book_open(at, why, sizeof why);
    ck_assert_msg(book != NULL, "%s", why);
    return book;
}

/* One verdict, one alarm and one changeover a day. */
static void fill_day(int day)
{
    struct kr_book_changeover *changeover = &entry.changeover[0];
    entry.now_utc_ms = FIRST_DAY_MS + day * DAY_MS;
    entry.durable.serial++;
    entry.durable.verdict = (struct kr_verdict){.session = 1, .number = (uint16_t)(day + 1), .kind = 1};
    entry.n_alarms = entry.n_changeovers = 1;
    entry.alarm[0] = (struct kr_book_alarm){.at_utc_ms = entry.now_utc_ms, .raised = true, .alarm = {.code = 1}};
    changeover->ended_utc_ms = entry.now_utc_ms;
    changeover->record = (struct kr_record){.number = (uint16_t)(day + 1), .job = 1, .outcome = 1};
    changeover->n_holders[0] = 12;
    for (int h = 0; h < 12; h++)
        changeover->holder[0][h] =
            (struct kr_book_holder){.cut = 1, .known = KR_MEASURED, .target_um = h, .position_um = h};
    changeover->n_moves = 12;
    for (int m = 0; m < 12; m++)
        changeover->move[m] = (struct kr_book_move){.rail = 1, .holder = (uint16_t)(m + 1), .to_um = 1000 * day};
    entry.durable.record = changeover->record;
}

static struct kr_book *leave_days(int days)
{
    struct kr_book *book = opened(path);
    uint16_t station, session;
    memset(&entry, 0, sizeof entry);
    entry.n_holders[0] = 12;
    for (int h = 0; h < 12; h++)
        entry.durable.holder[0][h] = (struct kr_holder_data){.holder_size = 1, .position_um = 1000 * h};
    ck_assert(kr_book_session(book, FIRST_DAY_MS, "", &session, &last_run));
    ck_assert_int_eq(kr_book_load(book, "heron mill", &station, &entry.durable), KR_LOAD_NEW);
    for (int day = 0; day < days; day++) {
        fill_day(day);
        ck_assert_msg(kr_book_commit(book, station, &entry), "%s", kr_book_error(book));
    }
    return book;
}

static int64_t asked(const char *at, const char *query)
{
    sqlite3 *db;
    sqlite3_stmt *stmt;
    ck_assert_int_eq(sqlite3_open_v2(at, &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    ck_assert_msg(sqlite3_prepare_v2(db, query, -1, &stmt, NULL) == SQLITE_OK, "%s", sqlite3_errmsg(db));
    int64_t number = sqlite3_step(stmt) == SQLITE_ROW ? sqlite3_column_int64(stmt, 0) : 0;
    ck_assert_msg(sqlite3_errcode(db) == SQLITE_ROW || sqlite3_errcode(db) == SQLITE_DONE ||
                      sqlite3_errcode(db) == SQLITE_OK,
                  "%s", sqlite3_errmsg(db));
    sqlite3_finalize(stmt);
    sqlite3_close(db);
    return number;
}

static void assert_sound(const char *at)
{
    ck_assert_msg(kr_book_check(at, &report, &error), "%s", error.text);
    ck_assert_msg(report.n_findings == 0, "%s", report.finding[0]);
}

static void backed_up(void)
{
    int64_t bytes;
    ck_assert_msg(kr_book_backup(path, copy, false, &bytes, &error), "%s", error.text);
    ck_assert_int_gt(bytes, 0);
}

static bool is_there(const char *name)
{
    return access(name, F_OK) == 0;
}

/* ---- a copy ----------------------------------------------------------------------------------------------------- */

START_TEST(a_copy_of_a_book_in_use_has_all_that_was_committed_and_can_be_started_from)
{
    static struct kr_durable durable;
    struct kr_book *book = leave_days(3);
    uint16_t station;
    char wal[128];
    backed_up();
    kr_book_close(book);
    snprintf(wal, sizeof wal, "%s-wal", copy);
    ck_assert(!is_there(wal));
    struct kr_book *from = opened(copy);
    memset(&durable, 0, sizeof durable);
    ck_assert_int_eq(kr_book_load(from, "heron mill", &station, &durable), KR_LOAD_FOUND);
    ck_assert_uint_eq(durable.serial, entry.durable.serial);
    ck_assert_uint_eq(durable.verdict.number, 3);
    ck_assert_int_eq(durable.holder[0][11].position_um, 11000);
    kr_book_close(from);
}
END_TEST

/* Knives may have moved since the copy was made, with nobody at them: the count of accesses can't tell. */
START_TEST(what_a_restart_brings_back_without_a_scan_is_believed_of_the_book_itself_and_of_no_copy)
{
    static struct kr_durable durable;
    uint16_t station;
    struct kr_book *book = leave_days(1);
    entry.durable.proof[0] = entry.durable.proof[1] = 4711;
    entry.durable.holder[0][11].known = KR_MEASURED;
    entry.durable.serial++;
    entry.n_alarms = entry.n_changeovers = 0;
    ck_assert_msg(kr_book_commit(book, 0, &entry), "%s", kr_book_error(book));
    backed_up();
    kr_book_close(book);
    const char *const file[] = {path, copy};
    for (int i = 0; i < 2; i++) {
        struct kr_book *from = opened(file[i]);
        memset(&durable, 0, sizeof durable);
        ck_assert_int_eq(kr_book_load(from, "heron mill", &station, &durable), KR_LOAD_FOUND);
        ck_assert_uint_eq(durable.proof[0], i == 0 ? 4711 : 0);
        ck_assert_uint_eq(durable.proof[1], i == 0 ? 4711 : 0);
        ck_assert_int_eq(durable.holder[0][11].known, i == 0 ? KR_MEASURED : KR_UNKNOWN);
        kr_book_close(from);
    }
}
END_TEST

START_TEST(a_copy_is_for_the_books_owner_and_group_alone)
{
    struct stat st;
    mode_t before = umask(0);
    kr_book_close(leave_days(1));
    backed_up();
    umask(before);
    ck_assert_int_eq(stat(copy, &st), 0);
    ck_assert_uint_eq(st.st_mode & 07777, 0640);
}
END_TEST

START_TEST(no_file_is_overwritten_unless_asked_and_the_book_itself_never)
{
    int64_t bytes;
    kr_book_close(leave_days(1));
    backed_up();
    struct stat before, after;
    ck_assert_int_eq(stat(copy, &before), 0);
    ck_assert(!kr_book_backup(path, copy, false, &bytes, &error));
    ck_assert_ptr_nonnull(strstr(error.text, "exists already"));
    ck_assert_int_eq(stat(copy, &after), 0);
    ck_assert_uint_eq(before.st_ino, after.st_ino);
    ck_assert(kr_book_backup(path, copy, true, &bytes, &error));
    ck_assert_int_eq(stat(copy, &after), 0);
    ck_assert_uint_ne(before.st_ino, after.st_ino);
    ck_assert(!kr_book_backup(path, path, true, &bytes, &error));
    ck_assert_ptr_nonnull(strstr(error.text, "is the book itself"));
}
END_TEST

START_TEST(another_book_that_is_in_use_is_not_replaced)
{
    int64_t bytes;
    kr_book_close(leave_days(1));
    struct kr_book *other = opened(copy);
    ck_assert(!kr_book_backup(path, copy, true, &bytes, &error));
    ck_assert_ptr_nonnull(strstr(error.text, "in use"));
    kr_book_close(other);
}
END_TEST

START_TEST(a_book_that_is_not_sound_gives_no_copy)
{
    int64_t bytes;
    char part[128];
    kr_book_close(leave_days(2));
    asked(path, "UPDATE alarm SET value = 7 WHERE id = 1");
    ck_assert(!kr_book_backup(path, copy, false, &bytes, &error));
    ck_assert_ptr_nonnull(strstr(error.text, "not sound"));
    snprintf(part, sizeof part, "%s.part", copy);
    ck_assert(!is_there(copy) && !is_there(part));
}
END_TEST

/* ---- a check ---------------------------------------------------------------------------------------------------- */

START_TEST(a_check_tells_what_the_last_run_left_also_while_a_gateway_writes)
{
    struct kr_book *book = leave_days(3);
    assert_sound(path);
    ck_assert(report.in_use);
    kr_book_close(book);
    assert_sound(path);
    ck_assert(!report.in_use);
    ck_assert_uint_eq(report.n_stations, 1);
    ck_assert_str_eq(report.station[0].name, "heron mill");
    ck_assert_str_eq(report.station[0].changed_at, "2026-01-03T00:00:00.000Z");
    ck_assert_str_eq(report.session_at, "2026-01-01T00:00:00.000Z");
    for (int t = 0; t < KR_CARE_TABLES; t++)
        if (strcmp(report.table[t].name, "alarm") == 0)
            ck_assert(report.table[t].rows == 3 && strncmp(report.table[t].oldest, "2026-01-01", 10) == 0);
}
END_TEST

/* Each of what a check looks at is spoilt in a way that the others do not show. */
START_TEST(a_check_finds_what_is_not_as_it_was_stored)
{
    static const struct {
        const char *spoil, *finding;
    } cases[] = {{"UPDATE alarm SET value = 7 WHERE id = 1", "table alarm: rows that do not agree with their seals: 1"},
                 {"UPDATE holder SET position_um = 7 WHERE holder = 3",
                  "station heron mill: the stored data does not agree with its seal"},
                 {"DELETE FROM changeover WHERE id = 1", "refers to a missing row"},
                 {"UPDATE confirmed SET commits = commits - 1", "confirmed commits"}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        kr_book_close(leave_days(2));
        asked(path, cases[i].spoil);
        ck_assert_msg(kr_book_check(path, &report, &error), "%s", error.text);
        ck_assert_msg(report.n_findings > 0 && strstr(report.finding[0], cases[i].finding), "%s: %s", cases[i].spoil,
                      report.n_findings > 0 ? report.finding[0] : "nothing is found");
        teardown();
        setup();
    }
}
END_TEST

START_TEST(what_is_no_book_is_refused_by_name)
{
    ck_assert(!kr_book_check(path, &report, &error));
    ck_assert_ptr_nonnull(strstr(error.text, "book.db: No such file"));
    ck_assert(!is_there(path));
    FILE *file = fopen(path, "w");
    ck_assert_ptr_nonnull(file);
    fputs("a letter", file);
    fclose(file);
    ck_assert(!kr_book_check(path, &report, &error));
}
END_TEST

/* ---- a start ---------------------------------------------------------------------------------------------------- */

static off_t root_of(const char *table)
{
    char query[96];
    snprintf(query, sizeof query, "SELECT rootpage FROM sqlite_schema WHERE name = '%s'", table);
    return 4096 * (off_t)(asked(path, query) - 1);
}

/* A start reads what stations start from; what is wrong with the history the check of the whole finds. */
START_TEST(a_start_does_not_read_the_history_and_a_check_of_its_pages_does)
{
    atomic_bool stop = false;
    kr_book_close(leave_days(DAYS));
    off_t root = root_of("changeover_move");
    int fd = open(path, O_RDWR);
    unsigned char page[512];
    memset(page, 0xA5, sizeof page);
    ck_assert_int_eq(pwrite(fd, page, sizeof page, root), sizeof page);
    close(fd);
    kr_book_close(opened(path));
    ck_assert(!kr_book_check_pages(path, &stop, &error));
    ck_assert_ptr_nonnull(strstr(error.text, "damaged"));
    atomic_store(&stop, true);
    ck_assert(kr_book_check_pages(path, &stop, &error));
}
END_TEST

START_TEST(two_tables_on_one_page_are_found_at_the_start)
{
    char why[KR_BOOK_TEXT_MAX] = "";
    kr_book_close(leave_days(1));
    asked(path, "SELECT 1");
    sqlite3 *db;
    ck_assert_int_eq(sqlite3_open(path, &db), SQLITE_OK);
    ck_assert_int_eq(
        sqlite3_exec(db,
                     "PRAGMA writable_schema = ON; UPDATE sqlite_schema SET rootpage = (SELECT rootpage FROM "
                     "sqlite_schema WHERE name = 'edit') WHERE name = 'alarm'",
                     NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(db);
    ck_assert_ptr_null(kr_book_open(path, why, sizeof why));
    ck_assert_ptr_nonnull(strstr(why, "damaged: 1 tables begin on a page of another one"));
}
END_TEST

/* ---- pruning ---------------------------------------------------------------------------------------------------- */

static struct kr_care_pruned pruned;

static int64_t gone_from(const char *table)
{
    for (int t = 0; t < KR_CARE_TABLES; t++)
        if (strcmp(kr_care_table_name(t), table) == 0)
            return pruned.rows[t];
    ck_abort_msg("no table %s", table);
}

START_TEST(what_would_go_is_told_and_stays_until_somebody_says_go_ahead)
{
    struct kr_care_limits limits = {.before = "2026-01-11"};
    kr_book_close(leave_days(DAYS));
    for (int go_ahead = 0; go_ahead <= 1; go_ahead++) {
        ck_assert_msg(kr_book_prune(path, &limits, go_ahead, &pruned, &error), "%s", error.text);
        ck_assert_int_eq(gone_from("verdict"), 10);
        ck_assert_int_eq(gone_from("alarm"), 10);
        ck_assert_int_eq(gone_from("changeover"), 10);
        ck_assert_int_eq(gone_from("changeover_move"), 120);
        ck_assert_int_eq(gone_from("changeover_holder"), 120);
        ck_assert_int_eq(pruned.sessions, 0); /* the only one */
        ck_assert_int_eq(asked(path, "SELECT count(*) FROM changeover"), go_ahead ? DAYS - 10 : DAYS);
        ck_assert_int_eq(asked(path, "SELECT count(*) FROM changeover_move"), go_ahead ? 12 * (DAYS - 10) : 12 * DAYS);
    }
    ck_assert_int_eq(asked(path, "SELECT count(*) FROM alarm WHERE at < '2026-01-11'"), 0);
    assert_sound(path);
}
END_TEST

/* Also where all of the history is older than the limit. */
START_TEST(a_station_starts_after_pruning_as_it_would_have_started_before)
{
    static struct kr_durable durable;
    struct kr_care_limits limits = {.before = "2027"};
    uint16_t station;
    kr_book_close(leave_days(5));
    ck_assert_msg(kr_book_prune(path, &limits, true, &pruned, &error), "%s", error.text);
    ck_assert_int_eq(gone_from("verdict"), 4);
    ck_assert_int_eq(gone_from("changeover"), 4);
    ck_assert_int_eq(gone_from("alarm"), 5);
    struct kr_book *book = opened(path);
    memset(&durable, 0, sizeof durable);
    ck_assert_int_eq(kr_book_load(book, "heron mill", &station, &durable), KR_LOAD_FOUND);
    ck_assert_uint_eq(durable.verdict.number, 5);
    ck_assert_uint_eq(durable.record.number, 5);
    kr_book_close(book);
    assert_sound(path);
}
END_TEST

START_TEST(the_oldest_days_go_until_the_book_is_no_larger_than_wanted)
{
    struct stat before, after;
    kr_book_close(leave_days(MANY));
    ck_assert_int_eq(stat(path, &before), 0);
    struct kr_care_limits limits = {.most_bytes = before.st_size * 3 / 4};
    ck_assert_msg(kr_book_prune(path, &limits, true, &pruned, &error), "%s", error.text);
    ck_assert(!pruned.too_large && !pruned.not_shrunk);
    ck_assert_int_eq(stat(path, &after), 0);
    ck_assert_int_le(after.st_size, limits.most_bytes);
    int64_t left = asked(path, "SELECT count(*) FROM changeover");
    ck_assert(left > 5 && left < MANY);
    ck_assert_int_eq(asked(path, "SELECT max(id) FROM changeover"), MANY);
    ck_assert_int_eq(asked(path, "SELECT count(*) FROM alarm"), left); /* whole days */
    assert_sound(path);
}
END_TEST

START_TEST(a_size_that_cannot_be_reached_is_said)
{
    struct kr_care_limits limits = {.most_bytes = 4096};
    kr_book_close(leave_days(3));
    ck_assert_msg(kr_book_prune(path, &limits, false, &pruned, &error), "%s", error.text);
    ck_assert(pruned.too_large);
    ck_assert_int_eq(asked(path, "SELECT count(*) FROM changeover"), 3);
}
END_TEST

START_TEST(nothing_is_pruned_while_a_gateway_uses_the_book_or_if_it_is_not_sound)
{
    struct kr_care_limits limits = {.before = "2027"};
    struct kr_book *book = leave_days(3);
    ck_assert(!kr_book_prune(path, &limits, true, &pruned, &error));
    ck_assert_ptr_nonnull(strstr(error.text, "a gateway uses this book"));
    kr_book_close(book);
    asked(path, "UPDATE alarm SET value = 7 WHERE id = 1");
    ck_assert(!kr_book_prune(path, &limits, true, &pruned, &error));
    ck_assert_ptr_nonnull(strstr(error.text, "not sound"));
    ck_assert_int_eq(asked(path, "SELECT count(*) FROM alarm"), 3);
}
END_TEST

/* ---- limits of a gateway's history ------------------------------------------------------------------------------ */

static int64_t rows_gone(void)
{
    int64_t rows = pruned.sessions;
    for (int t = 0; t < KR_CARE_TABLES; t++)
        rows += pruned.rows[t];
    return rows;
}

/* Until there is nothing more to do. Returns the transactions that took something, each of which took few rows. */
static int prune_by_few(struct kr_book *book, const struct kr_care_limits *limits)
{
    bool more = true;
    int n = -1;
    memset(&pruned, 0, sizeof pruned);
    for (int64_t before = 0; more; before = rows_gone(), n++) {
        ck_assert_msg(kr_book_prune_few(book, limits, &pruned, &more, &error), "%s", error.text);
        ck_assert_int_le(rows_gone() - before, 4 * (1 + 1 + 12 + 12) + 4 * 200);
    }
    return n;
}

START_TEST(a_gateways_limit_by_age_takes_the_same_rows_as_a_person_a_few_at_a_time)
{
    static struct kr_care_pruned at_once;
    struct kr_care_limits limits = {.before = "2026-10"};
    kr_book_close(leave_days(MANY));
    ck_assert_msg(kr_book_prune(path, &limits, false, &at_once, &error), "%s", error.text);
    struct kr_book *book = opened(path);
    ck_assert_int_gt(prune_by_few(book, &limits), 50);
    kr_book_close(book);
    for (int t = 0; t < KR_CARE_TABLES; t++)
        ck_assert_msg(pruned.rows[t] == at_once.rows[t], "%s", kr_care_table_name(t));
    ck_assert_int_eq(gone_from("changeover"), 273);
    ck_assert_int_eq(asked(path, "SELECT count(*) FROM changeover_move WHERE changeover < 274"), 0);
    ck_assert_int_eq(asked(path, "SELECT count(*) FROM alarm WHERE at < '2026-10'"), 0);
    assert_sound(path);
}
END_TEST

START_TEST(a_gateways_limit_by_size_takes_the_oldest_until_the_book_holds_no_more)
{
    struct kr_care_limits limits = {.most_bytes = 0};
    struct kr_book *book = leave_days(MANY);
    int64_t used = 4096 * (asked(path, "PRAGMA page_count") - asked(path, "PRAGMA freelist_count"));
    limits.most_bytes = used * 3 / 4;
    ck_assert_int_gt(prune_by_few(book, &limits), 1);
    ck_assert(!pruned.too_large);
    used = 4096 * (asked(path, "PRAGMA page_count") - asked(path, "PRAGMA freelist_count"));
    ck_assert_int_le(used, limits.most_bytes);
    ck_assert_int_gt(used, limits.most_bytes * 9 / 10);
    int64_t left = asked(path, "SELECT count(*) FROM changeover");
    ck_assert_int_eq(asked(path, "SELECT min(id) FROM changeover"), MANY - left + 1);
    kr_book_close(book);
    assert_sound(path);
}
END_TEST

START_TEST(within_its_limits_a_history_is_not_written_and_a_limit_out_of_reach_is_said)
{
    struct kr_care_limits limits = {.before = "2026-01-01", .most_bytes = 100000000};
    struct kr_book *book = leave_days(5);
    int64_t commits = asked(path, "SELECT commits FROM confirmed");
    ck_assert_int_eq(prune_by_few(book, &limits), 0);
    ck_assert_int_eq(asked(path, "SELECT commits FROM confirmed"), commits);
    limits = (struct kr_care_limits){.most_bytes = 4096};
    ck_assert_int_gt(prune_by_few(book, &limits), 0);
    ck_assert(pruned.too_large);
    ck_assert_int_eq(asked(path, "SELECT count(*) FROM changeover"), 1); /* a start needs it */
    kr_book_close(book);
    assert_sound(path);
}
END_TEST

/* Rows that a clock has stamped with a time to come stand between others. */
START_TEST(rows_of_a_clock_that_stood_wrong_keep_no_others)
{
    struct kr_care_limits limits = {.before = "2026-02"};
    kr_book_close(leave_days(DAYS));
    asked(path, "UPDATE alarm SET at = '2099-01-01T00:00:00.000Z' WHERE id IN (1, 5)");
    struct kr_book *book = opened(path);
    prune_by_few(book, &limits);
    ck_assert_int_eq(gone_from("alarm"), 31 - 2);
    kr_book_close(book);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("care");
    TCase *all = tcase_create("a book looked after");
    tcase_add_checked_fixture(all, setup, teardown);
    tcase_set_timeout(all, 60);
    tcase_add_test(all, a_copy_of_a_book_in_use_has_all_that_was_committed_and_can_be_started_from);
    tcase_add_test(all, what_a_restart_brings_back_without_a_scan_is_believed_of_the_book_itself_and_of_no_copy);
    tcase_add_test(all, a_copy_is_for_the_books_owner_and_group_alone);
    tcase_add_test(all, no_file_is_overwritten_unless_asked_and_the_book_itself_never);
    tcase_add_test(all, another_book_that_is_in_use_is_not_replaced);
    tcase_add_test(all, a_book_that_is_not_sound_gives_no_copy);
    tcase_add_test(all, a_check_tells_what_the_last_run_left_also_while_a_gateway_writes);
    tcase_add_test(all, a_check_finds_what_is_not_as_it_was_stored);
    tcase_add_test(all, what_is_no_book_is_refused_by_name);
    tcase_add_test(all, a_start_does_not_read_the_history_and_a_check_of_its_pages_does);
    tcase_add_test(all, two_tables_on_one_page_are_found_at_the_start);
    tcase_add_test(all, what_would_go_is_told_and_stays_until_somebody_says_go_ahead);
    tcase_add_test(all, a_station_starts_after_pruning_as_it_would_have_started_before);
    tcase_add_test(all, the_oldest_days_go_until_the_book_is_no_larger_than_wanted);
    tcase_add_test(all, a_size_that_cannot_be_reached_is_said);
    tcase_add_test(all, nothing_is_pruned_while_a_gateway_uses_the_book_or_if_it_is_not_sound);
    tcase_add_test(all, a_gateways_limit_by_age_takes_the_same_rows_as_a_person_a_few_at_a_time);
    tcase_add_test(all, a_gateways_limit_by_size_takes_the_oldest_until_the_book_holds_no_more);
    tcase_add_test(all, within_its_limits_a_history_is_not_written_and_a_limit_out_of_reach_is_said);
    tcase_add_test(all, rows_of_a_clock_that_stood_wrong_keep_no_others);
    suite_add_tcase(suite, all);
    return suite;
}
