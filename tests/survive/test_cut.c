/* Power cuts and failing disks: after each of them the book opens, passes its check, and holds the state before or
 * after the commit that was under way. What was confirmed is there, and nothing by halves. */
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cut_vfs.h"
#include "sample_commits.h"
#include "suite.h"

static char folder[64], path[96];
static struct kr_book_run last_run;
static bool everything; /* no step is left out: the long run */
static long stride = 1; /* every how many steps one is tried */

/* Checkpoints come after a few pages, not after a thousand: a short series then meets them too. */
static sqlite3 *first; /* since the book was opened: its own */
static int note_connection(sqlite3 *db, const char **error, const void *api)
{
    (void)error;
    (void)api;
    if (first == NULL)
        first = db; /* later ones are the book's own helpers */
    return SQLITE_OK;
}

static struct kr_book *opened(char error[KR_BOOK_TEXT_MAX])
{
    first = NULL;
    struct kr_book *book = kr_book_open(path, error, KR_BOOK_TEXT_MAX);
    if (book != NULL)
        ck_assert_int_eq(sqlite3_wal_autocheckpoint(first, 12), SQLITE_OK);
    return book;
}

static void setup(void)
{
    snprintf(folder, sizeof folder, "/tmp/kr_cut_XXXXXX");
    ck_assert_ptr_nonnull(mkdtemp(folder)); /* for the files that are locked: those are real */
    snprintf(path, sizeof path, "%s/book.db", folder);
    cut_install();
    ck_assert_int_eq(sqlite3_auto_extension((void (*)(void))note_connection), SQLITE_OK);
    cut_format();
}

static void forget_real_files(void)
{
    static const char *const suffix[] = {"", ".lock", ".version-2"};
    char name[128];
    for (size_t i = 0; i < sizeof suffix / sizeof suffix[0]; i++) {
        snprintf(name, sizeof name, "%s%s", path, suffix[i]);
        unlink(name);
    }
}

static void teardown(void)
{
    cut_format();
    forget_real_files();
    ck_assert_int_eq(rmdir(folder), 0);
}

/* ---- one run of the commits ----------------------------------------------------------------------------------- */

struct run {
    int answered; /* commits that were confirmed */
    int begun;    /* the last that was begun */
    int64_t told; /* id of the last row of the audit that was confirmed */
    uint16_t session;
    char error[KR_BOOK_TEXT_MAX]; /* of the first call that failed */
};

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

static void note_error(struct run *run, struct kr_book *book)
{
    if (run->error[0] == 0)
        snprintf(run->error, sizeof run->error, "%s", kr_book_error(book));
    ck_assert_str_ne(run->error, "");
}

/* One row of the audit, behind each commit. */
static bool tell_audit(struct kr_book *book, uint16_t station, struct run *run)
{
    static struct kr_book_audit audit;
    audit.n = 1;
    audit.row[0] = (struct kr_audit_row){.id = run->told + 1, .times = 1, .book_station = station};
    audit.row[0].event = (struct kr_audit_event){.kind = KR_AUDIT_COMMAND, .who = "192.0.2.7", .what = "start"};
    bool ok = kr_book_audit(book, &audit);
    run->told += ok;
    return ok;
}

/* The series goes on behind the commits that were confirmed, until a call fails. */
static void tell(struct kr_book *book, struct run *run)
{
    static struct kr_durable loaded[SAMPLE_STATIONS];
    uint16_t index[SAMPLE_STATIONS], session;
    bool ok = kr_book_session(book, 0, "", &session, &last_run);
    if (ok)
        run->session = session;
    ok = ok && load_stations(book, index, loaded);
    for (int i = run->answered + 1; ok && i <= SAMPLE_COMMITS; i++) {
        run->begun = i;
        ok = kr_book_commit(book, index[sample_whose(i)], sample_entry(i));
        if (ok)
            run->answered = i;
        ok = ok && tell_audit(book, index[sample_whose(i)], run);
    }
    if (!ok)
        note_error(run, book);
}

static void run_commits(struct run *run)
{
    char error[KR_BOOK_TEXT_MAX] = "";
    struct kr_book *book = opened(error);
    if (book == NULL) {
        ck_assert_str_ne(error, "");
        snprintf(run->error, sizeof run->error, "%s", error);
        return;
    }
    tell(book, run);
    kr_book_close(book);
}

/* ---- what must be there ------------------------------------------------------------------------------------- */

static bool both_at(const struct kr_durable loaded[SAMPLE_STATIONS], int i)
{
    for (int s = 0; s < SAMPLE_STATIONS; s++)
        if (!sample_same(&loaded[s], sample_durable(s, i)))
            return false;
    return true;
}

static int strips_in_book(void)
{
    sqlite3 *db;
    sqlite3_stmt *stmt;
    ck_assert_int_eq(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    ck_assert_int_eq(sqlite3_prepare_v2(db, "SELECT count(*) FROM test_cut", -1, &stmt, NULL), SQLITE_OK);
    ck_assert_int_eq(sqlite3_step(stmt), SQLITE_ROW);
    int n = sqlite3_column_int(stmt, 0);
    sqlite3_finalize(stmt);
    sqlite3_close(db);
    return n;
}

/* Opens what is left. Returns the number of commits that it holds. */
static int judge(const struct run *run, const char *what)
{
    static struct kr_durable loaded[SAMPLE_STATIONS];
    char error[KR_BOOK_TEXT_MAX] = "";
    uint16_t index[SAMPLE_STATIONS], session;
    struct kr_book *book = opened(error);
    ck_assert_msg(book != NULL, "%s: the book does not open: %s", what, error);
    ck_assert_msg(kr_book_session(book, 0, "", &session, &last_run), "%s: %s", what, kr_book_error(book));
    ck_assert_msg(session > run->session, "%s: session %d again, after %d", what, session, run->session);
    ck_assert_msg(load_stations(book, index, loaded), "%s: %s", what, kr_book_error(book));
    int64_t next = 0;
    ck_assert_msg(kr_book_audit_next(book, &next), "%s: %s", what, kr_book_error(book));
    ck_assert_msg(next == run->told + 1 || next == run->told + 2,
                  "%s: the next row of the audit is %d, %d were confirmed", what, (int)next, (int)run->told);
    bool before = both_at(loaded, run->answered), after = run->begun != 0 && both_at(loaded, run->begun);
    ck_assert_msg(before || after, "%s: holds serials %u and %u: neither commit %d nor %d", what, loaded[0].serial,
                  loaded[1].serial, run->answered, run->begun);
    kr_book_close(book);
    int holds = before ? run->answered : run->begun;
    int strips = strips_in_book();
    ck_assert_msg(strips == sample_strips(holds), "%s: %d strips of test cuts, with the requests came %d", what, strips,
                  sample_strips(holds));
    return holds;
}

static void judge_and_go_on(struct run *run, const char *what)
{
    run->answered = judge(run, what);
    run->error[0] = 0;
    run_commits(run);
    ck_assert_msg(run->answered == SAMPLE_COMMITS, "%s: later: %s", what, run->error);
    run->begun = 0;
    judge(run, what);
}

static void wipe(void)
{
    cut_format();
    forget_real_files();
}

static long steps_of_commits(void)
{
    struct run run = {0};
    wipe();
    run_commits(&run);
    ck_assert_msg(run.answered == SAMPLE_COMMITS, "%s", run.error);
    run.begun = 0;
    long steps = cut_steps();
    judge(&run, "undisturbed");
    return steps;
}

/* ---- power cuts --------------------------------------------------------------------------------------------- */

static int variants_of(enum cut_keep keep)
{
    bool by_chance = keep == CUT_KEEP_PREFIX || keep == CUT_KEEP_ANY;
    return by_chance && everything ? 8 : 1;
}

START_TEST(a_power_cut_at_any_step_leaves_the_state_before_or_after_the_commit)
{
    long steps = steps_of_commits(), cuts = 0, kept_new = 0;
    for (long at = 1; at <= steps; at += stride) {
        for (int keep = 0; keep < CUT_KEEPS; keep++) {
            for (int v = 0; v < variants_of((enum cut_keep)keep); v++, cuts++) {
                char what[96];
                snprintf(what, sizeof what, "cut at step %ld of %ld, kept %d, seed %d", at, steps, keep, v);
                struct run run = {0};
                wipe();
                cut_power_at(at);
                run_commits(&run);
                ck_assert_msg(cut_is_off(), "%s: the commits ended before", what);
                cut_power_up((enum cut_keep)keep, (uint64_t)(at * 16 + v));
                int held = judge(&run, what);
                kept_new += held > run.answered;
                if (at % 8 == 0)
                    judge_and_go_on(&run, what);
            }
        }
    }
    printf("power cuts: %ld steps, %ld cuts; the unanswered commit was there in %ld\n", steps, cuts, kept_new);
    ck_assert_int_gt(kept_new, 0); /* else no cut came between the last write and the answer */
}
END_TEST

/* The second cut falls into what the start after the first one does: recovery, migration, its checkpoint. */
START_TEST(a_power_cut_while_coming_up_after_a_power_cut_loses_nothing_either)
{
    long steps = steps_of_commits(), cuts = 0;
    for (long at = 1; at <= steps; at += stride) {
        for (int keep = 0; keep < CUT_KEEPS; keep++) {
            bool again = true;
            for (long second = 1; again; second++, cuts++) {
                char what[96];
                snprintf(what, sizeof what, "cut at step %ld, kept %d, then at step %ld", at, keep, second);
                struct run run = {0};
                wipe();
                cut_power_at(at);
                run_commits(&run);
                cut_power_up((enum cut_keep)keep, (uint64_t)at);
                cut_power_at(second);
                char error[KR_BOOK_TEXT_MAX];
                kr_book_close(opened(error));
                again = cut_is_off();
                cut_power_up((enum cut_keep)((keep + second) % CUT_KEEPS), (uint64_t)second);
                judge(&run, what);
            }
        }
    }
    printf("power cuts while coming up: %ld\n", cuts);
}
END_TEST

/* ---- an older book ------------------------------------------------------------------------------------------ */

/* As a program of schema version 2 wrote it. */
static void leave_version_2(void)
{
    static char text[65536];
    sqlite3 *db;
    FILE *file = fopen("tests/survive/book-version-2.sql", "r");
    ck_assert_ptr_nonnull(file);
    text[fread(text, 1, sizeof text - 1, file)] = 0;
    fclose(file);
    ck_assert_int_eq(sqlite3_open(path, &db), SQLITE_OK);
    ck_assert_int_eq(sqlite3_exec(db, text, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
    cut_save();
}

static int version_of_book(void)
{
    sqlite3 *db;
    sqlite3_stmt *stmt;
    ck_assert_int_eq(sqlite3_open(path, &db), SQLITE_OK);
    ck_assert_int_eq(sqlite3_prepare_v2(db, "PRAGMA user_version", -1, &stmt, NULL), SQLITE_OK);
    ck_assert_int_eq(sqlite3_step(stmt), SQLITE_ROW);
    int version = sqlite3_column_int(stmt, 0);
    sqlite3_finalize(stmt);
    sqlite3_close(db);
    return version;
}

/* Whatever version it has now, it opens, and the station is in it. */
static void judge_older(const char *what)
{
    static struct kr_durable loaded;
    char error[KR_BOOK_TEXT_MAX] = "";
    uint16_t station;
    forget_real_files();
    struct kr_book *book = opened(error);
    ck_assert_msg(book != NULL, "%s: %s", what, error);
    ck_assert_msg(kr_book_load(book, "heron mill, slitter 2", &station, &loaded) == KR_LOAD_FOUND, "%s: %s", what,
                  kr_book_error(book));
    ck_assert_int_eq(loaded.verdict.number, 65535);
    kr_book_close(book);
}

START_TEST(a_power_cut_while_an_older_book_is_brought_up_leaves_the_one_or_the_other_whole)
{
    long cuts = 0, older = 0;
    bool again = true;
    leave_version_2();
    for (long at = 1; again; at += stride) {
        for (int keep = 0; keep < CUT_KEEPS; keep++, cuts++) {
            char what[96], error[KR_BOOK_TEXT_MAX];
            snprintf(what, sizeof what, "cut at step %ld of bringing it up, kept %d", at, keep);
            cut_restore();
            forget_real_files();
            cut_power_at(at);
            kr_book_close(opened(error));
            again = cut_is_off();
            cut_power_up((enum cut_keep)keep, (uint64_t)at);
            older += version_of_book() == 2;
            judge_older(what);
        }
    }
    printf("power cuts while an older book is brought up: %ld, %ld of them left it as it was\n", cuts, older);
    ck_assert(older > 0 && older < cuts);
}
END_TEST

/* ---- failing disks ------------------------------------------------------------------------------------------- */

struct failure {
    const char *name;
    unsigned steps;
    int rc;
};
static const struct failure failure[] = {
    {"the disk is full", CUT_WRITE | CUT_CREATE, SQLITE_FULL},
    {"a write fails", CUT_WRITE, SQLITE_IOERR_WRITE},
    {"a sync fails", CUT_SYNC, SQLITE_IOERR_FSYNC},
    {"a truncation fails", CUT_TRUNCATE, SQLITE_IOERR_TRUNCATE},
    {"a read fails", CUT_READ, SQLITE_IOERR_READ},
    {"a file can't be removed", CUT_DELETE, SQLITE_IOERR_DELETE},
    {"a file can't be made", CUT_CREATE, SQLITE_CANTOPEN},
    {"shared memory can't be had", CUT_SHM, SQLITE_IOERR_SHMMAP},
};
#define N_FAILURES ((int)(sizeof failure / sizeof failure[0]))

/* The first steps make the file, table by table; what a commit does recurs. */
static long next_step(long nth)
{
    return nth + (nth < 20 ? 1 : stride);
}

static void fail_commits(struct run *run, const struct failure *f, long nth, bool for_good)
{
    wipe();
    *run = (struct run){0};
    cut_fail_at(nth, f->steps, f->rc, for_good);
    run_commits(run);
}

START_TEST(a_disk_that_fails_at_any_step_fails_the_call_and_once_it_is_mended_the_commits_go_on)
{
    const struct failure *f = &failure[_i / 2];
    bool for_good = _i % 2, hit = true;
    long failures = 0;
    for (long nth = 1; hit; nth = next_step(nth)) {
        char what[96];
        snprintf(what, sizeof what, "%s, step %ld%s", f->name, nth, for_good ? " and all behind it" : "");
        struct run run;
        fail_commits(&run, f, nth, for_good);
        hit = cut_failed();
        cut_fail_at(0, 0, 0, false);
        failures += hit;
        run.begun = 0; /* said to have failed: it must not be there */
        judge_and_go_on(&run, what);
    }
    printf("%s%s: %ld\n", f->name, for_good ? " for good" : "", failures);
    ck_assert_int_gt(failures, 0);
}
END_TEST

/* While the disk fails the commit is said to have failed; whether it is there after a cut, only a disk that works could
 * have settled. Never more than that one, and never a part of it. */
START_TEST(a_power_cut_after_a_failure_leaves_the_state_before_or_after_the_commit_that_failed)
{
    const struct failure *f = &failure[_i];
    bool hit = true;
    long cuts = 0;
    for (long nth = 1; hit; nth = next_step(nth)) {
        for (int keep = 0; keep < CUT_KEEPS; keep++, cuts++) {
            char what[96];
            snprintf(what, sizeof what, "%s, step %ld, then a cut that keeps %d", f->name, nth, keep);
            struct run run;
            fail_commits(&run, f, nth, true);
            hit = cut_failed();
            cut_power_up((enum cut_keep)keep, (uint64_t)nth);
            judge(&run, what);
        }
    }
    printf("%s, then a cut: %ld\n", f->name, cuts);
}
END_TEST

/* test_cut all leaves no step out, and takes a quarter of an hour. test_cut power|again|older|failures STRIDE is a
 * part of it. */
static void read_arguments(void)
{
    everything = suite_argc == 2 && strcmp(suite_argv[1], "all") == 0;
    if (suite_argc == 3) {
        suite_only = suite_argv[1];
        stride = strtol(suite_argv[2], NULL, 10);
    }
    if ((!everything && suite_argc != 3) || stride < 1) {
        fprintf(stderr,
                "usage: %s all | power STRIDE | again STRIDE | older STRIDE | failures STRIDE; a stride is 1 "
                "or more\n",
                suite_argv[0]);
        exit(EXIT_FAILURE);
    }
}

Suite *make_suite(void)
{
    read_arguments();
    Suite *suite = suite_create("cut");
    TCase *tc = suite_case(suite, "power");
    tcase_set_timeout(tc, 3600);
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_test(tc, a_power_cut_at_any_step_leaves_the_state_before_or_after_the_commit);

    tc = suite_case(suite, "again");
    tcase_set_timeout(tc, 3600);
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_test(tc, a_power_cut_while_coming_up_after_a_power_cut_loses_nothing_either);

    tc = suite_case(suite, "older");
    tcase_set_timeout(tc, 3600);
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_test(tc, a_power_cut_while_an_older_book_is_brought_up_leaves_the_one_or_the_other_whole);

    tc = suite_case(suite, "failures");
    tcase_set_timeout(tc, 3600);
    tcase_add_checked_fixture(tc, setup, teardown);
    tcase_add_loop_test(tc, a_disk_that_fails_at_any_step_fails_the_call_and_once_it_is_mended_the_commits_go_on, 0,
                        2 * N_FAILURES);
    tcase_add_loop_test(tc, a_power_cut_after_a_failure_leaves_the_state_before_or_after_the_commit_that_failed, 0,
                        N_FAILURES);
    return suite;
}
