/* Damaged files: whatever was flipped, cut off, lost or exchanged, the book either holds exactly what was confirmed or
 * says in one line that it does not, and what to do. */
#define _GNU_SOURCE /* unshare: a file system of the test's own */
#include <errno.h>
#include <fcntl.h>
#include <sched.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mount.h>
#include <sys/wait.h>
#include <unistd.h>

#include "cut_vfs.h"
#include "kniferail/history.h"
#include "sample_commits.h"
#include "suite.h"

#define PAGE 4096

static char folder[64], path[96], lock_path[128];
static struct kr_book_run last_run;

static void make_folder(void)
{
    snprintf(folder, sizeof folder, "/tmp/kr_damage_XXXXXX");
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/book.db", folder);
    snprintf(lock_path, sizeof lock_path, "%s.lock", path);
}

static void setup(void)
{
    make_folder();
    cut_install();
    cut_format();
}

static void setup_real(void)
{
    make_folder();
}

static void teardown(void)
{
    static const char *const suffix[] = {"", "-wal", "-shm", ".lock"};
    char name[128];
    for (size_t i = 0; i < sizeof suffix / sizeof suffix[0]; i++) {
        snprintf(name, sizeof name, "%s%s", path, suffix[i]);
        unlink(name); /* most tests leave only some of them */
    }
    ck_assert_int_eq(rmdir(folder), 0);
}

/* ---- a book with some commits, and what becomes of it ---------------------------------------------------------- */

static char told[KR_BOOK_TEXT_MAX]; /* why the last one was refused */

static bool load_stations(struct kr_book *book, uint16_t index[SAMPLE_STATIONS],
                          struct kr_durable loaded[SAMPLE_STATIONS])
{
    memset(loaded, 0, SAMPLE_STATIONS * sizeof *loaded);
    for (int s = 0; s < SAMPLE_STATIONS; s++)
        if (kr_book_load(book, sample_station(s), &index[s], &loaded[s]) == KR_LOAD_FAILED)
            return false;
    kr_book_all_loaded(book);
    return true;
}

static struct kr_book *book_with_commits(void)
{
    static struct kr_durable loaded[SAMPLE_STATIONS];
    uint16_t index[SAMPLE_STATIONS], session;
    struct kr_book *book = kr_book_open(path, told, sizeof told);
    ck_assert_msg(book != NULL, "%s", told);
    ck_assert(kr_book_session(book, 0, "", &session, &last_run));
    ck_assert(load_stations(book, index, loaded));
    for (int i = 1; i <= SAMPLE_COMMITS; i++)
        ck_assert_msg(kr_book_commit(book, index[sample_whose(i)], sample_entry(i)), "%s", kr_book_error(book));
    return book;
}

/* What was stored; of a copy, which no count of commits stands beside, no place is believed and nothing is proven. */
static const struct kr_durable *stored(int s, bool is_copy)
{
    static struct kr_durable durable;
    durable = *sample_durable(s, SAMPLE_COMMITS);
    for (int r = 0; r < KR_RAILS_MAX && is_copy; r++) {
        durable.proof[r] = 0;
        for (int h = 0; h < KR_HOLDERS_MAX; h++)
            durable.holder[r][h].known = durable.holder[r][h].was_known = KR_UNKNOWN;
    }
    return &durable;
}

/* True: it opened and holds all that was confirmed. False: it was refused, and told says why. */
static bool opens_as(const char *what, bool is_copy)
{
    static struct kr_durable loaded[SAMPLE_STATIONS];
    uint16_t index[SAMPLE_STATIONS];
    told[0] = 0;
    struct kr_book *book = kr_book_open(path, told, sizeof told);
    bool ok = book != NULL && load_stations(book, index, loaded);
    if (book != NULL && !ok)
        snprintf(told, sizeof told, "%s", kr_book_error(book));
    for (int s = 0; ok && s < SAMPLE_STATIONS; s++)
        ck_assert_msg(sample_same(&loaded[s], stored(s, is_copy)), "%s: opens, and station %d is not what was stored",
                      what, s + 1);
    kr_book_close(book);
    ck_assert_msg(ok || (told[0] != 0 && strchr(told, '\n') == NULL && strlen(told) < sizeof told - 1),
                  "%s: refused with '%s'", what, told);
    return ok;
}

static bool survives(const char *what)
{
    return opens_as(what, false);
}

struct tally {
    long survived, refused;
};

static void count(struct tally *tally, const char *what)
{
    static char shown[KR_BOOK_TEXT_MAX];
    bool ok = survives(what);
    tally->survived += ok;
    tally->refused += !ok;
    if (!ok && getenv("KR_TELL") != NULL && strcmp(shown, told) != 0) {
        printf("%s: %s\n", what, told);
        snprintf(shown, sizeof shown, "%s", told);
    }
}

static void print(const char *what, const struct tally *tally)
{
    printf("%s: %ld tried, %ld without effect, %ld refused\n", what, tally->survived + tally->refused, tally->survived,
           tally->refused);
}

static void leave_closed(void)
{
    kr_book_close(book_with_commits());
    cut_save();
}

/* All is in the -wal file, as after a kill or a power cut. */
static void leave_cut_off(void)
{
    struct kr_book *book = book_with_commits();
    cut_power_up(CUT_KEEP_SYNCED, 0);
    cut_save();
    kr_book_close(book);
    cut_restore();
    ck_assert_uint_gt(cut_size("-wal"), 32 + 24 + PAGE);
}

/* ---- what its history says ------------------------------------------------------------------------------------ */

static const char *const history_tables[] = {"edit",
                                             "edit_request",
                                             "verdict",
                                             "changeover",
                                             "changeover_rail",
                                             "changeover_holder",
                                             "changeover_move",
                                             "changeover_web",
                                             "changeover_slit",
                                             "alarm",
                                             "test_cut"};
#define N_HISTORY_TABLES (sizeof history_tables / sizeof history_tables[0])

static void note_damage(void *arg, const char *table, int64_t rows, int64_t first)
{
    char *names = arg;
    ck_assert_int_gt(rows, 0);
    ck_assert_int_gt(first, 0);
    snprintf(names + strlen(names), 200 - strlen(names), "%s ", table);
}

/* The tables in which something is not what was stored, by name; and whether the history could be read at all. */
static bool history_damage(char names[200])
{
    struct kr_history *history = kr_history_open(path, sample_station(0), told, sizeof told);
    names[0] = 0;
    bool ok = history != NULL && kr_history_check(history, note_damage, names);
    kr_history_close(history);
    return ok;
}

/* The seal is no part of what a row says. */
static size_t add_row(char *text, size_t used, size_t size, sqlite3_stmt *stmt)
{
    for (int i = 0; i < sqlite3_column_count(stmt) && used < size - 1; i++)
        if (strcmp(sqlite3_column_name(stmt, i), "seal") != 0)
            used += (size_t)snprintf(text + used, size - used, "%s|", (const char *)sqlite3_column_text(stmt, i));
    return used;
}

/* All that the tables hold, as text. */
static bool read_history(char *text, size_t size)
{
    sqlite3 *db;
    size_t used = 0;
    bool ok = sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL) == SQLITE_OK;
    for (size_t t = 0; ok && t < N_HISTORY_TABLES; t++) {
        char query[64];
        sqlite3_stmt *stmt = NULL;
        snprintf(query, sizeof query, "SELECT * FROM %s", history_tables[t]);
        ok = sqlite3_prepare_v2(db, query, -1, &stmt, NULL) == SQLITE_OK;
        while (ok && sqlite3_step(stmt) == SQLITE_ROW)
            used = add_row(text, used, size, stmt);
        sqlite3_finalize(stmt);
    }
    sqlite3_close(db);
    ck_assert_uint_lt(used, size - 1);
    return ok;
}

static char history_before[1 << 19], history_now[1 << 19];

/* A row's own number, id, is no fact of it and has no seal: its change shows as another order of the same rows. */
static void expect_history_same_or_told(const char *what)
{
    char names[200];
    if (!history_damage(names) || names[0] != 0)
        return;
    ck_assert_msg(read_history(history_now, sizeof history_now), "%s: the history can't be read", what);
    ck_assert_msg(strcmp(history_now, history_before) == 0, "%s: the history is another, and nothing tells", what);
}

/* ---- damage --------------------------------------------------------------------------------------------------- */

static void flip_all(const char *end, size_t first, size_t last, size_t stride, struct tally *tally)
{
    for (size_t at = first; at < last; at += stride) {
        char what[64];
        snprintf(what, sizeof what, "%s, byte %zu", end, at);
        cut_restore();
        cut_flip(end, at, (unsigned char)(1u << at % 8));
        long survived = tally->survived;
        count(tally, what);
        if (tally->survived > survived)
            expect_history_same_or_told(what);
    }
}

/* Of every page its header and first cells' pointers byte by byte, then every 41st byte. */
START_TEST(a_flipped_bit_anywhere_in_the_file_is_harmless_or_told)
{
    struct tally tally = {0, 0};
    leave_closed();
    ck_assert(read_history(history_before, sizeof history_before));
    size_t size = cut_size("book.db");
    for (size_t page = 0; page < size; page += PAGE) {
        size_t close = page == 0 ? 128 : 40;
        flip_all("book.db", page, page + close, 1, &tally);
        flip_all("book.db", page + close, page + PAGE, 41, &tally);
    }
    print("flipped bits", &tally);
    ck_assert_int_gt(tally.refused, 0);
    cut_restore();
    ck_assert(survives("undamaged"));
}
END_TEST

START_TEST(a_flipped_bit_in_the_wal_does_not_take_confirmed_commits_back_in_silence)
{
    struct tally tally = {0, 0};
    leave_cut_off();
    ck_assert(survives("undamaged") && read_history(history_before, sizeof history_before));
    size_t size = cut_size("-wal");
    flip_all("-wal", 0, 32, 1, &tally);
    for (size_t frame = 32; frame < size; frame += 24 + PAGE) {
        flip_all("-wal", frame, frame + 24, 3, &tally);
        flip_all("-wal", frame + 24, frame + 24 + PAGE, 511, &tally);
    }
    print("flipped bits in the WAL", &tally);
    ck_assert_int_gt(tally.refused, 0);
    cut_restore();
    ck_assert(survives("undamaged"));
}
END_TEST

static void shorten_all(const char *end, size_t stride, struct tally *tally)
{
    size_t size = cut_size(end);
    for (size_t to = 0; to < size; to += to % 2 ? stride - 1 : 1) { /* on a boundary, and one byte behind it */
        char what[64];
        snprintf(what, sizeof what, "%s cut off at %zu of %zu", end, to, size);
        cut_restore();
        cut_shorten(end, to);
        count(tally, what);
    }
}

START_TEST(a_file_cut_off_anywhere_is_told)
{
    struct tally tally = {0, 0};
    leave_closed();
    shorten_all("book.db", 512, &tally);
    print("cut off", &tally);
    ck_assert_int_eq(tally.survived, 0);
}
END_TEST

START_TEST(a_wal_cut_off_anywhere_or_gone_is_told)
{
    struct tally tally = {0, 0};
    leave_cut_off();
    shorten_all("-wal", 2048, &tally);
    cut_restore();
    cut_remove("-wal");
    count(&tally, "-wal removed");
    ck_assert_ptr_nonnull(strstr(told, "-wal file is missing"));
    print("WAL cut off", &tally);
    ck_assert_int_eq(tally.survived, 0);
}
END_TEST

/* What a drive does that writes to the wrong place, or not at all: whole pages are zero, or another page's. */
START_TEST(a_page_that_is_zero_or_another_page_is_harmless_or_told)
{
    static const unsigned char nothing[PAGE];
    static unsigned char page[PAGE];
    struct tally tally = {0, 0};
    leave_closed();
    size_t n = cut_size("book.db") / PAGE;
    for (size_t to = 0; to < n; to++) {
        for (size_t from = 0; from <= n; from += 3) {
            char what[64];
            snprintf(what, sizeof what, "page %zu in place of page %zu", from + 1, to + 1);
            cut_restore();
            if (from < n)
                memcpy(page, cut_bytes("book.db") + from * PAGE, PAGE);
            cut_put("book.db", to * PAGE, from < n ? page : nothing, PAGE);
            count(&tally, what);
        }
    }
    print("pages exchanged", &tally);
}
END_TEST

START_TEST(a_value_changed_in_place_is_told_and_what_to_do)
{
    sqlite3 *db;
    leave_closed();
    ck_assert_int_eq(sqlite3_open(path, &db), SQLITE_OK);
    ck_assert_int_eq(
        sqlite3_exec(db, "UPDATE holder SET edge_offset_um = edge_offset_um + 1 WHERE holder = 2", 0, 0, 0), SQLITE_OK);
    ck_assert(!survives("an edge offset"));
    ck_assert_ptr_nonnull(strstr(told, "damaged or changed by hand"));
    ck_assert_int_eq(sqlite3_exec(db, "UPDATE station SET seal = NULL", 0, 0, 0), SQLITE_OK);
    sqlite3_close(db);
    static struct kr_durable loaded[SAMPLE_STATIONS];
    uint16_t index[SAMPLE_STATIONS];
    struct kr_book *book = kr_book_open(path, told, sizeof told);
    ck_assert_msg(book != NULL, "%s", told);
    ck_assert(load_stations(book, index, loaded)); /* whoever takes the seal off means it */
    kr_book_close(book);
}
END_TEST

static int64_t number_of(sqlite3 *db, const char *query)
{
    sqlite3_stmt *stmt;
    ck_assert_msg(sqlite3_prepare_v2(db, query, -1, &stmt, NULL) == SQLITE_OK, "%s: %s", query, sqlite3_errmsg(db));
    ck_assert_int_eq(sqlite3_step(stmt), SQLITE_ROW);
    int64_t number = sqlite3_column_int64(stmt, 0);
    sqlite3_finalize(stmt);
    return number;
}

/* One value of every row, so that whichever is looked at has it. */
static void change_column(const char *table, const char *column)
{
    char change[500], names[200], expected[64];
    sqlite3 *db;
    cut_restore();
    ck_assert_int_eq(sqlite3_open(path, &db), SQLITE_OK);
    snprintf(change, sizeof change,
             "PRAGMA ignore_check_constraints = ON; UPDATE %s SET %s = CASE typeof(%s) "
             "WHEN 'text' THEN %s || ' ' WHEN 'null' THEN 0 ELSE %s + 1000 END",
             table, column, column, column, column);
    ck_assert_msg(sqlite3_exec(db, change, NULL, NULL, NULL) == SQLITE_OK, "%s: %s", change, sqlite3_errmsg(db));
    sqlite3_close(db);
    snprintf(expected, sizeof expected, "%s ", table);
    ck_assert(history_damage(names));
    ck_assert_msg(strcmp(names, expected) == 0, "%s.%s was changed, told is '%s'", table, column, names);
}

START_TEST(a_changed_value_in_any_column_of_the_history_is_told)
{
    char query[200], names[200];
    const char *table = history_tables[_i];
    sqlite3 *db;
    leave_closed();
    ck_assert(history_damage(names));
    ck_assert_str_eq(names, "");
    ck_assert_int_eq(sqlite3_open(path, &db), SQLITE_OK);
    snprintf(query, sizeof query, "SELECT count(*) FROM %s", table);
    ck_assert_int_gt(number_of(db, query), 0);
    snprintf(query, sizeof query, "SELECT count(*) FROM pragma_table_info('%s')", table);
    int64_t n = number_of(db, query);
    for (int64_t i = 0; i < n; i++) {
        sqlite3_stmt *stmt;
        char column[64];
        snprintf(query, sizeof query, "SELECT name FROM pragma_table_info('%s') WHERE cid = %d", table, (int)i);
        ck_assert_int_eq(sqlite3_prepare_v2(db, query, -1, &stmt, NULL), SQLITE_OK);
        ck_assert_int_eq(sqlite3_step(stmt), SQLITE_ROW);
        snprintf(column, sizeof column, "%s", (const char *)sqlite3_column_text(stmt, 0));
        sqlite3_finalize(stmt);
        if (strcmp(column, "id") != 0)
            change_column(table, column);
    }
    sqlite3_close(db);
}
END_TEST

/* One bit in the table's description, and its ids are gone: the rows of a changeover would find it no more. */
START_TEST(rows_that_have_lost_their_ids_are_told)
{
    char names[200];
    sqlite3 *db;
    leave_closed();
    ck_assert_int_eq(sqlite3_open(path, &db), SQLITE_OK);
    ck_assert_int_eq(sqlite3_exec(db,
                                  "PRAGMA writable_schema = ON; UPDATE sqlite_schema "
                                  "SET sql = replace(sql, 'PRIMARY', 'QRIMARY') WHERE name = 'alarm'",
                                  NULL, NULL, NULL),
                     SQLITE_OK);
    sqlite3_close(db);
    ck_assert_msg(history_damage(names), "%s", told);
    ck_assert_str_eq(names, "alarm ");
}
END_TEST

START_TEST(an_older_copy_is_told_until_the_lock_file_is_taken_away)
{
    struct kr_book *book = book_with_commits();
    kr_book_close(book);
    cut_save();
    book = kr_book_open(path, told, sizeof told);
    uint16_t session;
    ck_assert(kr_book_session(book, 0, "", &session, &last_run));
    kr_book_close(book);
    cut_restore(); /* the copy does not know of that session: it would give its number again */
    ck_assert(!survives("an older copy"));
    ck_assert_ptr_nonnull(strstr(told, "remove the .lock file"));
    ck_assert_int_eq(unlink(lock_path), 0);
    ck_assert(opens_as("an older copy that is meant", true));
}
END_TEST

static void write_lock_file(const char *text)
{
    int fd = open(lock_path, O_WRONLY | O_CREAT | O_TRUNC, 0644);
    ck_assert_int_eq(write(fd, text, strlen(text)), (ssize_t)strlen(text));
    close(fd);
}

START_TEST(a_confirmed_count_that_is_damaged_tells_nothing)
{
    leave_closed();
    write_lock_file("");
    ck_assert(opens_as("empty", true));
    write_lock_file("00000000000000009999 00000000000000000004\n");
    ck_assert(opens_as("not the same twice", true));
    write_lock_file("what is this? what is this? what is this? what is this?");
    ck_assert(opens_as("nonsense", true));
}
END_TEST

/* ---- files that can't be written ------------------------------------------------------------------------------- */

START_TEST(a_file_that_is_read_only_is_told)
{
    leave_closed();
    cut_restore();
    cut_protect(true);
    ck_assert(!survives("read-only"));
    ck_assert_ptr_nonnull(strstr(told, "can't be written"));
    cut_protect(false);
    ck_assert(survives("no longer read-only"));
}
END_TEST

/* ---- real files ------------------------------------------------------------------------------------------------ */

static void leave_killed(void)
{
    pid_t child = fork();
    ck_assert_int_ge(child, 0);
    if (child == 0) {
        book_with_commits();
        raise(SIGKILL);
    }
    int status;
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    ck_assert(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL);
}

START_TEST(a_shared_memory_file_full_of_nonsense_is_made_anew)
{
    char name[128];
    leave_killed();
    snprintf(name, sizeof name, "%s-shm", path);
    int fd = open(name, O_WRONLY);
    ck_assert_int_ge(fd, 0);
    for (int i = 0; i < 32768 / 8; i++)
        ck_assert_int_eq(write(fd, "nonsense", 8), 8);
    close(fd);
    ck_assert_msg(survives("-shm"), "%s", told);
}
END_TEST

/* A small file system of its own, where the machine lets us have one. */
static bool mount_small(void)
{
    if (unshare(CLONE_NEWNS) != 0 || mount("none", "/", NULL, MS_REC | MS_PRIVATE, NULL) != 0 ||
        mount("small", folder, "tmpfs", 0, "size=1m") != 0) {
        printf("no small disk: %s; the full disk is tested in memory only\n", strerror(errno));
        return false;
    }
    return true;
}

/* Fills what is left, a byte at a time in the end. Returns a descriptor to make room with. */
static int fill_disk(void)
{
    char name[128];
    static const char block[4096];
    snprintf(name, sizeof name, "%s/filler", folder);
    int fd = open(name, O_RDWR | O_CREAT, 0644);
    ck_assert_int_ge(fd, 0);
    while (write(fd, block, sizeof block) > 0)
        ;
    ck_assert_int_eq(errno, ENOSPC);
    return fd;
}

START_TEST(a_real_full_disk_fails_the_commit_and_room_mends_it)
{
    static struct kr_durable loaded[SAMPLE_STATIONS];
    uint16_t index[SAMPLE_STATIONS];
    if (!mount_small())
        return;
    struct kr_book *book = kr_book_open(path, told, sizeof told);
    ck_assert_msg(book != NULL && load_stations(book, index, loaded), "%s", told);
    int filler = fill_disk(), failed = 0;
    for (int i = 1; i <= SAMPLE_COMMITS; i++) {
        while (!kr_book_commit(book, index[sample_whose(i)], sample_entry(i))) {
            ck_assert_msg(strstr(kr_book_error(book), "full") != NULL, "%s", kr_book_error(book));
            ck_assert_int_lt(failed++, 200);
            ck_assert_int_eq(ftruncate(filler, lseek(filler, 0, SEEK_END) - 4096), 0);
        }
    }
    printf("full disk: %d commits failed before there was room enough\n", failed);
    ck_assert_int_gt(failed, 0);
    kr_book_close(book);
    ck_assert_msg(survives("after a full disk"), "%s", told);
    close(filler);
    ck_assert_int_eq(umount2(folder, MNT_DETACH), 0);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("damage");
    TCase *tc = suite_case(suite, "in memory");
    tcase_set_timeout(tc, 600);
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_test(tc, a_flipped_bit_anywhere_in_the_file_is_harmless_or_told);
    tcase_add_test(tc, a_flipped_bit_in_the_wal_does_not_take_confirmed_commits_back_in_silence);
    tcase_add_test(tc, a_file_cut_off_anywhere_is_told);
    tcase_add_test(tc, a_wal_cut_off_anywhere_or_gone_is_told);
    tcase_add_test(tc, a_page_that_is_zero_or_another_page_is_harmless_or_told);
    tcase_add_test(tc, a_value_changed_in_place_is_told_and_what_to_do);
    tcase_add_loop_test(tc, a_changed_value_in_any_column_of_the_history_is_told, 0, N_HISTORY_TABLES);
    tcase_add_test(tc, rows_that_have_lost_their_ids_are_told);
    tcase_add_test(tc, an_older_copy_is_told_until_the_lock_file_is_taken_away);
    tcase_add_test(tc, a_confirmed_count_that_is_damaged_tells_nothing);
    tcase_add_test(tc, a_file_that_is_read_only_is_told);

    tc = suite_case(suite, "real files");
    tcase_add_checked_fixture(tc, setup_real, teardown);
    tcase_add_test(tc, a_shared_memory_file_full_of_nonsense_is_made_anew);
    tcase_add_test(tc, a_real_full_disk_fails_the_commit_and_room_mends_it);
    return suite;
}
