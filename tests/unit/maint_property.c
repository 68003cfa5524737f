/* Random maintenance requests between random changeovers, with a printed seed. Whatever is edited, nothing collides,
 * nothing untrue is claimed, no order becomes complete out of tolerance, and no holder cuts that may not cut.
 *
 * maint_property CASES SEED */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "rig.h"
#include "suite.h"

#define ROUNDS 5

static uint64_t seed, state;

/* 64-bit linear congruential generator (Knuth, The Art of Computer Programming, vol. 2, MMIX). */
static int32_t draw(int32_t least, int32_t most)
{
    state = state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return least + (int32_t)((state >> 33) % (uint64_t)(most - least + 1));
}

struct totals {
    unsigned accepted, refused, verified, rejected, stopped;
};

static void expect(const struct rig *rig, bool good, const char *what)
{
    if (!good)
        ck_abort_msg("seed %llu: %s; unit state %d, alarm %d", (unsigned long long)seed, what, (int)rig_state(rig),
                     (int)rig_alarm(rig));
}

/* Where hands could put it between its neighbours, or -1. */
static int32_t room_for(const struct rig *rig, uint16_t rail, uint16_t holder)
{
    const struct sim_rail *r = &rig->machine.axis[rail - 1].rail;
    double left_um = 60000, right_um = 2940000;
    for (int16_t h = 0; h < r->n_holders; h++) {
        if (!r->holder[h].present)
            continue;
        if (h + 1 < holder)
            left_um = r->holder[h].at_um + 60000;
        if (h + 1 > holder && r->holder[h].at_um - 60000 < right_um)
            right_um = r->holder[h].at_um - 60000;
    }
    return left_um < right_um ? draw((int32_t)left_um, (int32_t)right_um) : -1;
}

/* What the world does along with an edit that was accepted. */
static void follow(struct rig *rig, enum kr_edit_kind kind, struct edit_values v)
{
    struct sim_holder *holder = &rig->machine.axis[v.rail - 1].rail.holder[v.holder - 1];
    if (kind == KR_EDIT_ABSENT && holder->present)
        rig_take_off(rig, v.rail, v.holder);
    if (kind == KR_EDIT_INSERT)
        rig_put_on(rig, v.rail, v.holder, v.position_um + draw(-1500, 1500));
    if (kind == KR_EDIT_SWAP || kind == KR_EDIT_SIZE)
        holder->body_um = rig->config.geometry.size_spacing_um[v.holder_size - 1] - 1000;
}

static void edit(struct rig *rig, struct totals *t)
{
    uint16_t n_rails = rig->config.geometry.n_rails, n = rig->config.geometry.rail[0].n_holders;
    enum kr_edit_kind kind = (enum kr_edit_kind)draw(KR_EDIT_OFFSET, KR_EDIT_INSERT);
    struct edit_values v = {.rail = (uint16_t)draw(1, n_rails),
                            .holder = (uint16_t)draw(1, n),
                            .holder_size = (uint16_t)draw(1, 2),
                            .edge_offset_um = draw(-3000, 3000)};
    if (kind == KR_EDIT_INSERT) {
        v.position_um = room_for(rig, v.rail, v.holder);
        if (v.position_um < 0)
            return;
    }
    struct kr_holder_data before = *rig_holder(rig, v.rail, v.holder);
    enum kr_code code = rig_edit(rig, kind, v);
    if (code == KR_OFFSET_STEP && draw(0, 3) > 0) /* it is meant, as a rule */
        code = rig_edit(rig, kind, v);
    if (code == KR_OK) {
        t->accepted++;
        follow(rig, kind, v);
        return;
    }
    t->refused++;
    expect(rig, memcmp(&before, rig_holder(rig, v.rail, v.holder), sizeof before) == 0,
           "a refused edit changed something");
}

static void who_may_not_cut_does_not(const struct rig *rig)
{
    for (uint16_t r = 1; r <= rig->config.geometry.n_rails; r++)
        for (uint16_t h = 1; h <= rig->config.geometry.rail[r - 1].n_holders; h++)
            expect(rig, rig_holder(rig, r, h)->state == KR_HOLDER_IN || rig_cut_of(rig, r, h) == 0,
                   "a holder cuts that may not");
}

static void stop(struct rig *rig, struct totals *t)
{
    t->stopped++;
    rig_command(rig, rig_state(rig) == KR_STATE_ABORTED ? KR_COMMAND_CLEAR : KR_COMMAND_STOP, 0);
    expect(rig, rig_run_until_state(rig, KR_STATE_STOPPED, 20000), "it doesn't stop");
}

static bool under_way(struct rig *rig)
{
    enum kr_unit_state now = rig_state(rig);
    return now != KR_STATE_COMPLETE && now != KR_STATE_HELD && now != KR_STATE_SUSPENDED && now != KR_STATE_ABORTED;
}

/* An order that the last edits may have made impossible is refused in words, by its plan or before. */
static void changeover(struct rig *rig, struct totals *t, uint32_t number)
{
    int32_t width_um[6];
    uint16_t n = (uint16_t)draw(1, 4);
    for (uint16_t i = 0; i < n; i++)
        width_um[i] = draw(60, 400) * 1000;
    int32_t sum_um = 60000;
    for (uint16_t i = 0; i < n; i++)
        sum_um += width_um[i];
    rig_order(rig, number, sum_um, width_um, n);
    rig_request(rig, KR_REQUEST_STAGE);
    bool staged = rig_verdict(rig) == KR_OK;
    t->rejected += !staged;
    rig_to_idle(rig);
    struct start_values start = {KR_JOB_CHANGEOVER, 0, 0, (uint16_t)draw(0, 1), 0};
    if (rig_command_start(rig, start) != KR_OK)
        return;
    expect(rig, rig_run_while(rig, under_way, 3600000), "it doesn't end");
    if (rig_state(rig) != KR_STATE_COMPLETE) {
        stop(rig, t);
        return;
    }
    t->verified++;
    expect(rig, rig_u16(rig, KR_REG_RECORD_RESULT, 0, 0) == KR_OUTCOME_VERIFIED, "complete, but not verified");
    expect(rig, rig_worst_edge_um(rig) <= rig->config.geometry.tolerance_um + 20, "complete out of tolerance");
    who_may_not_cut_does_not(rig);
}

static void one_case(struct totals *t)
{
    struct rig rig;
    state = seed;
    rig_defaults(&rig, (uint16_t)draw(1, 2), (uint16_t)draw(5, 9), 1);
    rig.sim_config.seed = seed;
    rig_start(&rig);
    for (uint32_t round = 0; round < ROUNDS; round++) {
        for (int i = draw(0, 3); i > 0; i--)
            edit(&rig, t);
        changeover(&rig, t, round + 1);
        expect(&rig, sim_machine_collision(&rig.machine) == NULL, "a collision");
        expect(&rig, !rig.false_measured, "measured, but not there");
    }
    rig_end(&rig);
}

static unsigned cases;
static struct totals totals;

START_TEST(whatever_is_edited_nothing_untrue_is_claimed)
{
    printf("seeds from %llu\n", (unsigned long long)seed);
    for (unsigned i = 0; i < cases; i++, seed++)
        one_case(&totals);
    printf("%u cases: %u edits accepted, %u refused; %u changeovers verified, %u stopped; %u orders "
           "rejected\n",
           cases, totals.accepted, totals.refused, totals.verified, totals.stopped, totals.rejected);
    ck_assert_uint_gt(totals.accepted, cases);
    ck_assert_uint_gt(totals.verified, cases);
}
END_TEST

Suite *make_suite(void)
{
    if (suite_argc != 3) {
        fprintf(stderr, "usage: maint_property CASES SEED\n");
        return NULL;
    }
    cases = (unsigned)strtoul(suite_argv[1], NULL, 10);
    seed = strtoull(suite_argv[2], NULL, 10);
    Suite *suite = suite_create("random maintenance");
    TCase *tc = suite_case(suite, "random");
    tcase_set_timeout(tc, 0);
    tcase_add_test(tc, whatever_is_edited_nothing_untrue_is_claimed);
    return suite;
}
