/* Tests of the book's file: who may open it and by which names, what happens if it is changed while it is in use, and
 * the copy that is made before an older file is migrated. */
#define _GNU_SOURCE /* nftw */
#include <fcntl.h>
#include <ftw.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "kniferail/book.h"
#include "kniferail/history.h"
#include "suite.h"

static char folder[64], path[96];
static struct kr_book_entry entry; /* large: not for the stack */
static const char *const station_name = "heron mill, slitter 2";

static void setup(void)
{
    snprintf(folder, sizeof folder, "/tmp/kr_file_XXXXXX");
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/book.db", folder);
    memset(&entry, 0, sizeof entry);
}

static int remove_one(const char *name, const struct stat *st, int kind, struct FTW *ftw)
{
    (void)st;
    (void)kind;
    (void)ftw;
    return remove(name);
}

static void teardown(void)
{
    ck_assert_int_eq(nftw(folder, remove_one, 8, FTW_DEPTH | FTW_PHYS), 0);
}

/* A name beside the book. Lives until the fourth call after it. */
static const char *beside(const char *suffix)
{
    static char name[4][128];
    static int next;
    next = (next + 1) % 4;
    snprintf(name[next], sizeof name[next], "%s%s", path, suffix);
    return name[next];
}

static struct kr_book *opened(void)
{
    char error[KR_BOOK_TEXT_MAX] = "";
    struct kr_book *book = kr_book_open(path, error, sizeof error);
    ck_assert_msg(book != NULL, "%s", error);
    return book;
}

static void expect_refusal(const char *at, const char *words)
{
    char error[KR_BOOK_TEXT_MAX] = "";
    ck_assert_ptr_null(kr_book_open(at, error, sizeof error));
    ck_assert_msg(strstr(error, words) != NULL, "'%s', not '%s'", error, words);
}

static struct kr_book *in_use(uint16_t *station)
{
    struct kr_book *book = opened();
    enum kr_load found = kr_book_load(book, station_name, station, &entry.durable);
    ck_assert_int_ne(found, KR_LOAD_FAILED);
    entry.durable.serial++;
    ck_assert_msg(kr_book_commit(book, *station, &entry), "%s", kr_book_error(book));
    return book;
}

static void told(const char *statements)
{
    sqlite3 *db;
    char *error = NULL;
    ck_assert_int_eq(sqlite3_open(path, &db), SQLITE_OK);
    ck_assert_msg(sqlite3_exec(db, statements, NULL, NULL, &error) == SQLITE_OK, "%s", error);
    sqlite3_close(db);
}

static int64_t asked(const char *name, const char *query)
{
    sqlite3 *db;
    sqlite3_stmt *stmt;
    ck_assert_int_eq(sqlite3_open(name, &db), SQLITE_OK);
    ck_assert_msg(sqlite3_prepare_v2(db, query, -1, &stmt, NULL) == SQLITE_OK, "%s", sqlite3_errmsg(db));
    ck_assert_int_eq(sqlite3_step(stmt), SQLITE_ROW);
    int64_t number = sqlite3_column_int64(stmt, 0);
    sqlite3_finalize(stmt);
    sqlite3_close(db);
    return number;
}

/* ---- one gateway ----------------------------------------------------------------------------------------------- */

/* By another process, and by this one: a lock of the process would let it in. */
static void expect_second_gateway_refused(const char *at, const char *words)
{
    pid_t child = fork();
    ck_assert_int_ge(child, 0);
    if (child == 0) {
        char error[KR_BOOK_TEXT_MAX] = "";
        bool refused = kr_book_open(at, error, sizeof error) == NULL && strstr(error, words) != NULL;
        _exit(refused ? 0 : 1);
    }
    int status;
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    ck_assert_int_eq(status, 0);
    expect_refusal(at, words);
}

START_TEST(a_second_gateway_is_refused_by_whatever_name_it_comes)
{
    uint16_t station;
    struct kr_book *book = in_use(&station);
    expect_second_gateway_refused(path, "another gateway");
    ck_assert_int_eq(symlink(path, beside("-by-link")), 0);
    expect_second_gateway_refused(beside("-by-link"), "another gateway");
    ck_assert_int_eq(unlink(beside(".lock")), 0);
    expect_second_gateway_refused(path, "another gateway");
    expect_second_gateway_refused(beside("-by-link"), "another gateway");
    ck_assert_int_eq(link(path, beside("-by-hard-link")), 0);
    expect_second_gateway_refused(beside("-by-hard-link"), "2 names");
    ck_assert_int_eq(unlink(beside("-by-hard-link")), 0);
    entry.durable.serial++;
    ck_assert_msg(kr_book_commit(book, station, &entry), "%s", kr_book_error(book));
    kr_book_close(book);
    kr_book_close(opened());
}
END_TEST

/* SQLite's locks are the process's, and end when it closes any descriptor of the file. */
START_TEST(who_was_refused_or_reads_the_history_takes_no_lock_away)
{
    uint16_t station;
    char error[KR_BOOK_TEXT_MAX] = "";
    struct kr_book *book = in_use(&station);
    for (int i = 0; i < 3; i++) {
        struct kr_history *history = kr_history_open(path, NULL, error, sizeof error);
        ck_assert_msg(history != NULL, "%s", error);
        kr_history_close(history);
        expect_second_gateway_refused(path, "another gateway");
        entry.durable.serial++;
        ck_assert_msg(kr_book_commit(book, station, &entry), "%s", kr_book_error(book));
    }
    kr_book_close(book);
}
END_TEST

/* An older program locks FILE.lock alone. */
START_TEST(a_gateway_of_an_older_version_that_runs_is_noticed)
{
    int fd = open(beside(".lock"), O_RDWR | O_CREAT, 0644), status;
    struct flock whole = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
    ck_assert_int_eq(fcntl(fd, F_SETLK, &whole), 0);
    pid_t child = fork();
    if (child == 0) {
        char error[KR_BOOK_TEXT_MAX] = "";
        _exit(kr_book_open(path, error, sizeof error) == NULL && strstr(error, "another gateway") ? 0 : 1);
    }
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    ck_assert_int_eq(status, 0);
    close(fd);
}
END_TEST

/* ---- links and rights ------------------------------------------------------------------------------------------ */

START_TEST(a_planted_link_is_not_followed_and_what_it_points_to_stays_as_it_was)
{
    static const char *const planted[] = {".lock", "-wal", "-shm", "-journal"};
    static const char words[] = "the night shift's notes";
    char read_back[sizeof words] = "";
    int fd = open(beside("-notes"), O_RDWR | O_CREAT, 0600);
    ck_assert_int_eq(write(fd, words, sizeof words), sizeof words);
    kr_book_close(opened());
    unlink(beside(planted[_i / 2]));
    if (_i % 2)
        ck_assert_int_eq(link(beside("-notes"), beside(planted[_i / 2])), 0);
    else
        ck_assert_int_eq(symlink(beside("-notes"), beside(planted[_i / 2])), 0);
    expect_refusal(path, _i % 2 ? "2 names" : "symbolic link");
    ck_assert_int_eq(pread(fd, read_back, sizeof words, 0), sizeof words);
    ck_assert_str_eq(read_back, words);
    close(fd);
}
END_TEST

START_TEST(a_link_to_the_book_is_followed_and_one_to_nothing_makes_no_file)
{
    ck_assert_int_eq(symlink("elsewhere.db", path), 0);
    expect_refusal(path, "symbolic link to a file that is not there");
    char target[128];
    snprintf(target, sizeof target, "%s/elsewhere.db", folder);
    ck_assert_int_ne(access(target, F_OK), 0);
    ck_assert_int_eq(unlink(path), 0);
    kr_book_close(opened());
    ck_assert_int_eq(rename(path, target), 0);
    ck_assert_int_eq(symlink("elsewhere.db", path), 0);
    kr_book_close(opened());
}
END_TEST

static unsigned rights_of(const char *name)
{
    struct stat st;
    ck_assert_int_eq(stat(name, &st), 0);
    return st.st_mode & 07777;
}

/* _i: umask 0, with files that were there before and open to all; then ordinary ones */
START_TEST(every_file_of_the_book_is_for_its_owner_and_group_alone)
{
    static const char *const files[] = {"", "-wal", "-shm", ".lock"};
    static const mode_t masks[] = {0, 0022, 0077};
    uint16_t station;
    umask(0);
    if (_i == 0) {
        pid_t child = fork(); /* killed: all four files are left over */
        if (child == 0) {
            in_use(&station);
            raise(SIGKILL);
        }
        waitpid(child, NULL, 0);
        for (size_t i = 0; i < sizeof files / sizeof files[0]; i++)
            ck_assert_int_eq(chmod(beside(files[i]), 0666), 0);
    }
    umask(masks[_i]);
    struct kr_book *book = in_use(&station);
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++)
        ck_assert_msg((rights_of(beside(files[i])) & ~0640u) == 0, "%s: %o", files[i], rights_of(beside(files[i])));
    kr_book_close(book);
    umask(0022);
}
END_TEST

/* ---- while it is in use ---------------------------------------------------------------------------------------- */

static void put_away(int how)
{
    switch (how) {
    case 0: ck_assert_int_eq(rename(path, beside("-moved")), 0); break;
    case 1: ck_assert_int_eq(link(path, beside("-second")), 0); break;
    default:
        ck_assert_int_eq(rename(path, beside("-moved")), 0);
        close(open(path, O_RDWR | O_CREAT, 0640)); /* another file in its place */
    }
}

static void put_back(int how)
{
    if (how == 1)
        ck_assert_int_eq(unlink(beside("-second")), 0);
    else
        ck_assert_int_eq(rename(beside("-moved"), path), 0);
}

START_TEST(a_book_that_is_moved_replaced_or_linked_stores_nothing_until_it_is_back)
{
    uint16_t station;
    struct kr_book *book = in_use(&station);
    ck_assert_int_eq(kr_book_look(book), KR_BOOK_WELL);
    put_away(_i);
    ck_assert_int_eq(kr_book_look(book), KR_BOOK_GONE);
    entry.durable.serial++;
    ck_assert(!kr_book_commit(book, station, &entry));
    ck_assert(kr_book_is_gone(book));
    ck_assert_ptr_nonnull(strstr(kr_book_error(book), path));
    put_back(_i);
    ck_assert_int_eq(kr_book_look(book), KR_BOOK_WELL);
    ck_assert_msg(kr_book_commit(book, station, &entry), "%s", kr_book_error(book));
    ck_assert(!kr_book_is_gone(book));
    kr_book_close(book);
    ck_assert_int_eq(asked(path, "SELECT serial FROM station"), entry.durable.serial);
}
END_TEST

START_TEST(a_book_that_is_deleted_stores_nothing_any_more)
{
    uint16_t station;
    struct kr_book *book = in_use(&station);
    ck_assert_int_eq(unlink(path), 0);
    entry.durable.serial++;
    ck_assert(!kr_book_commit(book, station, &entry));
    ck_assert_ptr_nonnull(strstr(kr_book_error(book), "deleted or moved"));
    ck_assert(kr_book_is_gone(book));
    kr_book_close(book);
}
END_TEST

static void limit_files(rlim_t bytes)
{
    struct rlimit limit;
    signal(SIGXFSZ, SIG_IGN);
    ck_assert_int_eq(getrlimit(RLIMIT_FSIZE, &limit), 0);
    limit.rlim_cur = bytes;
    ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &limit), 0);
}

START_TEST(a_disk_that_is_full_is_seen_without_a_commit)
{
    uint16_t station;
    struct kr_book *book = in_use(&station);
    ck_assert_int_eq(kr_book_look(book), KR_BOOK_WELL);
    limit_files(1); /* as a quota does: the file system says nothing of it */
    ck_assert_int_eq(kr_book_look(book), KR_BOOK_DISK_FULL);
    ck_assert_str_ne(kr_book_error(book), "");
    limit_files(RLIM_INFINITY);
    ck_assert_int_eq(kr_book_look(book), KR_BOOK_WELL);
    kr_book_close(book);
    kr_book_close(opened()); /* the look has left the confirmed count as it was */
}
END_TEST

/* ---- an older version ------------------------------------------------------------------------------------------ */

static char published[65536];

static void leave_the_book_of_version_2(void)
{
    FILE *file = fopen("tests/survive/book-version-2.sql", "r");
    ck_assert_ptr_nonnull(file);
    published[fread(published, 1, sizeof published - 1, file)] = 0;
    fclose(file);
    told(published);
}

START_TEST(before_an_older_book_is_brought_up_it_is_copied_and_no_file_is_overwritten)
{
    leave_the_book_of_version_2();
    close(open(beside(".version-2"), O_RDWR | O_CREAT, 0600)); /* somebody's */
    umask(0);
    struct kr_book *book = opened();
    umask(0022);
    ck_assert_ptr_nonnull(strstr(kr_book_migrated(book), "from schema version 2"));
    ck_assert_ptr_nonnull(strstr(kr_book_migrated(book), "book.db.version-2.2"));
    kr_book_close(book);
    struct stat st;
    ck_assert_int_eq(stat(beside(".version-2"), &st), 0);
    ck_assert_int_eq(st.st_size, 0);
    ck_assert_uint_eq(rights_of(beside(".version-2.2")), 0640);
    ck_assert_int_eq(asked(beside(".version-2.2"), "PRAGMA user_version"), 2);
    ck_assert_int_eq(asked(beside(".version-2.2"), "SELECT count(*) FROM verdict"), 1);
    ck_assert_int_gt(asked(path, "PRAGMA user_version"), 2);
    ck_assert_int_gt(asked(path, "SELECT count(*) FROM holder WHERE edge = 0"), 0);
    ck_assert_int_eq(asked(path, "SELECT count(*) FROM holder WHERE edge <> 0"), 0); /* nobody has proven one */
    ck_assert_int_eq(asked(path, "SELECT count(*) FROM edit"),
                     asked(beside(".version-2.2"), "SELECT count(*) FROM edit"));
    book = opened();
    ck_assert_str_eq(kr_book_migrated(book), "");
    kr_book_close(book);
    ck_assert_int_ne(access(beside(".version-2.3"), F_OK), 0);
}
END_TEST

/* The copy is of what was committed, and that may lie in the -wal file. */
START_TEST(the_copy_has_what_a_killed_gateway_left_in_the_wal)
{
    leave_the_book_of_version_2();
    pid_t child = fork();
    if (child == 0) {
        sqlite3 *db;
        bool ok = sqlite3_open(path, &db) == SQLITE_OK &&
                  sqlite3_exec(db, "PRAGMA journal_mode = WAL; UPDATE holder SET metres = 4711", 0, 0, 0) == 0;
        if (ok)
            raise(SIGKILL);
        _exit(1);
    }
    int status;
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    ck_assert(WIFSIGNALED(status));
    kr_book_close(opened());
    ck_assert_int_eq(asked(beside(".version-2"), "SELECT min(metres) FROM holder"), 4711);
}
END_TEST

static void expect_version_2_and_no_copy(void)
{
    ck_assert_int_eq(asked(path, "PRAGMA user_version"), 2);
    ck_assert_int_eq(asked(path, "SELECT count(*) FROM holder"), 24);
    ck_assert_int_ne(access(beside(".version-2"), F_OK), 0);
    ck_assert_int_ne(access(beside(".version-2-journal"), F_OK), 0);
}

START_TEST(a_book_that_cannot_be_copied_stays_as_it_was_and_that_is_said)
{
    leave_the_book_of_version_2();
    told("PRAGMA journal_mode = WAL");
    limit_files(40000); /* the copy needs more */
    expect_refusal(path, "the book stays at schema version 2: the copy ");
    limit_files(RLIM_INFINITY);
    expect_version_2_and_no_copy();
    kr_book_close(opened());
}
END_TEST

START_TEST(a_book_that_cannot_be_brought_up_stays_as_it_was_and_that_is_said)
{
    leave_the_book_of_version_2();
    told("CREATE TABLE holder_before(metres)"); /* in the way of the migration */
    expect_refusal(path, "the book stays at schema version 2: there is already another table");
    expect_version_2_and_no_copy();
    told("DROP TABLE holder_before");
    kr_book_close(opened());
}
END_TEST

START_TEST(a_book_of_the_open_version_as_it_was_earlier_is_refused)
{
    kr_book_close(opened());
    told("ALTER TABLE rail ADD COLUMN temperature INTEGER NOT NULL DEFAULT 0");
    expect_refusal(path, "(rail differs)");
}
END_TEST

START_TEST(a_database_of_somebody_else_is_not_written)
{
    told("CREATE TABLE recipes(name); INSERT INTO recipes VALUES('soup')");
    expect_refusal(path, "not a book");
    ck_assert_int_eq(asked(path, "SELECT journal_mode = 'delete' FROM pragma_journal_mode"), 1);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("book_file");
    TCase *tc = suite_case(suite, "one gateway");
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_test(tc, a_second_gateway_is_refused_by_whatever_name_it_comes);
    tcase_add_test(tc, who_was_refused_or_reads_the_history_takes_no_lock_away);
    tcase_add_test(tc, a_gateway_of_an_older_version_that_runs_is_noticed);

    tc = suite_case(suite, "links and rights");
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_loop_test(tc, a_planted_link_is_not_followed_and_what_it_points_to_stays_as_it_was, 0, 8);
    tcase_add_test(tc, a_link_to_the_book_is_followed_and_one_to_nothing_makes_no_file);
    tcase_add_loop_test(tc, every_file_of_the_book_is_for_its_owner_and_group_alone, 0, 3);

    tc = suite_case(suite, "in use");
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_loop_test(tc, a_book_that_is_moved_replaced_or_linked_stores_nothing_until_it_is_back, 0, 3);
    tcase_add_test(tc, a_book_that_is_deleted_stores_nothing_any_more);
    tcase_add_test(tc, a_disk_that_is_full_is_seen_without_a_commit);

    tc = suite_case(suite, "versions");
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_test(tc, before_an_older_book_is_brought_up_it_is_copied_and_no_file_is_overwritten);
    tcase_add_test(tc, the_copy_has_what_a_killed_gateway_left_in_the_wal);
    tcase_add_test(tc, a_book_that_cannot_be_copied_stays_as_it_was_and_that_is_said);
    tcase_add_test(tc, a_book_that_cannot_be_brought_up_stays_as_it_was_and_that_is_said);
    tcase_add_test(tc, a_book_of_the_open_version_as_it_was_earlier_is_refused);
    tcase_add_test(tc, a_database_of_somebody_else_is_not_written);
    return suite;
}
