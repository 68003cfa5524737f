/* Tests of references on the frame: a scan finds them where they were taught, or tells how far the rail is off, and
 * corrects it by that. The tests compare with the true positions of holders and knives. */
#include <stdlib.h>
#include <string.h>

#include "../long/draw.h"
#include "rig.h"
#include "suite.h"

#define FLAG_UM (8 * MM)

/* ---- the pattern alone ----------------------------------------------------------------------------------------- */

static struct kr_references pattern_of(const int32_t at_mm[], uint16_t n, uint16_t n_low)
{
    struct kr_references p = {.n = n, .n_low = n_low, .window_um = 1 * MM, .step_um = 300};
    for (uint16_t i = 0; i < n; i++)
        p.flag[i] = (struct kr_reference){at_mm[i] * MM, FLAG_UM};
    return p;
}

static const int32_t upper_mm[] = {-60, -20, 520, 540}, lower_mm[] = {-70, -20, 520, 590};

/* Flags of five holders between the references, all shifted; the references whose bits are set are missing. */
static uint16_t seen(const struct kr_references *p, bool mirrored, unsigned missing, int32_t shift_um,
                     struct kr_hit hit[])
{
    uint16_t n = 0;
    for (uint16_t i = 0; i < p->n + 5; i++) {
        uint16_t low = mirrored ? (uint16_t)(p->n - p->n_low) : p->n_low;
        bool holder = i >= low && i < low + 5;
        uint16_t k = (uint16_t)(i < low ? i : i - 5);
        int32_t at_um = holder ? (60 + 90 * (i - low)) * MM : 0;
        if (!holder && missing >> k & 1u)
            continue;
        if (!holder)
            at_um = mirrored ? -p->flag[p->n - 1 - k].at_um : p->flag[k].at_um;
        else if (mirrored)
            at_um = -(60 + 90 * (4 - (i - low))) * MM;
        hit[n++] = (struct kr_hit){at_um + shift_um, FLAG_UM};
    }
    return n;
}

START_TEST(a_pattern_is_found_wherever_it_was_shifted_to_also_with_one_flag_missing)
{
    static const int32_t shifts_um[] = {0, 700, -5000, 90 * MM, -1234567, 20000 * MM};
    struct kr_references p = pattern_of(upper_mm, 4, 2);
    for (int missing = -1; missing < 4; missing++) {
        struct kr_hit hit[16];
        uint16_t n = seen(&p, false, missing < 0 ? 0 : 1u << missing, shifts_um[_i], hit);
        struct kr_pattern_found found = kr_pattern_find(&p, false, hit, n);
        ck_assert_int_eq(found.n, missing < 0 ? 4 : 3);
        ck_assert_int_eq(found.shift_um, shifts_um[_i]);
        for (int i = 0; i < 4; i++)
            ck_assert_int_eq(found.hit[i] == 0, i == missing);
    }
}
END_TEST

START_TEST(another_rails_pattern_and_the_mirrored_one_are_told_from_its_own)
{
    struct kr_references own = pattern_of(upper_mm, 4, 2), other = pattern_of(lower_mm, 4, 2);
    struct kr_hit hit[16];
    uint16_t n = seen(&other, false, 0, 12345, hit);
    ck_assert_int_eq(kr_pattern_find(&other, false, hit, n).n, 4);
    ck_assert_int_lt(kr_pattern_find(&own, false, hit, n).n, 4);
    n = seen(&own, true, 0, -777, hit);
    ck_assert_int_eq(kr_pattern_find(&own, true, hit, n).n, 4);
    ck_assert_int_lt(kr_pattern_find(&own, false, hit, n).n, 4);
    ck_assert(!kr_patterns_alike(&own, &other, false));
    ck_assert(!kr_patterns_alike(&own, &own, true));
    ck_assert(kr_patterns_alike(&own, &own, false));
}
END_TEST

/* Against a line that is known: whatever is drawn, within what rounding to micrometres leaves. */
START_TEST(the_line_of_random_references_is_found_and_one_that_was_bent_is_set_apart)
{
    struct draw d = {(uint64_t)_i};
    struct kr_off off[KR_REFERENCES_MAX];
    uint16_t n = (uint16_t)draw_between(&d, 2, KR_REFERENCES_MAX), bent = n; /* none */
    int32_t slope_ppm = draw_between(&d, -500, 500), off_um = draw_between(&d, -2000, 2000);
    for (uint16_t i = 0; i < n; i++) {
        off[i].at_um = -100 * MM + 3200 * MM / (n - 1) * i;
        off[i].off_um = off_um + (int32_t)((int64_t)slope_ppm * off[i].at_um / 1000000);
    }
    if (n > 3 && draw_chance(&d, 50)) {
        bent = (uint16_t)draw_between(&d, 0, n - 1);
        off[bent].off_um += draw_chance(&d, 50) ? 400 : -400;
    }
    struct kr_off_line line = kr_off_line_through(off, n, 100, 1500 * MM);
    for (uint16_t i = 0; i < n; i++) {
        int32_t should_um = off_um + (int32_t)((int64_t)slope_ppm * off[i].at_um / 1000000);
        ck_assert_int_eq(off[i].apart, i == bent);
        ck_assert_msg(abs(kr_off_line_um(&line, off[i].at_um) - should_um) <= 3, "seed %d", _i);
    }
}
END_TEST

/* ---- a station with references --------------------------------------------------------------------------------- */

static void give(struct rig *rig, uint16_t r, const int32_t at_mm[], uint16_t n, uint16_t n_low)
{
    struct sim_rail_config *m = &rig->sim_config.rail[r];
    rig->config.carriage[r].references = pattern_of(at_mm, n, n_low);
    m->n_references = n;
    for (uint16_t i = 0; i < n; i++)
        m->reference[i] = (struct sim_reference_config){at_mm[i] * MM, FLAG_UM};
}

static void with_references(struct rig *rig)
{
    rig_small_ordinary(rig, 2);
    for (uint16_t r = 0; r < 2; r++)
        rig->config.carriage[r].jump_um = 20 * MM;
    give(rig, 0, upper_mm, 4, 2);
    give(rig, 1, lower_mm, 4, 2);
}

static void begin_set_up(struct rig *rig)
{
    with_references(rig);
    rig_begin(rig);
    rig_set_up_small(rig);
}

/* By the rail's first alarm; nothing of the rail is measured. */
static struct kr_alarm held_by(struct rig *rig, enum kr_alarm_code code)
{
    struct kr_alarm alarm = rig_held_by(rig, code);
    rig_nothing_is_measured(rig, 0);
    return alarm;
}

static int32_t datum_um(const struct rig *rig)
{
    return rig_um(rig, KR_REG_DATUM_CORRECTION, 0, 0);
}

static int32_t switch_um(const struct rig *rig)
{
    return rig_um(rig, KR_REG_SWITCH_CORRECTION, 0, 0);
}

static void scan_once(struct rig *rig)
{
    rig_start_job(rig, KR_JOB_SCAN);
    rig_until_complete(rig);
    rig_reset(rig);
}

static void move_holder(struct rig *rig, uint16_t holder, int32_t to_mm)
{
    struct start_values move = {.job = KR_JOB_MOVE, .rail = 1, .holder = holder, .position_um = to_mm * MM};
    ck_assert_int_eq(rig_command_start(rig, move), KR_OK);
    rig_until_complete(rig);
    rig_reset(rig);
}

START_TEST(every_scan_passes_all_references_and_a_rail_that_is_right_stays_as_it_is)
{
    struct rig rig;
    begin_set_up(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_REFERENCES, 0, 0), 4);
    for (uint16_t i = 0; i < 4; i++)
        ck_assert_int_eq(rig_um(&rig, KR_REG_REFERENCE_PLACE, 0, i), rig.config.carriage[0].references.flag[i].at_um);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_REFERENCES_GOOD, 0, 0), 0xF);
    ck_assert_int_le(abs(datum_um(&rig)), 30);
    ck_assert_int_le(abs(switch_um(&rig)), 30);
    rig_end(&rig);
}
END_TEST

/* What RAIL_SHIFTED holds for without references, and what nobody notices before the first scan. */
START_TEST(a_datum_that_shifted_by_less_than_a_step_is_taken_off_and_the_knives_are_truly_right)
{
    static const int32_t shifts_um[] = {250, -250, 90, -90};
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, shifts_um[_i / 2]);
    if (_i % 2)
        rig_open_and_close_guards(&rig);
    rig_change_over_again(&rig);
    rig_ends_verified(&rig);
    ck_assert_int_le(abs(datum_um(&rig) + shifts_um[_i / 2]), 40);
    ck_assert_int_le(abs(rig_um(&rig, KR_REG_REFERENCE_TREND, 0, 0) - shifts_um[_i / 2]), 40);
    rig_end(&rig);
}
END_TEST

START_TEST(a_datum_that_was_wrong_before_the_first_scan_is_taken_off_within_the_window)
{
    struct rig rig;
    with_references(&rig);
    rig_start(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 700);
    rig_to_idle(&rig);
    rig_stage(&rig, 1);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    ck_assert_int_le(abs(datum_um(&rig) + 700), 40);
    rig_end(&rig);
}
END_TEST

static const int32_t steps_um[] = {700, -700, 5000, -5000};

START_TEST(beyond_a_step_it_holds_and_names_the_shift_and_when_mended_it_goes_on)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, steps_um[_i]);
    rig_open_and_close_guards(&rig);
    rig_change_over_again(&rig);
    struct kr_alarm alarm = held_by(&rig, KR_ALARM_REFERENCES_SHIFTED);
    ck_assert_int_le(abs(alarm.value - steps_um[_i]), 40);
    ck_assert_int_eq(alarm.limit, 300);
    ck_assert_int_eq(rig_um(&rig, KR_REG_RAIL_SHIFT, 0, 0), alarm.value);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    held_by(&rig, KR_ALARM_REFERENCES_SHIFTED);
    rig_mend(&rig, 0, SIM_DATUM_SHIFTED, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* As the remedy says: mended, Unhold. Nobody has to give Reset after a scan that has found the rail right. */
START_TEST(a_shift_that_was_mended_is_no_alarm_any_more_once_the_scan_has_found_the_rail_right)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, steps_um[_i]);
    rig_open_and_close_guards(&rig);
    rig_change_over_again(&rig);
    held_by(&rig, KR_ALARM_REFERENCES_SHIFTED);
    rig_mend(&rig, 0, SIM_DATUM_SHIFTED, 0);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_REFERENCES_SHIFTED));
    rig_ends_verified(&rig);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_REFERENCES_SHIFTED));
    ck_assert_uint_ne(rig_line_status(&rig) & KR_LINE_MAY_RUN, 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_shift_that_a_person_confirms_is_taken_off)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, steps_um[_i]);
    rig_open_and_close_guards(&rig);
    rig_change_over_again(&rig);
    struct kr_alarm alarm = held_by(&rig, KR_ALARM_REFERENCES_SHIFTED);
    struct edit_values values = {.rail = 1, .position_um = alarm.value};
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SHIFT, values), KR_OK);
    rig_resume(&rig, KR_COMMAND_UNHOLD);
    rig_ends_verified(&rig);
    ck_assert_int_le(abs(datum_um(&rig) + steps_um[_i]), 40);
    rig_set_up_again(&rig); /* and now it is no step any more */
    rig_end(&rig);
}
END_TEST

/* Each step is small enough; since they were taught it is too much in the end. */
START_TEST(what_creeps_from_scan_to_scan_is_kept_and_ends_at_the_window)
{
    struct rig rig;
    begin_set_up(&rig);
    for (int k = 1; k <= 4; k++) {
        rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 240 * k);
        rig_scan_again(&rig);
        rig_until_complete(&rig);
    }
    for (uint16_t k = 0; k < 4; k++)
        ck_assert_int_le(abs(rig_um(&rig, KR_REG_REFERENCE_TREND, 0, k) - 240 * (4 - k)), 40);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 1200);
    rig_scan_again(&rig);
    struct kr_alarm alarm = held_by(&rig, KR_ALARM_REFERENCES_SHIFTED);
    ck_assert_int_le(abs(alarm.value - 1200), 40);
    ck_assert_int_eq(alarm.limit, 1000);
    rig_end(&rig);
}
END_TEST

START_TEST(what_was_found_survives_a_restart)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 250);
    rig_scan_again(&rig);
    rig_until_complete(&rig);
    int32_t before_um = datum_um(&rig), trend_um[KR_REFERENCE_TREND];
    ck_assert_int_le(abs(before_um + 250), 40);
    for (uint16_t k = 0; k < KR_REFERENCE_TREND; k++)
        trend_um[k] = rig_um(&rig, KR_REG_REFERENCE_TREND, 0, k);
    ck_assert_int_le(abs(trend_um[0] - 250), 40);
    rig_restart(&rig);
    rig_run_ms(&rig, 500);
    ck_assert_int_eq(datum_um(&rig), before_um);
    for (uint16_t k = 0; k < KR_REFERENCE_TREND; k++)
        ck_assert_int_eq(rig_um(&rig, KR_REG_REFERENCE_TREND, 0, k), trend_um[k]);
    rig_to_idle(&rig);
    rig_stage(&rig, 3);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    ck_assert_int_le(abs(datum_um(&rig) + 250), 40);
    rig_end(&rig);
}
END_TEST

/* A warmer rail takes its holders and its drive's counts along: without references nobody notices. */
START_TEST(a_warmer_rail_is_taken_off_by_its_slope)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_GUARDS_OPENED, 0, 0); /* the holders move with the rail: what was measured is no more */
    rig_run_ms(&rig, 200);
    rig_break(&rig, 0, SIM_RAIL_WARMER, 0, 400);
    rig_mend(&rig, 0, SIM_GUARDS_OPENED, 0);
    rig_run_ms(&rig, 200);
    rig_change_over_again(&rig);
    rig_ends_verified(&rig);
    ck_assert_int_le(abs(rig_i32(&rig, KR_REG_SCALE_CORRECTION, 0, 0) - 400000), 60000);
    rig_end(&rig);
}
END_TEST

/* Raw scan less placed: of holders that were dragged it is the switch's. Until then all of it is the datum's. */
START_TEST(a_bumped_bracket_counts_as_the_datums_until_dragged_holders_were_scanned)
{
    static const int32_t bumps_um[] = {250, -250, 150};
    int32_t bump_um = bumps_um[_i];
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_BRACKET_BUMPED, 0, bump_um);
    rig_scan_again(&rig);
    rig_until_complete(&rig);
    ck_assert_int_le(abs(datum_um(&rig) - bump_um), 40);
    ck_assert_int_le(abs(switch_um(&rig)), 30);
    rig_is_honest(&rig); /* whichever it is, what was scanned is where it is said to be */
    rig_reset(&rig);
    for (uint16_t h = 3; h <= 5; h++) {
        struct start_values move = {
            .job = KR_JOB_MOVE, .rail = 1, .holder = h, .position_um = (40 + 90 * (h - 1)) * MM};
        ck_assert_int_eq(rig_command_start(&rig, move), KR_OK);
        rig_until_complete(&rig);
        rig_reset(&rig);
    }
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_complete(&rig);
    ck_assert_int_le(abs(switch_um(&rig) - bump_um), 40);
    ck_assert_int_le(abs(datum_um(&rig)), 40);
    rig_is_honest(&rig);
    rig_stage(&rig, 4);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    ck_assert_int_le(abs(switch_um(&rig) - bump_um), 40);
    rig_end(&rig);
}
END_TEST

START_TEST(exchanged_drives_are_named_with_the_rail_whose_references_were_found)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_DRIVES_EXCHANGED, 0, 0);
    rig_open_and_close_guards(&rig);
    rig_change_over_again(&rig);
    struct kr_alarm alarm = held_by(&rig, KR_ALARM_REFERENCES_EXCHANGED);
    ck_assert_uint_eq(alarm.item, 2);
    rig_end(&rig);
}
END_TEST

/* Another station's: its pattern is none of this station. */
START_TEST(a_pattern_of_no_rail_is_told_as_such)
{
    static const int32_t strange_mm[] = {-50, -20, 533, 557};
    struct rig rig;
    with_references(&rig);
    for (uint16_t i = 0; i < 4; i++)
        rig.sim_config.rail[0].reference[i].at_um = strange_mm[i] * MM;
    rig_begin(&rig);
    rig_stage(&rig, 1);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    struct kr_alarm alarm = held_by(&rig, KR_ALARM_REFERENCES_EXCHANGED);
    ck_assert_uint_eq(alarm.item, 0);
    rig_end(&rig);
}
END_TEST

/* The axis counts the other way: whatever the switch sees comes in a mirror about the middle of the rail. */
START_TEST(a_reversed_axis_is_named_as_such_and_nothing_is_measured)
{
    struct rig rig;
    with_references(&rig);
    for (uint16_t i = 0; i < 4; i++)
        rig.sim_config.rail[0].reference[i].at_um = 480 * MM - upper_mm[3 - i] * MM;
    rig_begin(&rig);
    rig_stage(&rig, 1);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    struct kr_alarm alarm = held_by(&rig, KR_ALARM_REFERENCES_MIRRORED);
    ck_assert_int_eq(alarm.value, 4);
    ck_assert_int_eq(alarm.limit, 4);
    rig_end(&rig);
}
END_TEST

/* _i: which one; the faults by turns. */
START_TEST(one_of_several_that_is_dirty_or_missing_is_a_notice)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, _i % 2 ? SIM_REFERENCE_MISSING : SIM_REFERENCE_DIRTY, (uint16_t)(_i / 2), _i % 2 ? 0 : 3000);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 200);
    rig_change_over_again(&rig);
    rig_ends_verified(&rig);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_REFERENCE_BAD));
    ck_assert_int_eq(rig_first_alarm(&rig).item, _i / 2 + 1);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_REFERENCES_GOOD, 0, 0), 0xFu & ~(1u << (unsigned)_i / 2));
    ck_assert_int_le(abs(datum_um(&rig) + 200), 40);
    rig_end(&rig);
}
END_TEST

START_TEST(fewer_than_two_good_ones_are_an_alarm_and_nothing_is_measured)
{
    struct rig rig;
    begin_set_up(&rig);
    for (uint16_t i = 0; i < 3; i++)
        rig_break(&rig, 0, i == 1 ? SIM_REFERENCE_DIRTY : SIM_REFERENCE_MISSING, i, i == 1 ? 2000 : 0);
    rig_scan_again(&rig);
    struct kr_alarm alarm = held_by(&rig, KR_ALARM_REFERENCES_UNSEEN);
    ck_assert_int_eq(alarm.limit, 4);
    rig_end(&rig);
}
END_TEST

/* _i: dirty, missing, or there. */
START_TEST(the_only_one_that_is_dirty_or_missing_is_an_alarm)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    give(&rig, 0, (const int32_t[]){-30}, 1, 1);
    rig_begin(&rig);
    rig_set_up_small(&rig);
    if (_i < 2)
        rig_break(&rig, 0, _i ? SIM_REFERENCE_MISSING : SIM_REFERENCE_DIRTY, 0, _i ? 0 : 2000);
    else
        rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 90);
    rig_scan_again(&rig);
    if (_i < 2) {
        ck_assert_int_eq(held_by(&rig, KR_ALARM_REFERENCES_UNSEEN).limit, 1);
        rig_end(&rig);
        return;
    }
    rig_until_complete(&rig);
    ck_assert_int_le(abs(datum_um(&rig) + 90), 40);
    rig_is_honest(&rig);
    rig_end(&rig);
}
END_TEST

/* While the gateway does not run, the first reference is taken off the frame and out of the station file, so that the
 * others count from 1 less. _i: all look alike, or the first one was wider. Or it comes back. */
START_TEST(a_reference_that_is_taken_off_or_put_on_between_two_runs_makes_none_of_the_others_bad)
{
    static const int32_t first_um[] = {FLAG_UM, 12 * MM, 12 * MM};
    struct rig rig;
    with_references(&rig);
    struct kr_references *told = &rig.config.carriage[0].references, all;
    told->flag[0].width_um = rig.sim_config.rail[0].reference[0].width_um = first_um[_i];
    all = *told;
    struct kr_references fewer = {.n = 3, .n_low = 1, .window_um = all.window_um, .step_um = all.step_um};
    memcpy(fewer.flag, &all.flag[1], sizeof fewer.flag - sizeof fewer.flag[0]);
    rig_begin(&rig);
    if (_i == 2) { /* begins without it */
        rig_break(&rig, 0, SIM_REFERENCE_MISSING, 0, 0);
        *told = fewer;
        rig_restart(&rig);
        rig_to_idle(&rig);
    }
    rig_set_up_small(&rig);
    rig_run_ms(&rig, 500);
    if (_i == 2)
        rig_mend(&rig, 0, SIM_REFERENCE_MISSING, 0);
    else
        rig_break(&rig, 0, SIM_REFERENCE_MISSING, 0, 0);
    *told = _i == 2 ? all : fewer;
    rig_restart(&rig);
    rig_to_idle(&rig);
    rig_stage(&rig, 3);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_REFERENCE_BAD));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_REFERENCES_GOOD, 0, 0), _i == 2 ? 0xF : 0x7);
    rig_end(&rig);
}
END_TEST

/* How wide each looks is kept: dirt that came while the gateway was not running, or since a homing, is none the less
 * dirt. It would move the middle of the flag by half of it, and be taken for a datum that shifted. */
START_TEST(dirt_is_seen_also_where_it_came_behind_a_restart_or_a_homing)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_run_ms(&rig, 500);
    rig_break(&rig, 0, SIM_REFERENCE_DIRTY, 0, 450); /* as told, within an eighth */
    if (_i == 0) {
        rig_restart(&rig);
        rig_to_idle(&rig);
    } else {
        rig_reset(&rig);
        rig_start_job(&rig, KR_JOB_HOME);
        rig_until_complete(&rig);
        rig_reset(&rig);
    }
    rig_stage(&rig, 3);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_REFERENCE_BAD));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_REFERENCES_GOOD, 0, 0), 0xE);
    ck_assert_int_le(abs(datum_um(&rig)), 40);
    rig_end(&rig);
}
END_TEST

START_TEST(dirt_that_grows_a_little_from_scan_to_scan_is_seen_in_the_end)
{
    struct rig rig;
    begin_set_up(&rig);
    for (int32_t dirt_um = 80; dirt_um <= 240; dirt_um += 80) {
        rig_break(&rig, 0, SIM_REFERENCE_DIRTY, 0, dirt_um);
        rig_scan_again(&rig);
        rig_until_complete(&rig);
        bool bad = rig_has_alarm(&rig, KR_ALARM_REFERENCE_BAD);
        ck_assert_msg(bad == (dirt_um > FLAG_UM / 64), "%d um of dirt", dirt_um);
    }
    rig_end(&rig);
}
END_TEST

/* A drive that was exchanged for that of a rail with two references would be as here; but so is a rail with one, whose
 * holders stand by chance as the other rail's references do. */
START_TEST(a_rail_with_one_reference_in_its_place_is_not_taken_for_another_rail)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    give(&rig, 0, (const int32_t[]){-30}, 1, 1);
    give(&rig, 1, (const int32_t[]){-70, -20, 20 + 500, 570}, 4, 2);
    for (uint16_t h = 0; h < 2; h++) { /* so that flags 1 and 2 stand 50 mm from each other */
        rig.sim_config.rail[0].holder[h].start_um = (h == 0 ? 20 : 71) * MM;
        rig.book.holder[0][h].position_um = (h == 0 ? 20 : 71) * MM;
    }
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_complete(&rig);
    ck_assert_int_le(abs(datum_um(&rig)), 30);
    rig_end(&rig);
}
END_TEST

static void make_wide(struct rig *rig, uint16_t r, int32_t width_um)
{
    for (uint16_t i = 0; i < rig->config.carriage[r].references.n; i++) {
        rig->config.carriage[r].references.flag[i].width_um = width_um;
        rig->sim_config.rail[r].reference[i].width_um = width_um;
    }
}

static void put(struct rig *rig, uint16_t r, uint16_t h, int32_t at_mm)
{
    rig->sim_config.rail[r].holder[h].start_um = at_mm * MM;
    rig->book.holder[r][h].position_um = at_mm * MM;
}

/* The rail's only reference and two of its holders stand as far apart as all three references of the other rail. These
 * are wider than a holder's flag. */
START_TEST(a_rail_whose_holders_stand_like_another_rails_references_is_not_taken_for_it)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    give(&rig, 0, (const int32_t[]){-30}, 1, 1);
    give(&rig, 1, (const int32_t[]){-112, -62, -11}, 3, 3);
    make_wide(&rig, 1, 12 * MM);
    put(&rig, 0, 0, 20);
    put(&rig, 0, 1, 71);
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_complete(&rig);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_REFERENCES_EXCHANGED));
    ck_assert_int_le(abs(datum_um(&rig)), 30);
    rig_end(&rig);
}
END_TEST

/* One reference is missing, and two holders stand where the mirrored pattern would have references: three in their
 * places say more than four by chance. */
START_TEST(a_rail_whose_holders_stand_like_its_references_in_a_mirror_is_not_taken_for_reversed)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    give(&rig, 0, (const int32_t[]){-122, -71, -20, 520}, 4, 3);
    give(&rig, 1, lower_mm, 4, 2);
    make_wide(&rig, 0, 12 * MM);
    put(&rig, 0, 3, 418);
    put(&rig, 0, 4, 469);
    rig_begin(&rig);
    rig_break(&rig, 0, SIM_REFERENCE_MISSING, 1, 0);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_complete(&rig);
    ck_assert(!rig_has_alarm(&rig, KR_ALARM_REFERENCES_MIRRORED));
    ck_assert_int_le(abs(datum_um(&rig)), 30);
    rig_end(&rig);
}
END_TEST

/* Of two references one is gone, and two holders stand as far apart as both. The other reference is in its place, and
 * these are wider than a holder's flag. */
START_TEST(a_rail_with_one_reference_left_is_not_taken_for_reversed)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    give(&rig, 0, (const int32_t[]){521, 572}, 2, 0);
    make_wide(&rig, 0, 12 * MM);
    put(&rig, 0, 0, 20);
    put(&rig, 0, 1, 71);
    rig_begin(&rig);
    rig_break(&rig, 0, SIM_REFERENCE_MISSING, 0, 0);
    rig_start_job(&rig, KR_JOB_SCAN);
    ck_assert_int_eq(held_by(&rig, KR_ALARM_REFERENCES_UNSEEN).limit, 2);
    rig_end(&rig);
}
END_TEST

/* The only reference is gone. All that is left are the holders, where they are known to be, and two of them stand as
 * the other rail's references do, which look like a holder's flag. */
START_TEST(a_rail_without_its_only_reference_is_not_taken_for_another_rail)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    give(&rig, 0, (const int32_t[]){-30}, 1, 1);
    give(&rig, 1, (const int32_t[]){-71, -20}, 2, 2);
    put(&rig, 0, 0, 20);
    put(&rig, 0, 1, 71);
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_complete(&rig);
    rig_reset(&rig);
    rig_break(&rig, 0, SIM_REFERENCE_MISSING, 0, 0);
    rig_start_job(&rig, KR_JOB_SCAN);
    ck_assert_int_eq(held_by(&rig, KR_ALARM_REFERENCES_UNSEEN).limit, 1);
    rig_end(&rig);
}
END_TEST

/* The datum has shifted, so that neither the only reference nor a holder is where it was. But they have all shifted
 * alike. */
START_TEST(a_rail_that_has_shifted_is_not_taken_for_another_rail)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    give(&rig, 0, (const int32_t[]){-30}, 1, 1);
    give(&rig, 1, (const int32_t[]){521, 572}, 2, 0);
    put(&rig, 0, 3, 418);
    put(&rig, 0, 4, 469);
    rig_begin(&rig);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_complete(&rig);
    rig_reset(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 2000);
    rig_start_job(&rig, KR_JOB_SCAN);
    ck_assert_int_le(abs(held_by(&rig, KR_ALARM_REFERENCES_SHIFTED).value - 2000), 40);
    rig_end(&rig);
}
END_TEST

/* The reference says one shift, the holders another, since the scale is off, too: who has confirmed what the reference
 * says is not asked again for what the holders say, and then again for the reference. */
START_TEST(a_shift_by_the_only_reference_that_a_person_confirms_is_not_asked_for_in_turns)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    give(&rig, 0, (const int32_t[]){-30}, 1, 1);
    rig.claim_um = 2 * MM; /* a scale is not found by one */
    rig_begin(&rig);
    rig_set_up_small(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 500);
    rig_break(&rig, 0, SIM_SCALE_OFF, 0, 1500);
    rig_scan_again(&rig);
    for (int k = 0; k < 2 && rig_state(&rig) != KR_STATE_COMPLETE; k++) {
        rig_until_state(&rig, KR_STATE_HELD);
        struct edit_values values = {.rail = 1, .position_um = rig_first_alarm(&rig).value};
        ck_assert_int_eq(rig_edit(&rig, KR_EDIT_SHIFT, values), KR_OK);
        rig_resume(&rig, KR_COMMAND_UNHOLD);
        rig_run_ms(&rig, 60000);
    }
    ck_assert_int_eq(rig_state(&rig), KR_STATE_COMPLETE);
    rig_end(&rig);
}
END_TEST

/* The datum slips behind the moves and before the scan: what was dragged says that it was the switch. Mended, both are
 * wrong by the same, and only holders that are dragged can tell; here one alone is. */
START_TEST(one_holder_that_is_found_off_alike_three_times_tells_of_the_switch)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_reset(&rig);
    for (uint16_t h = 3; h <= 4; h++) {
        struct start_values move = {
            .job = KR_JOB_MOVE, .rail = 1, .holder = h, .position_um = (50 + 90 * (h - 1)) * MM};
        ck_assert_int_eq(rig_command_start(&rig, move), KR_OK);
        rig_until_complete(&rig);
        rig_reset(&rig);
    }
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 250);
    rig_start_job(&rig, KR_JOB_SCAN);
    rig_until_complete(&rig);
    rig_reset(&rig);
    ck_assert_int_ge(abs(switch_um(&rig)), 200);
    for (int k = 0; k < 3; k++) {
        ck_assert_int_ge(abs(switch_um(&rig)), 200);
        struct start_values move = {
            .job = KR_JOB_MOVE, .rail = 1, .holder = 5, .position_um = (420 + 10 * (k % 2)) * MM};
        ck_assert_int_eq(rig_command_start(&rig, move), KR_OK);
        rig_until_complete(&rig);
        rig_reset(&rig);
        rig_start_job(&rig, KR_JOB_SCAN);
        rig_until_complete(&rig);
        rig_is_honest(&rig);
        rig_reset(&rig);
    }
    ck_assert_int_le(abs(switch_um(&rig)), 40);
    ck_assert_int_le(abs(datum_um(&rig) + 250), 40);
    rig_end(&rig);
}
END_TEST

/* A coupling slips and is set back, or an encoder fails for a while: no scan has seen it, but holders were dragged by a
 * datum that was off. The references stand where they stood, so neither datum nor switch has changed. Laid on the
 * datum, and the opposite on the switch, the error would keep the pin from ever docking again. */
START_TEST(a_datum_that_came_back_before_a_scan_lays_nothing_on_datum_and_switch)
{
    static const int32_t away_um[] = {-1450, 1450, 600, -600};
    struct rig rig;
    begin_set_up(&rig);
    rig_reset(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, away_um[_i]);
    move_holder(&rig, 3, 230);
    move_holder(&rig, 4, 320);
    rig_mend(&rig, 0, SIM_DATUM_SHIFTED, 0);
    scan_once(&rig);
    ck_assert_int_le(abs(datum_um(&rig)), 40);
    ck_assert_int_le(abs(switch_um(&rig)), 40);
    rig_is_honest(&rig);
    rig_set_up_again(&rig);
    rig_end(&rig);
}
END_TEST

/* A bracket and a datum that move against each other by the same: the references stand where they stood, and only what
 * is dragged tells it, again and again. */
START_TEST(a_switch_and_a_datum_that_are_off_by_the_opposite_are_told_by_three_scans)
{
    static const int32_t off_um[] = {700, -700};
    struct rig rig;
    begin_set_up(&rig);
    rig_reset(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, off_um[_i]);
    rig_break(&rig, 0, SIM_BRACKET_BUMPED, 0, off_um[_i]);
    for (int k = 0; k < 3; k++) {
        ck_assert_int_le(abs(switch_um(&rig)), 40);
        move_holder(&rig, 3, 230 + 10 * (k % 2));
        move_holder(&rig, 4, 320 + 10 * (k % 2));
        scan_once(&rig);
        rig_is_honest(&rig);
    }
    ck_assert_int_le(abs(switch_um(&rig) - off_um[_i]), 40);
    ck_assert_int_le(abs(datum_um(&rig) + off_um[_i]), 40);
    rig_set_up_again(&rig);
    rig_end(&rig);
}
END_TEST

/* By homing the datum is where it was taught. */
START_TEST(homing_takes_back_what_was_found_of_the_datum)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 250);
    rig_scan_again(&rig);
    rig_until_complete(&rig);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_HOME);
    rig_until_complete(&rig);
    ck_assert_int_eq(datum_um(&rig), 0);
    rig_change_over_again(&rig);
    rig_ends_verified(&rig);
    ck_assert_int_le(abs(datum_um(&rig)), 40);
    rig_end(&rig);
}
END_TEST

/* _i: the seed. Steps of datum, bracket and scale within what is taken off, dirt and hands between them: whatever is
 * verified is true. rig_ends_verified() and rig_is_honest() look at where everything truly stands. */
START_TEST(whatever_creeps_by_chance_what_is_verified_is_true)
{
    struct rig rig;
    struct draw d = {(uint64_t)_i};
    int32_t shift_um = 0, bump_um = 0, warmer_ppm = 0;
    begin_set_up(&rig);
    for (int k = 0; k < 3; k++) {
        shift_um += draw_between(&d, -80, 80);
        bump_um += draw_between(&d, -80, 80);
        warmer_ppm += draw_between(&d, -100, 100);
        rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, shift_um);
        rig_break(&rig, 0, SIM_BRACKET_BUMPED, 0, bump_um);
        rig_break(&rig, 0, SIM_RAIL_WARMER, 0, warmer_ppm);
        if (draw_chance(&d, 50))
            rig_open_and_close_guards(&rig);
        rig_reset(&rig);
        rig_stage(&rig, (uint32_t)(10 + k));
        rig_start_job(&rig, KR_JOB_CHANGEOVER);
        rig_ends_verified(&rig);
    }
    rig_end(&rig);
}
END_TEST

/* ---- the way back ---------------------------------------------------------------------------------------------- */

static void lose_datum(struct rig *rig, int32_t by_um)
{
    rig_break(rig, 0, SIM_DRIVE_FAULT, 0, 0x7305);
    rig_run_ms(rig, 100);
    rig_break(rig, 0, SIM_POSITION_JUMP, 0, by_um);
    rig_run_ms(rig, 100);
    rig_mend(rig, 0, SIM_DRIVE_FAULT, 0);
    rig_run_ms(rig, 100);
}

static const int32_t lost_um[] = {123456, -777777, 1000000, -1000000, 300};

/* The battery failed over the weekend, and the rail is 12 K colder than the frame. */
START_TEST(after_a_battery_fault_the_references_give_the_datum_back)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_GUARDS_OPENED, 0, 0);
    lose_datum(&rig, lost_um[_i]);
    rig_break(&rig, 0, SIM_RAIL_WARMER, 0, -138);
    rig_mend(&rig, 0, SIM_GUARDS_OPENED, 0);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_ENCODER_BLAMED));
    rig_reset(&rig);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_START, KR_JOB_CHANGEOVER), KR_NOT_HOMED);
    struct start_values find = {.job = KR_JOB_FIND, .rail = 1};
    ck_assert_int_eq(rig_command_start(&rig, find), KR_OK);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_FINDING);
    ck_assert_int_eq(rig.out.axis[0].torque_permille, rig.config.carriage[0].setup_torque_permille);
    while (rig_carriage_phase(&rig, 0) == KR_CARRIAGE_FINDING) {
        rig_cycle(&rig);
        ck_assert_int_le(abs(sim_machine_speed_um_per_s(&rig.machine, 0)),
                         rig.config.carriage[0].setup_speed_um_per_s + 100);
    }
    rig_until_state_within(&rig, KR_STATE_COMPLETE, 120000);
    ck_assert_int_le(abs(datum_um(&rig) + lost_um[_i]), 300);
    rig_is_honest(&rig);
    rig_reset(&rig);
    rig_stage(&rig, 7);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    ck_assert_uint_ne(rig_line_status(&rig) & KR_LINE_MAY_RUN, 0);
    rig_restart(&rig);
    rig_to_idle(&rig);
    rig_stage(&rig, 8);
    rig_start_job(&rig, KR_JOB_CHANGEOVER);
    rig_ends_verified(&rig);
    rig_end(&rig);
}
END_TEST

/* Its pair is dirty: it goes as far as the travel is long, and no further. */
START_TEST(references_that_are_not_found_are_an_alarm_and_the_datum_stays_doubted)
{
    struct rig rig;
    with_references(&rig);
    rig.config.carriage[0].travel_max_um = 600 * MM; /* the way to the machine's stop is longer */
    rig.config.carriage[0].travel_min_um = -100 * MM;
    give(&rig, 0, (const int32_t[]){-30, 520, 540}, 3, 1);
    rig_begin(&rig);
    rig_set_up_small(&rig);
    for (uint16_t i = 0; i < 3; i++)
        rig_break(&rig, 0, SIM_REFERENCE_MISSING, i, 0);
    lose_datum(&rig, 50000);
    rig_reset(&rig);
    struct start_values find = {.job = KR_JOB_FIND, .rail = 1};
    ck_assert_int_eq(rig_command_start(&rig, find), KR_OK);
    rig_until_state_within(&rig, KR_STATE_HELD, 60000);
    ck_assert(rig_has_alarm(&rig, KR_ALARM_REFERENCES_UNSEEN));
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_RAIL_REFERENCED, 0, 0), 0);
    rig_is_sound(&rig);
    rig_end(&rig);
}
END_TEST

/* At 200 mm/s, with no more room behind the last reference than that speed needs. _i: the pair is the last one, or a
 * third reference follows. */
START_TEST(the_search_stops_behind_the_last_reference_within_the_travel)
{
    struct rig rig;
    with_references(&rig);
    struct kr_carriage_config *carriage = &rig.config.carriage[0];
    carriage->setup_speed_um_per_s = 200 * MM;
    if (_i == 1)
        give(&rig, 0, (const int32_t[]){-60, 520, 540, 565}, 4, 1);
    const struct kr_reference *last = &carriage->references.flag[3];
    int32_t a = rig.config.geometry.rail[0].empty.a_um_per_s2;
    int32_t brakes_um = (int32_t)(200LL * MM * 200 * MM / (2LL * a));
    int32_t late_um = 200 * MM / 1000 * 3 * rig.period_us / 1000;
    int32_t most_um = last->at_um - carriage->switch_offset_um + FLAG_UM + late_um + brakes_um + 1;
    ck_assert_int_eq(kr_find_way_um(&rig.config.geometry.rail[0], carriage, rig.period_us, 200 * MM), most_um);
    carriage->travel_max_um = most_um;
    rig_begin(&rig);
    rig_set_up_small(&rig);
    lose_datum(&rig, 50000);
    rig_reset(&rig);
    struct start_values find = {.job = KR_JOB_FIND, .rail = 1};
    ck_assert_int_eq(rig_command_start(&rig, find), KR_OK);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_FINDING);
    int32_t fastest = 0;
    while (rig_carriage_phase(&rig, 0) == KR_CARRIAGE_FINDING) {
        int32_t speed = sim_machine_speed_um_per_s(&rig.machine, 0);
        fastest = speed > fastest ? speed : fastest;
        rig_cycle(&rig);
        ck_assert_int_le(sim_machine_carriage_um(&rig.machine, 0), most_um);
    }
    ck_assert_int_ge(fastest, 190 * MM);
    rig_until_state_within(&rig, KR_STATE_COMPLETE, 120000);
    ck_assert_int_le(abs(datum_um(&rig) + 50000), 300);
    rig_is_sound(&rig);
    rig_end(&rig);
}
END_TEST

/* The pair that it starts before has the distance of the last one, which alone it cannot be told from: it stops within
 * the travel, and finds the datum from a start where it meets the third reference first. */
START_TEST(the_search_ends_within_the_travel_where_the_last_pair_does_not_tell_which_it_is)
{
    struct rig rig;
    with_references(&rig);
    struct kr_carriage_config *carriage = &rig.config.carriage[0];
    give(&rig, 0, (const int32_t[]){-60, -40, 500, 517, 537}, 5, 2); /* 20 mm twice */
    carriage->park_um = 508 * MM;
    carriage->travel_max_um = 600 * MM; /* the way to the machine's stop is longer */
    carriage->travel_min_um = -100 * MM;
    carriage->setup_speed_um_per_s = 200 * MM;
    rig.sim_config.rail[0].carriage_um = carriage->park_um;
    rig_begin(&rig);
    rig_set_up_small(&rig);
    int32_t starts_um = sim_machine_carriage_um(&rig.machine, 0);
    ck_assert_int_gt(starts_um, 500 * MM - carriage->switch_offset_um + FLAG_UM / 2);
    ck_assert_int_lt(starts_um, 517 * MM - carriage->switch_offset_um - FLAG_UM / 2);
    lose_datum(&rig, 50000);
    rig_reset(&rig);
    struct start_values find = {.job = KR_JOB_FIND, .rail = 1};
    ck_assert_int_eq(rig_command_start(&rig, find), KR_OK);
    while (rig_state(&rig) != KR_STATE_HELD) {
        rig_cycle(&rig);
        ck_assert_int_le(sim_machine_carriage_um(&rig.machine, 0), carriage->travel_max_um + KR_REFERENCE_SAME_UM);
    }
    ck_assert(rig_has_alarm(&rig, KR_ALARM_REFERENCES_UNSEEN));
    rig_end(&rig);
}
END_TEST

START_TEST(without_such_a_pair_the_job_is_refused)
{
    struct rig rig;
    rig_small_ordinary(&rig, 2);
    give(&rig, 0, (const int32_t[]){-60, -20, 520, 580}, 4, 2); /* two holders can stand 60 mm apart */
    rig.config.geometry.n_sizes = 2;
    rig_begin(&rig);
    struct start_values find = {.job = KR_JOB_FIND, .rail = 1};
    ck_assert_int_eq(rig_command_start(&rig, find), KR_NO_REFERENCE_PAIR);
    find.rail = 0;
    ck_assert_int_eq(rig_command_start(&rig, find), KR_RAIL_NEEDED);
    rig_end(&rig);
}
END_TEST

/* ---- a calibration with references ------------------------------------------------------------------------------ */

static void is_held_by_shift(struct rig *rig, int32_t shift_um)
{
    rig_start_job(rig, KR_JOB_SCAN);
    struct kr_alarm alarm = held_by(rig, KR_ALARM_REFERENCES_SHIFTED);
    ck_assert_int_le(abs(alarm.value - shift_um), 40);
    ck_assert_int_eq(alarm.limit, 300);
    rig_command(rig, KR_COMMAND_STOP, 0);
    rig_until_state(rig, KR_STATE_STOPPED);
}

/* Readings are taken with all that references have found: what is accepted has the scale that they found in it. */
START_TEST(a_new_frame_that_has_in_it_what_references_found_leaves_them_right)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_DATUM_SHIFTED, 0, 200);
    rig_break(&rig, 0, SIM_SCALE_OFF, 0, 150);
    rig_reset(&rig);
    scan_once(&rig);
    int32_t datum_was_um = datum_um(&rig), scale_ppb = rig_i32(&rig, KR_REG_SCALE_CORRECTION, 0, 0);
    ck_assert_int_le(abs(scale_ppb + 150000), 60000);
    struct kr_frame frame = {.scale_ppb = scale_ppb};
    ck_assert_int_eq(rig_frame(&rig, 1, &frame), KR_OK);
    ck_assert_int_eq(rig_i32(&rig, KR_REG_SCALE_CORRECTION, 0, 0), 0);
    ck_assert_int_eq(datum_um(&rig), datum_was_um); /* a frame counts from the position with it */
    scan_once(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    ck_assert_int_le(abs(datum_um(&rig) - datum_was_um), 40);
    ck_assert_int_le(abs(rig_i32(&rig, KR_REG_SCALE_CORRECTION, 0, 0)), 60000);
    rig_set_up_again(&rig);
    rig_end(&rig);
}
END_TEST

START_TEST(a_frame_that_references_contradict_is_no_silent_correction_and_taken_back_all_is_right)
{
    static const int32_t wrong_um[] = {600, -600, 350};
    struct rig rig;
    begin_set_up(&rig);
    rig_reset(&rig);
    int32_t datum_was_um = datum_um(&rig);
    struct kr_frame frame = {.offset_um = wrong_um[_i]};
    ck_assert_int_eq(rig_frame(&rig, 1, &frame), KR_OK);
    is_held_by_shift(&rig, wrong_um[_i]);
    ck_assert_int_eq(datum_um(&rig), datum_was_um); /* nothing was laid on the datum */
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_FRAME_BACK, (struct edit_values){.rail = 1}), KR_OK);
    rig_to_idle(&rig);
    scan_once(&rig);
    rig_set_up_again(&rig);
    rig_end(&rig);
}
END_TEST

/* The references were measured from a wrong 0, as the rail was: a laser finds both 600 um off. The new frame counts
 * once the file says where the references stand in it. */
START_TEST(references_that_were_measured_with_the_old_frame_have_to_be_taught_anew)
{
    struct kr_frame true_frame = {.offset_um = 600};
    struct rig rig;
    with_references(&rig);
    struct sim_rail_config *m = &rig.sim_config.rail[0];
    m->home_offset_um += kr_frame_position_um(&true_frame, m->home_um) - m->home_um;
    for (uint16_t i = 0; i < m->n_references; i++)
        m->reference[i].at_um += 600;
    rig.claim_um = 700; /* nobody can know better before the laser */
    rig_begin(&rig);
    scan_once(&rig);
    ck_assert_int_le(abs(datum_um(&rig)), 40);
    ck_assert_int_eq(rig_frame(&rig, 1, &true_frame), KR_OK);
    is_held_by_shift(&rig, 600);
    for (uint16_t i = 0; i < m->n_references; i++)
        rig.config.carriage[0].references.flag[i].at_um += 600;
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_GEOMETRY));
    rig_to_idle(&rig);
    rig.claim_um = 45;
    scan_once(&rig);
    ck_assert_int_le(abs(datum_um(&rig)), 40);
    rig_set_up_small(&rig);
    rig_end(&rig);
}
END_TEST

/* The bracket's shift was laid on the datum; once the switch's offset is taken, the datum has it back. */
START_TEST(a_switch_offset_that_job_12_has_measured_gives_the_datum_back_what_was_the_switchs)
{
    struct rig rig;
    begin_set_up(&rig);
    rig_break(&rig, 0, SIM_BRACKET_BUMPED, 0, 250);
    rig_reset(&rig);
    scan_once(&rig);
    ck_assert_int_le(abs(datum_um(&rig) - 250), 40);
    struct start_values job = {.job = KR_JOB_SWITCH_OFFSET, .rail = 1, .holder = 3};
    ck_assert_int_eq(rig_command_start(&rig, job), KR_OK);
    rig_until_complete(&rig);
    rig_reset(&rig);
    int32_t found_um = rig_um(&rig, KR_REG_SWITCH_FOUND, 0, 0);
    ck_assert_int_le(abs(found_um - 250), 2 * rig_um(&rig, KR_REG_SWITCH_UNCERTAINTY, 0, 0));
    ck_assert_int_eq(rig_switch(&rig, 1, (struct kr_switch){.offset_um = found_um}), KR_OK);
    scan_once(&rig);
    ck_assert_uint_eq(rig_alarm_count(&rig), 0);
    ck_assert_int_le(abs(datum_um(&rig)), 40);
    ck_assert_int_le(abs(switch_um(&rig)), 40);
    rig_is_honest(&rig);
    rig_set_up_again(&rig);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("references on the frame");
    TCase *tc = suite_case(suite, "references on the frame");
    tcase_add_loop_test(tc, a_pattern_is_found_wherever_it_was_shifted_to_also_with_one_flag_missing, 0, 6);
    tcase_add_test(tc, another_rails_pattern_and_the_mirrored_one_are_told_from_its_own);
    tcase_add_loop_test(tc, the_line_of_random_references_is_found_and_one_that_was_bent_is_set_apart, 0, 300);
    tcase_add_test(tc, every_scan_passes_all_references_and_a_rail_that_is_right_stays_as_it_is);
    tcase_add_loop_test(tc, a_datum_that_shifted_by_less_than_a_step_is_taken_off_and_the_knives_are_truly_right, 0, 8);
    tcase_add_test(tc, a_datum_that_was_wrong_before_the_first_scan_is_taken_off_within_the_window);
    tcase_add_loop_test(tc, beyond_a_step_it_holds_and_names_the_shift_and_when_mended_it_goes_on, 0, 4);
    tcase_add_loop_test(tc, a_shift_that_was_mended_is_no_alarm_any_more_once_the_scan_has_found_the_rail_right, 0, 4);
    tcase_add_loop_test(tc, a_shift_that_a_person_confirms_is_taken_off, 0, 4);
    tcase_add_test(tc, what_creeps_from_scan_to_scan_is_kept_and_ends_at_the_window);
    tcase_add_test(tc, what_was_found_survives_a_restart);
    tcase_add_test(tc, a_warmer_rail_is_taken_off_by_its_slope);
    tcase_add_loop_test(tc, a_bumped_bracket_counts_as_the_datums_until_dragged_holders_were_scanned, 0, 3);
    tcase_add_test(tc, exchanged_drives_are_named_with_the_rail_whose_references_were_found);
    tcase_add_test(tc, a_pattern_of_no_rail_is_told_as_such);
    tcase_add_test(tc, a_rail_whose_holders_stand_like_another_rails_references_is_not_taken_for_it);
    tcase_add_test(tc, a_rail_whose_holders_stand_like_its_references_in_a_mirror_is_not_taken_for_reversed);
    tcase_add_test(tc, a_rail_with_one_reference_left_is_not_taken_for_reversed);
    tcase_add_test(tc, a_rail_without_its_only_reference_is_not_taken_for_another_rail);
    tcase_add_test(tc, a_rail_that_has_shifted_is_not_taken_for_another_rail);
    tcase_add_test(tc, a_reversed_axis_is_named_as_such_and_nothing_is_measured);
    tcase_add_loop_test(tc, one_of_several_that_is_dirty_or_missing_is_a_notice, 0, 8);
    tcase_add_test(tc, fewer_than_two_good_ones_are_an_alarm_and_nothing_is_measured);
    tcase_add_loop_test(tc, the_only_one_that_is_dirty_or_missing_is_an_alarm, 0, 3);
    tcase_add_loop_test(tc, a_reference_that_is_taken_off_or_put_on_between_two_runs_makes_none_of_the_others_bad, 0,
                        3);
    tcase_add_loop_test(tc, dirt_is_seen_also_where_it_came_behind_a_restart_or_a_homing, 0, 2);
    tcase_add_test(tc, dirt_that_grows_a_little_from_scan_to_scan_is_seen_in_the_end);
    tcase_add_test(tc, a_rail_with_one_reference_in_its_place_is_not_taken_for_another_rail);
    tcase_add_test(tc, a_shift_by_the_only_reference_that_a_person_confirms_is_not_asked_for_in_turns);
    tcase_add_test(tc, one_holder_that_is_found_off_alike_three_times_tells_of_the_switch);
    tcase_add_loop_test(tc, a_datum_that_came_back_before_a_scan_lays_nothing_on_datum_and_switch, 0, 4);
    tcase_add_loop_test(tc, a_switch_and_a_datum_that_are_off_by_the_opposite_are_told_by_three_scans, 0, 2);
    tcase_add_test(tc, homing_takes_back_what_was_found_of_the_datum);
    tcase_add_loop_test(tc, after_a_battery_fault_the_references_give_the_datum_back, 0, 5);
    tcase_add_test(tc, references_that_are_not_found_are_an_alarm_and_the_datum_stays_doubted);
    tcase_add_loop_test(tc, the_search_stops_behind_the_last_reference_within_the_travel, 0, 2);
    tcase_add_test(tc, the_search_ends_within_the_travel_where_the_last_pair_does_not_tell_which_it_is);
    tcase_add_test(tc, without_such_a_pair_the_job_is_refused);
    tcase_add_test(tc, a_new_frame_that_has_in_it_what_references_found_leaves_them_right);
    tcase_add_loop_test(tc, a_frame_that_references_contradict_is_no_silent_correction_and_taken_back_all_is_right, 0,
                        3);
    tcase_add_test(tc, references_that_were_measured_with_the_old_frame_have_to_be_taught_anew);
    tcase_add_test(tc, a_switch_offset_that_job_12_has_measured_gives_the_datum_back_what_was_the_switchs);
    tcase_add_loop_test(tc, whatever_creeps_by_chance_what_is_verified_is_true, 1, 21);
    return suite;
}
