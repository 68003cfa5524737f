/* A year of orders in virtual time, through a real book: knives are mounted, ground, swapped and sent to the grinder,
 * one breaks, and the metres of each are held against a count of the test's own, to the metre.
 *
 *     test_knife_year ORDERS SEED */
#include <stdio.h>
#include <stdlib.h>

#include "draw.h"
#include "ledger_rig.h"
#include "suite.h"

#define HOLDERS   7
#define KNIVES    12
#define OFFSET_UM 300
#define NAMELESS  0 /* in what the test counts; else the knife's number */

static struct ledger_rig ledger;
static struct rig rig;
static struct draw draw;
static int orders;

/* What the test has counted. */
static int on_holder[HOLDERS + 1]; /* which knife is on each */
static uint32_t life[KNIVES + 1];  /* metres since it was ground */
static uint32_t all[KNIVES + 1];   /* in all */
static uint32_t grinds[KNIVES + 1];
static bool on_shelf[KNIVES + 1];
static uint32_t of_holder[HOLDERS + 1]; /* of the nameless knife that is there */
static int broken;                      /* the knife that broke; 0: none yet */

static const char *name_of(int knife)
{
    static char name[16];
    snprintf(name, sizeof name, "K-%d", knife);
    return name;
}

static void must(enum kr_code code, const char *what)
{
    ck_assert_msg(code == KR_OK, "%s: result %d", what, code);
}

/* ---- what people do -------------------------------------------------------------------------------------------- */

static void enter_all(void)
{
    for (int k = 1; k <= KNIVES; k++) {
        life[k] = all[k] = (uint32_t)draw_between(&draw, 0, 3000);
        on_shelf[k] = true;
        must(rig_knife(&rig, KR_EDIT_ENTER,
                       (struct knife_values){.name = name_of(k),
                                             .kind_name = "upper 130",
                                             .diameter_um = 130000,
                                             .edge_offset_um = OFFSET_UM,
                                             .metres = life[k],
                                             .given = KR_KNIFE_GIVEN_OFFSET | KR_KNIFE_GIVEN_METRES}),
             "enter");
    }
}

static int shelf_knife(void)
{
    int first = draw_between(&draw, 1, KNIVES);
    for (int i = 0; i < KNIVES; i++)
        if (on_shelf[(first + i) % KNIVES + 1])
            return (first + i) % KNIVES + 1;
    return NAMELESS;
}

static void mount(uint16_t holder)
{
    int knife = shelf_knife();
    if (knife == NAMELESS)
        return;
    must(rig_knife(&rig, KR_EDIT_MOUNT,
                   (struct knife_values){.rail = 1,
                                         .holder = holder,
                                         .name = name_of(knife),
                                         .edge_offset_um = OFFSET_UM,
                                         .given = KR_KNIFE_GIVEN_OFFSET}),
         "mount");
    of_holder[holder] = 0;
    on_holder[holder] = knife;
    on_shelf[knife] = false;
}

static void count_grind(int knife)
{
    life[knife] = 0;
    grinds[knife]++;
}

static void grind_on_holder(uint16_t holder)
{
    int knife = on_holder[holder];
    must(rig_knife(&rig, KR_EDIT_REGROUND,
                   (struct knife_values){.rail = 1,
                                         .holder = holder,
                                         .edge_offset_um = OFFSET_UM,
                                         .diameter_um = 129000,
                                         .given = KR_KNIFE_GIVEN_OFFSET}),
         "reground");
    count_grind(knife);
}

static void send_to_the_grinder(uint16_t holder)
{
    int knife = on_holder[holder];
    must(rig_knife(&rig, KR_EDIT_DISMOUNT,
                   (struct knife_values){.rail = 1, .holder = holder, .to = KR_KNIFE_GRINDER}),
         "dismount");
    must(rig_knife(&rig, KR_EDIT_REGROUND,
                   (struct knife_values){.name = name_of(knife), .diameter_um = 128500}),
         "reground at the grinder's");
    count_grind(knife);
    on_holder[holder] = NAMELESS;
    on_shelf[knife] = true;
    mount(holder);
}

static void break_it(uint16_t holder)
{
    broken = on_holder[holder];
    must(rig_knife(
             &rig, KR_EDIT_BROKEN,
             (struct knife_values){
                 .rail = 1, .holder = holder, .cause = KR_CAUSE_CRASH, .fragments = KR_FRAGMENTS_MISSING}),
         "broken");
    on_holder[holder] = NAMELESS;
    mount(holder);
}

/* As maintenance did it before there was a ledger. */
static void swap_or_regrind(uint16_t holder)
{
    bool is_swap = draw_chance(&draw, 50);
    int knife = on_holder[holder];
    must(rig_edit(&rig, is_swap ? KR_EDIT_SWAP : KR_EDIT_REGRIND,
                  (struct edit_values){1, holder, 1, OFFSET_UM, 0}),
         "swap or regrind");
    if (knife == NAMELESS)
        of_holder[holder] = 0;
    else if (is_swap)
        on_shelf[knife] = true;
    else
        count_grind(knife);
    if (is_swap)
        on_holder[holder] = NAMELESS;
}

static void maintain(int order)
{
    uint16_t holder = (uint16_t)draw_between(&draw, 1, HOLDERS);
    if (on_holder[holder] == NAMELESS)
        mount(holder);
    else if (broken == 0 && order > orders / 2)
        break_it(holder);
    else if (draw_chance(&draw, 30))
        swap_or_regrind(holder);
    else if (draw_chance(&draw, 50))
        grind_on_holder(holder);
    else
        send_to_the_grinder(holder);
}

/* ---- what the line does ---------------------------------------------------------------------------------------- */

static void count_metres(uint32_t metres)
{
    for (uint16_t h = 1; h <= HOLDERS; h++) {
        if (rig_cut_of(&rig, 1, h) == 0)
            continue;
        int knife = on_holder[h];
        life[knife] += metres;
        all[knife] += metres;
        if (knife == NAMELESS)
            of_holder[h] += metres;
    }
}

static void run_order(int number)
{
    rig_confirm_edges(&rig); /* of what was mounted or ground since: the line runs with proven edges alone */
    int32_t slit_um = draw_between(&draw, 140, 200) * MM;
    uint32_t metres = (uint32_t)draw_between(&draw, 1, 60);
    rig_set_up(&rig, (uint32_t)number, (uint16_t)draw_between(&draw, 2, 4), slit_um);
    rig.in.permissives = KR_PERMIT_GUARDS_CLOSED | KR_PERMIT_AIR | KR_PERMIT_ENABLE;
    rig_run_ms(&rig, 50);
    for (uint32_t m = 0; m < metres; m++) {
        rig.in.line_metres++;
        rig_run_ms(&rig, 20);
    }
    rig.in.permissives = 0x1F;
    rig_run_ms(&rig, 100);
    count_metres(metres);
}

/* ---- the balance ----------------------------------------------------------------------------------------------- */

static void judge_knife(int knife)
{
    char query[512];
    snprintf(
        query, sizeof query,
        "SELECT coalesce(h.metres, k.metres), k.earlier_metres + coalesce(h.metres, k.metres), k.grinds FROM "
        "knife k LEFT JOIN holder h ON h.knife = k.knife WHERE k.name = '%s'",
        name_of(knife));
    ledger_expect(&ledger, query, "%u|%u|%u", life[knife], all[knife], grinds[knife]);
    /* each grind has its life */
    snprintf(query, sizeof query,
             "SELECT count(*), coalesce(sum(e.metres), 0) FROM knife_event e JOIN knife k ON k.knife = "
             "e.knife WHERE "
             "k.name = '%s' AND e.kind IN (2, 27)",
             name_of(knife));
    ledger_expect(&ledger, query, "%u|%u", grinds[knife], all[knife] - life[knife]);
}

static void judge(void)
{
    for (int k = 1; k <= KNIVES; k++)
        judge_knife(k);
    ledger_expect(&ledger,
                  "SELECT (SELECT coalesce(sum(metres), 0) FROM knife_event WHERE knife IS NULL) + (SELECT "
                  "coalesce(sum(left_metres), 0) FROM knife_event) + (SELECT coalesce(sum(metres), 0) FROM "
                  "holder WHERE knife = 0)",
                  "%u", all[NAMELESS]);
    ledger_expect(&ledger, "SELECT count(*), max(place) FROM knife WHERE place = 4", "1|4");
    ck_assert_int_ne(broken, 0);
}

START_TEST(the_metres_of_a_year_balance_to_the_metre_and_each_grind_has_its_life)
{
    rig_defaults(&rig, 1, HOLDERS, 1);
    ledger_rig_begin(&ledger, &rig);
    rig_start(&rig);
    rig_to_idle(&rig);
    enter_all();
    for (int i = 1; i <= orders; i++) {
        run_order(i);
        if (draw_chance(&draw, 40))
            maintain(i);
        if (draw_chance(&draw, 2))
            ledger_rig_restart(&ledger);
    }
    judge();
    rig_end(&rig);
    ledger_rig_end(&ledger);
}
END_TEST

Suite *make_suite(void)
{
    orders = suite_argc > 1 ? atoi(suite_argv[1]) : 0;
    draw.state = suite_argc > 2 ? strtoull(suite_argv[2], NULL, 10) : 1;
    if (orders < 1) {
        fprintf(stderr, "usage: test_knife_year ORDERS SEED\n");
        return NULL;
    }
    Suite *suite = suite_create("knife_year");
    TCase *year = suite_case(suite, "year");
    tcase_set_timeout(year, 900);
    tcase_add_test(year, the_metres_of_a_year_balance_to_the_metre_and_each_grind_has_its_life);
    return suite;
}
