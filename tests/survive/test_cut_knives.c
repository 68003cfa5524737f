/* Maintenance requests about knives, and a power cut at every step that their commits make on the disk: after it the
 * request is wholly there or wholly absent, in the holder's data, in the ledger and in its answer, and what a client
 * was told is there. Station, book and ledger are the real ones; the disk is cut_vfs.
 *
 *     test_cut_knives STRIDE   a cut at every so many steps */
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cut_vfs.h"
#include "ledger_rig.h"
#include "suite.h"

#define OFFSET_UM 300
#define HOLDER    3
#define DUMP_MAX  60000
#define SESSION   50 /* the same each time, since it stands in the rows */

static struct ledger_rig ledger;
static struct rig rig;
static long stride;

/* ---- the requests, in the sequence of two lives ----------------------------------------------------------------- */

#define GIVEN_BOTH (KR_KNIFE_GIVEN_OFFSET | KR_KNIFE_GIVEN_METRES)
static const struct {
    enum kr_edit_kind kind;
    struct knife_values values;
} request[] = {
    {KR_EDIT_ENTER,
     {.name = "K-1",
      .kind_name = "upper",
      .diameter_um = 130000,
      .edge_offset_um = OFFSET_UM,
      .metres = 2500,
      .given = GIVEN_BOTH}},
    {KR_EDIT_MOUNT, {.rail = 1, .holder = HOLDER, .name = "K-1"}},
    {KR_EDIT_REGROUND,
     {.rail = 1, .holder = HOLDER, .diameter_um = 129000, .edge_offset_um = 250, .given = KR_KNIFE_GIVEN_OFFSET}},
    {KR_EDIT_DISMOUNT, {.rail = 1, .holder = HOLDER, .to = KR_KNIFE_SHELF}},
    {KR_EDIT_MOUNT, {.rail = 1, .holder = HOLDER, .name = "K-1", .metres = 77, .given = KR_KNIFE_GIVEN_METRES}},
    {KR_EDIT_BROKEN, {.rail = 1, .holder = HOLDER, .cause = KR_CAUSE_CRASH, .fragments = KR_FRAGMENTS_MISSING}},
    {KR_EDIT_ENTER, {.name = "K-2", .kind_name = "upper", .edge_offset_um = OFFSET_UM, .given = GIVEN_BOTH}},
    {KR_EDIT_DISMOUNT, {.name = "K-2", .to = KR_KNIFE_GRINDER}},
    {KR_EDIT_REGROUND, {.name = "K-2", .diameter_um = 128000}},
    {KR_EDIT_SCRAP, {.name = "K-2"}},
};
#define N_REQUESTS ((int)(sizeof request / sizeof request[0]))

/* ---- what stands in the book ------------------------------------------------------------------------------------ */

struct dump {
    size_t n;
    char text[DUMP_MAX];
};
static struct dump before, after, found;

static int add_row(void *arg, int n, char **value, char **name)
{
    struct dump *dump = arg;
    for (int i = 0; i < n && dump->n < DUMP_MAX; i++)
        if (strcmp(name[i], "changed_at") != 0)
            dump->n += (size_t)snprintf(dump->text + dump->n, DUMP_MAX - dump->n, "%s|", value[i] ? value[i] : "NULL");
    return dump->n < DUMP_MAX ? 0 : 1;
}

/* Every row that a request about a knife can touch, and the seal of what the station starts from. When the station's
 * row was stored last is left out: a commit that comes behind the request's own, of alarms for instance, changes it,
 * too. */
static void take_dump(struct dump *dump)
{
    static const char *const tables[] = {"station", "rail", "holder", "edit", "edit_request", "knife", "knife_event"};
    sqlite3 *db;
    char query[64];
    dump->n = 0;
    ck_assert_int_eq(sqlite3_open(ledger.path, &db), SQLITE_OK);
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        snprintf(query, sizeof query, "SELECT * FROM %s", tables[i]);
        ck_assert_msg(sqlite3_exec(db, query, add_row, dump, NULL) == SQLITE_OK, "%s: %s", query, sqlite3_errmsg(db));
    }
    sqlite3_close(db);
}

static bool same(const struct dump *a, const struct dump *b)
{
    return a->n == b->n && memcmp(a->text, b->text, a->n) == 0;
}

/* ---- the gateway ------------------------------------------------------------------------------------------------ */

static int64_t began_utc_ms; /* the same times each time: the same rows */

/* The file beside the book is a real one, and counts what was confirmed: after a power cut it may be any older count.
 */
static void forget_count(void)
{
    char name[128];
    snprintf(name, sizeof name, "%s.lock", ledger.path);
    FILE *file = fopen(name, "w");
    ck_assert_ptr_nonnull(file);
    ck_assert_int_gt(fprintf(file, "%020d %020d\n", 1, 1), 0);
    ck_assert_int_eq(fclose(file), 0);
}

/* Comes up with what the disk has, until nothing is left to be stored. */
static void come_up(void)
{
    ledger_rig_open(&ledger);
    rig.in.controlled = true;
    rig.in.permissives = 0x1F;
    rig_run_ms(&rig, 1000);
    ck_assert_uint_eq(rig.in.committed_serial, kr_station_durable(rig.station)->serial);
    ck_assert(!ledger.failed);
}

static void come_up_from_the_saved_disk(void)
{
    cut_restore();
    forget_count();
    ledger.utc_ms = began_utc_ms;
    rig.session = SESSION - 1;
    come_up();
    ledger.utc_ms = began_utc_ms + 1000; /* however many commits it took */
}

static enum kr_code ask(int i)
{
    rig.edit_number = (uint16_t)(100 + i); /* the next one is used */
    return rig_knife(&rig, request[i].kind, request[i].values);
}

/* Without a cut: what has to be there before the request and behind it. */
static void learn(int i)
{
    come_up_from_the_saved_disk();
    ledger_rig_close(&ledger);
    take_dump(&before);
    come_up_from_the_saved_disk();
    ck_assert_msg(ask(i) == KR_OK, "request %d: result %d", i, rig_u16(&rig, KR_REG_EDITED_CODE, 0, 0));
    ledger_rig_close(&ledger);
    take_dump(&after);
    ck_assert(!same(&before, &after));
}

/* ---- what must be there ----------------------------------------------------------------------------------------- */

/* The station that starts then: its holder's knife is where the ledger has it, and its answer is the request's only if
 * that is there. */
static void judge_station(int i, bool is_there, const char *what)
{
    come_up();
    bool is_answered = rig_u16(&rig, KR_REG_EDITED_NUMBER, 0, 0) == 101 + i;
    ck_assert_msg(is_answered == is_there, "%s: the answer is %d, the request is %d", what, is_answered, is_there);
    ck_assert_int_eq(rig_u16(&rig, KR_REG_EDITED_CODE, 0, 0), KR_OK);
    uint32_t on_holder = (uint32_t)rig_i32(&rig, KR_REG_HOLDER_KNIFE, 0, HOLDER - 1);
    for (int k = 1; k <= 2; k++) {
        char name[8];
        struct kr_knife_answer knife;
        snprintf(name, sizeof name, "K-%d", k);
        ck_assert_msg(kr_book_knife(ledger.book, ledger.station, name, &knife), "%s", what);
        ck_assert_msg((knife.place == KR_KNIFE_HOLDER) == (knife.knife != 0 && knife.knife == on_holder),
                      "%s: %s is at place %d, and %u on the holder", what, name, knife.place, on_holder);
    }
    ledger_rig_close(&ledger);
}

/* Returns whether the request is there. */
static bool judge(int i, bool was_told, const char *what)
{
    take_dump(&found);
    bool is_there = same(&found, &after);
    ck_assert_msg(is_there || same(&found, &before), "%s: neither as before nor as after:\n%.*s", what, (int)found.n,
                  found.text);
    ck_assert_msg(is_there || !was_told, "%s: it was told, and is not there", what);
    judge_station(i, is_there, what);
    return is_there;
}

/* False: the request was over before that step. */
static bool cut_at(int i, long at, enum cut_keep keep, long *untold)
{
    char what[96];
    snprintf(what, sizeof what, "request %d, cut at step %ld, kept %d", i, at, (int)keep);
    come_up_from_the_saved_disk();
    ledger.may_fail = true;
    cut_power_at(at);
    enum kr_code code = ask(i);
    bool was_cut = cut_is_off(), was_told = !ledger.failed;
    ck_assert_msg(was_cut || (was_told && code == KR_OK), "%s: result %d without a cut", what, (int)code);
    ledger_rig_close(&ledger);
    cut_power_up(keep, (uint64_t)(at * 16 + i));
    ledger.may_fail = false;
    *untold += judge(i, was_told, what) && !was_told;
    return was_cut;
}

START_TEST(after_a_power_cut_a_request_about_a_knife_is_wholly_there_or_wholly_absent)
{
    long cuts = 0, untold = 0;
    cut_install();
    cut_format();
    rig_defaults(&rig, 1, 7, 1);
    ledger_rig_begin(&ledger, &rig);
    rig_start(&rig);
    rig_set_up(&rig, 1, 3, 200 * MM);
    began_utc_ms = ledger.utc_ms;
    ledger_rig_close(&ledger);
    for (int i = 0; i < N_REQUESTS; i++) {
        cut_save();
        learn(i);
        bool was_cut = true;
        for (long at = 1; was_cut; at += stride)
            for (int keep = 0; keep < CUT_KEEPS; keep++, cuts++)
                was_cut = cut_at(i, at, (enum cut_keep)keep, &untold);
        come_up_from_the_saved_disk();
        ck_assert_int_eq(ask(i), KR_OK);
        began_utc_ms = ledger.utc_ms;
        ledger_rig_close(&ledger);
    }
    printf("requests about knives: %ld power cuts; the untold request was there in %ld\n", cuts, untold);
    ck_assert_int_gt(untold, 0); /* else no cut came between the last write and the answer */
    ck_assert_int_lt(untold, cuts);
    cut_format();
    rig_end(&rig);
    ledger_rig_end(&ledger);
}
END_TEST

Suite *make_suite(void)
{
    stride = suite_argc == 2 ? strtol(suite_argv[1], NULL, 10) : 0;
    if (stride < 1) {
        fprintf(stderr, "usage: test_cut_knives STRIDE; 1 or more\n");
        return NULL;
    }
    Suite *suite = suite_create("cut_knives");
    TCase *tc = suite_case(suite, "knives");
    tcase_set_timeout(tc, 600);
    tcase_add_test(tc, after_a_power_cut_a_request_about_a_knife_is_wholly_there_or_wholly_absent);
    return suite;
}
