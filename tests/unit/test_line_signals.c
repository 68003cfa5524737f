/* Tests of the table 'what makes a line signal fall' in config/pages/plc-programmer.md. Each of its rows is brought
 * about here, and the signals that fall, and what restores them, must be as in the row. The first column of the table
 * here names the same causes in the same sequence. */
#include "rig.h"
#include "suite.h"

#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SIGNALS  (KR_LINE_MAY_START | KR_LINE_MAY_RUN | KR_LINE_MAY_LOWER)
#define ACCESSES 4711

/* ---- what happens ---------------------------------------------------------------------------------------------- */

static void job_begins(struct rig *rig)
{
    rig->in.permissives = 0x1F;
    rig_reset(rig);
    rig_start_job(rig, KR_JOB_VERIFY);
}

static void power_is_off(struct rig *rig)
{
    rig->in.axis[1].statusword &= (uint16_t)~KR_SW_VOLTAGE_ENABLED;
}

static void power_goes(struct rig *rig)
{
    rig->meddle = power_is_off;
}

static void link_goes(struct rig *rig)
{
    rig_break(rig, 1, SIM_LINK_LOST, 0, 0);
}

static void link_comes(struct rig *rig)
{
    rig_mend(rig, 1, SIM_LINK_LOST, 0);
}

static void place_is_another(struct rig *rig)
{
    rig->in.axis[1].position_um += 1500;
}

static void link_goes_off_park(struct rig *rig)
{
    rig->meddle = place_is_another;
    rig_run_ms(rig, 100);
    rig->meddle = NULL;
    link_goes(rig);
}

static void pin_is_not_out(struct rig *rig)
{
    rig->in.axis[1].inputs &= (uint16_t)~KR_DI_PIN_OUT;
}

static void brake_shows_otherwise(struct rig *rig)
{
    rig->in.axis[1].inputs ^= KR_DI_BRAKE_OPEN;
}

static void datum_is_gone(struct rig *rig)
{
    rig->in.axis[1].referenced = false;
}

static void back_with_pin(struct rig *rig)
{
    link_comes(rig);
    rig->meddle = pin_is_not_out;
}

static void back_with_brake(struct rig *rig)
{
    link_comes(rig);
    rig->meddle = brake_shows_otherwise;
}

static void back_without_datum(struct rig *rig)
{
    link_comes(rig);
    rig->meddle = datum_is_gone;
}

static void back_elsewhere(struct rig *rig)
{
    link_comes(rig);
    rig->meddle = place_is_another;
}

static void guard_opens(struct rig *rig)
{
    rig->in.permissives &= (uint16_t)~KR_PERMIT_GUARDS_CLOSED;
}

static void guard_closes(struct rig *rig)
{
    rig->in.permissives |= KR_PERMIT_GUARDS_CLOSED;
}

static void count_steps(struct rig *rig)
{
    rig->in.access_count++;
}

static void count_is_not_sent(struct rig *rig)
{
    rig->in.access_count = 0;
}

static void plc_is_silent(struct rig *rig)
{
    rig->heart_stopped = true;
    rig_run_ms(rig, rig->config.heartbeat_limit_ms);
}

static void plc_is_heard(struct rig *rig)
{
    rig->heart_stopped = false;
}

static void plc_restarts(struct rig *rig)
{
    plc_is_silent(rig);
    rig->in.controlled = false;
    rig->in.control_generation++;
}

static void plc_is_back(struct rig *rig)
{
    rig->in.controlled = true;
    rig->in.control_generation++;
    rig->heart_stopped = false;
}

static void gateway_restarts(struct rig *rig)
{
    uint16_t permissives = rig->in.permissives, count = rig->in.access_count;
    rig_run_ms(rig, 500);
    rig_restart(rig);
    rig->in.permissives = permissives;
    rig->in.access_count = count;
    rig->in.controlled = true;
}

static void drive_is_refused(struct rig *rig)
{
    rig->in.axis[1].link = false;
    rig->in.axis[1].refusal.why = KR_REFUSED_OTHER_GATEWAY;
}

static void another_gateway_comes(struct rig *rig)
{
    rig->meddle = drive_is_refused;
}

static uint16_t holder_of_first_cut(const struct rig *rig)
{
    return rig_holder_of_cut(rig, 1, 1);
}

static void offset_is_set(struct rig *rig)
{
    uint16_t holder = holder_of_first_cut(rig);
    int32_t offset_um = rig_holder(rig, 1, holder)->edge_offset_um;
    struct edit_values values = {.rail = 2, .holder = holder, .edge_offset_um = offset_um + 10};
    ck_assert_int_eq(rig_edit(rig, KR_EDIT_OFFSET, values), KR_OK);
}

static void set_up_again(struct rig *rig)
{
    rig->in.crash = 0;
    rig_run_ms(rig, 100);
    for (uint16_t r = 1; r <= 2; r++)
        for (uint16_t h = 1; h <= SMALL_HOLDERS; h++)
            ck_assert_int_eq(rig_edit(rig, KR_EDIT_BENCH, (struct edit_values){.rail = r, .holder = h}), KR_OK);
    rig->in.permissives = 0x1F;
    rig_run_ms(rig, 1000);
    rig_reset(rig);
    ck_assert_int_eq(rig_command_start_order(rig, KR_JOB_CHANGEOVER, 1), KR_OK);
    rig_until_complete(rig);
}

static void knife_breaks(struct rig *rig)
{
    rig->in.crash = KR_CRASH_KNIFE_BROKEN;
}

static void book_fails(struct rig *rig)
{
    rig->in.book_failed = true;
}

static void book_stores(struct rig *rig)
{
    rig->in.book_failed = false;
}

static void pin_goes(struct rig *rig)
{
    rig->meddle = pin_is_not_out;
}

static void carriage_leaves_park(struct rig *rig)
{
    rig->meddle = place_is_another;
}

static void is_aborted(struct rig *rig)
{
    ck_assert_int_eq(rig_command(rig, KR_COMMAND_ABORT, 0), KR_OK);
    rig_until_state(rig, KR_STATE_ABORTED);
}

static void nothing_more(struct rig *rig)
{
    (void)rig;
}

/* ---- the table ------------------------------------------------------------------------------------------------- */

enum back { BY_ITSELF, BY_VERIFY, BY_RESET };

/* stays: what does not fall, of SIGNALS. without: the station file says nothing of brakes, or the PLC does not
 * count. */
static const struct row {
    const char *cause;
    void (*comes)(struct rig *rig);
    void (*goes)(struct rig *rig);
    uint16_t stays;
    bool verified_stays;
    enum back back;
    bool without_brakes, without_count;
    uint16_t alarm; /* afterwards; 0: any */
} rows[] = {
    {"a job runs", job_begins, rig_until_complete, 0, false, BY_ITSELF, false, false, 0},
    {"drives lose power or link, `brakes_hold`", power_goes, nothing_more, KR_LINE_MAY_RUN, false, BY_ITSELF, false,
     false, 0},
    {"drives lose power or link, `brakes_hold`", link_goes, link_comes, KR_LINE_MAY_RUN, false, BY_ITSELF, false, false,
     0},
    {"drives lose power or link, `brakes_hold`", link_goes, link_comes, KR_LINE_MAY_RUN, false, BY_ITSELF, false, true,
     0},
    {"the same, and one comes back otherwise", link_goes, back_with_pin, KR_LINE_MAY_RUN, false, BY_VERIFY, false,
     false, KR_ALARM_RETURNED_OTHERWISE},
    {"the same, and one comes back otherwise", link_goes, back_with_brake, KR_LINE_MAY_RUN, false, BY_VERIFY, false,
     false, KR_ALARM_RETURNED_OTHERWISE},
    {"the same, and one comes back otherwise", link_goes, back_without_datum, KR_LINE_MAY_RUN, false, BY_VERIFY, false,
     false, KR_ALARM_RETURNED_OTHERWISE},
    {"the same, and one comes back otherwise", link_goes, back_elsewhere, KR_LINE_MAY_RUN, false, BY_VERIFY, false,
     false, KR_ALARM_RETURNED_OTHERWISE},
    {"drives lose power or link, `may_move`", power_goes, nothing_more, 0, false, BY_VERIFY, true, false, 0},
    {"drives lose power or link, `may_move`", link_goes, link_comes, 0, false, BY_VERIFY, true, false, 0},
    {"drives lose power or link, `may_move`", link_goes_off_park, link_comes, 0, false, BY_VERIFY, false, false, 0},
    {"a drive is refused", another_gateway_comes, nothing_more, 0, false, BY_VERIFY, false, false, 0},
    {"a guard shows open, counted", guard_opens, guard_closes, KR_LINE_MAY_RUN, false, BY_ITSELF, true, false, 0},
    {"`ACCESS_COUNT` steps, or is not sent", count_steps, nothing_more, 0, false, BY_VERIFY, false, false,
     KR_ALARM_ACCESS_COUNTED},
    {"`ACCESS_COUNT` steps, or is not sent", count_is_not_sent, nothing_more, 0, false, BY_VERIFY, false, false,
     KR_ALARM_ACCESS_COUNTED},
    {"the PLC is silent or restarts, counted", plc_is_silent, plc_is_heard, 0, false, BY_ITSELF, true, false, 0},
    {"the PLC is silent or restarts, counted", plc_restarts, plc_is_back, 0, false, BY_ITSELF, true, false, 0},
    {"the gateway restarts, counted, `brakes_hold`", gateway_restarts, nothing_more, 0, false, BY_ITSELF, false, false,
     0},
    {"the gateway restarts, else", gateway_restarts, nothing_more, 0, false, BY_VERIFY, true, false, 0},
    {"the gateway restarts, else", gateway_restarts, nothing_more, 0, false, BY_VERIFY, false, true, 0},
    {"a guard shows open or the PLC is silent, not counted", guard_opens, guard_closes, 0, false, BY_VERIFY, false,
     true, 0},
    {"a guard shows open or the PLC is silent, not counted", plc_is_silent, plc_is_heard, 0, false, BY_VERIFY, false,
     true, 0},
    {"maintenance changes a holder that cuts", offset_is_set, set_up_again, 0, false, BY_ITSELF, false, false, 0},
    {"a crash that the PLC reports", knife_breaks, set_up_again, 0, false, BY_ITSELF, false, false, 0},
    {"an alarm holds, or the book can't store", book_fails, book_stores, KR_LINE_MAY_RUN, true, BY_ITSELF, false, false,
     0},
    {"a pin, or a carriage's place, is not proven", pin_goes, nothing_more, 0, true, BY_ITSELF, false, false, 0},
    {"a pin, or a carriage's place, is not proven", carriage_leaves_park, nothing_more, 0, true, BY_ITSELF, false,
     false, 0},
    {"Abort", is_aborted, nothing_more, 0, true, BY_RESET, false, false, 0},
};
#define N_ROWS ((int)(sizeof rows / sizeof rows[0]))

static void begin_running(struct rig *rig, bool brakes_hold, uint16_t access_count)
{
    rig_small_ideal(rig, 2);
    rig->config.brakes_hold = brakes_hold;
    rig_start(rig);
    rig->in.access_count = access_count;
    rig_to_idle(rig);
    rig_set_up_small(rig);
    rig->in.permissives &= (uint16_t) ~(KR_PERMIT_LINE_STOPPED | KR_PERMIT_KNIVES_RAISED);
    rig_run_ms(rig, 1500);
    ck_assert_uint_eq(rig_line_status(rig), SIGNALS);
}

static void verified_is(const struct rig *rig, bool verified)
{
    ck_assert_int_eq(rig_status_has(rig, KR_STATUS_VERIFIED), verified);
}

static void signals_are(const struct rig *rig, uint16_t signals)
{
    ck_assert_uint_eq(rig_line_status(rig) & SIGNALS, signals);
}

static void bring_back(struct rig *rig, enum back back)
{
    if (back == BY_ITSELF)
        return;
    signals_are(rig, 0);
    rig->meddle = NULL;
    rig->in.permissives = 0x1F;
    rig_run_ms(rig, 2500);
    signals_are(rig, 0); /* what mends the cause alone is not enough */
    rig_reset(rig);
    if (back != BY_VERIFY)
        return;
    if (kr_station_durable(rig->station)->datum_doubted[1] || !rig->in.axis[1].referenced) {
        rig_start_job(rig, KR_JOB_HOME);
        rig_until_complete(rig);
        rig_reset(rig);
    }
    rig_start_job(rig, KR_JOB_VERIFY);
    rig_until_complete(rig);
}

START_TEST(each_row_of_the_table_falls_and_comes_back_as_it_says)
{
    const struct row *row = &rows[_i];
    struct rig rig;
    begin_running(&rig, !row->without_brakes, row->without_count ? 0 : ACCESSES);
    row->comes(&rig);
    rig_run_ms(&rig, 300);
    signals_are(&rig, row->stays);
    verified_is(&rig, row->verified_stays);
    rig_run_ms(&rig, 600);
    signals_are(&rig, row->stays);
    if (row->goes == nothing_more)
        rig.meddle = NULL;
    row->goes(&rig);
    rig_run_ms(&rig, 3500);
    if (row->alarm != 0)
        ck_assert(rig_has_alarm(&rig, (enum kr_alarm_code)row->alarm));
    bring_back(&rig, row->back);
    signals_are(&rig, SIGNALS);
    verified_is(&rig, true);
    ck_assert(!rig.false_measured);
    rig_end(&rig);
}
END_TEST

static bool is_row_of_table(const char *line, bool *inside)
{
    static const char heading[] = "| what makes a line signal fall |";
    if (strncmp(line, heading, strlen(heading)) == 0)
        *inside = true;
    else if (line[0] != '|')
        *inside = false;
    return *inside && strncmp(line, heading, strlen(heading)) != 0 && strncmp(line, "| ---", 5) != 0;
}

START_TEST(the_page_names_the_same_causes)
{
    FILE *page = fopen("config/pages/plc-programmer.md", "r");
    char line[512];
    bool inside = false;
    int row = 0;
    ck_assert_ptr_nonnull(page);
    while (fgets(line, sizeof line, page) != NULL) {
        if (!is_row_of_table(line, &inside))
            continue;
        ck_assert_int_lt(row, N_ROWS);
        const char *cause = rows[row].cause;
        ck_assert_msg(strncmp(line + 2, cause, strlen(cause)) == 0, "the page: %sthe test: %s", line, cause);
        while (row < N_ROWS && strcmp(rows[row].cause, cause) == 0)
            row++;
    }
    fclose(page);
    ck_assert_int_eq(row, N_ROWS);
}
END_TEST

/* ---- hands, and what they move --------------------------------------------------------------------------------- */

static void a_knife_is_pushed(struct rig *rig)
{
    rig_break(rig, 1, SIM_MOVED_BY_HAND, holder_of_first_cut(rig), 3 * MM);
}

/* _i: while a guard shows open; while the PLC is silent; while the gateway is down; while a link is gone */
START_TEST(whoever_moves_a_knife_behind_a_guard_steps_the_count_and_nothing_runs)
{
    static void (*const comes[])(struct rig *) = {guard_opens, plc_is_silent, gateway_restarts, link_goes};
    static void (*const goes[])(struct rig *) = {guard_closes, plc_is_heard, nothing_more, link_comes};
    struct rig rig;
    begin_running(&rig, true, ACCESSES);
    comes[_i](&rig);
    a_knife_is_pushed(&rig);
    rig.in.access_count++;
    rig_run_ms(&rig, 300);
    goes[_i](&rig);
    for (int i = 0; i < 500; i++) {
        rig_cycle(&rig);
        signals_are(&rig, 0);
    }
    ck_assert(!rig.false_measured);
    rig_end(&rig);
}
END_TEST

START_TEST(a_count_that_steps_while_the_gateway_is_down_says_that_somebody_was_there)
{
    struct rig rig;
    begin_running(&rig, true, ACCESSES);
    gateway_restarts(&rig);
    rig_run_ms(&rig, 4000);
    signals_are(&rig, SIGNALS);
    gateway_restarts(&rig); /* what came back is stored, too */
    rig_run_ms(&rig, 4000);
    signals_are(&rig, SIGNALS);
    gateway_restarts(&rig);
    rig.in.access_count++;
    rig_run_ms(&rig, 4000);
    signals_are(&rig, 0);
    ck_assert(rig_status_has(&rig, KR_STATUS_SCAN_DUE));
    ck_assert(rig_has_alarm(&rig, KR_ALARM_ACCESS_COUNTED));
    rig_end(&rig);
}
END_TEST

/* The first write that is heard after a silence may have been under way since before it. */
START_TEST(after_a_silence_one_heartbeat_alone_brings_nothing_back)
{
    struct rig rig;
    begin_running(&rig, true, ACCESSES);
    plc_is_silent(&rig);
    rig.in.plc_heartbeat++;
    rig_run_ms(&rig, 500);
    signals_are(&rig, 0);
    rig.in.access_count++; /* the second one has it */
    rig.in.plc_heartbeat++;
    rig.heart_stopped = false;
    rig_run_ms(&rig, 3000);
    signals_are(&rig, 0);
    rig_end(&rig);
}
END_TEST

/* _i: whether the PLC counts */
START_TEST(a_silence_alone_is_no_doubt_where_the_drives_show_that_the_guards_are_closed)
{
    struct rig rig;
    rig_small_ideal(&rig, 2);
    rig.config.drive_inputs = KR_PERMIT_GUARDS_CLOSED;
    rig_start(&rig);
    rig.in.access_count = _i ? ACCESSES : 0;
    rig_to_idle(&rig);
    rig_set_up_small(&rig);
    plc_is_silent(&rig);
    rig_run_ms(&rig, 300);
    signals_are(&rig, 0);
    verified_is(&rig, true);
    plc_is_heard(&rig);
    rig_run_ms(&rig, 2000);
    signals_are(&rig, SIGNALS);
    rig_break(&rig, 0, SIM_GUARDS_OPENED, 0, 0);
    rig_run_ms(&rig, 100);
    signals_are(&rig, _i ? KR_LINE_MAY_RUN : 0);
    verified_is(&rig, false);
    rig_end(&rig);
}
END_TEST

START_TEST(what_comes_back_after_a_restart_is_what_the_book_says)
{
    struct rig rig;
    begin_running(&rig, true, ACCESSES);
    uint16_t cut[2][SMALL_HOLDERS];
    int32_t target_um[2][SMALL_HOLDERS], slit_um = rig_i32(&rig, KR_REG_SLIT_MEASURED, 0, 1);
    for (uint16_t r = 0; r < 2; r++)
        for (uint16_t h = 0; h < SMALL_HOLDERS; h++) {
            cut[r][h] = rig_u16(&rig, KR_REG_HOLDER_CUT, r, h);
            target_um[r][h] = rig_i32(&rig, KR_REG_HOLDER_TARGET, r, h);
        }
    gateway_restarts(&rig);
    rig_cycle(&rig);
    ck_assert_int_eq(rig_known(&rig, 1, 0), KR_REMEMBERED);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_LINE_DOUBTS, 0, 0) & KR_DOUBT_SET_ASIDE, KR_DOUBT_SET_ASIDE);
    rig_run_ms(&rig, 4000);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_LINE_DOUBTS, 0, 0), 0);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ACCESS_COUNT_SEEN, 0, 0), ACCESSES);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ACCESS_COUNT_PROVEN, 0, 1), ACCESSES);
    for (uint16_t r = 0; r < 2; r++)
        for (uint16_t h = 0; h < SMALL_HOLDERS; h++) {
            ck_assert_uint_eq(rig_u16(&rig, KR_REG_HOLDER_CUT, r, h), cut[r][h]);
            if (cut[r][h] != 0)
                ck_assert_int_eq(rig_i32(&rig, KR_REG_HOLDER_TARGET, r, h), target_um[r][h]);
            ck_assert_int_eq(rig_known(&rig, r, h), KR_MEASURED);
        }
    ck_assert_int_eq(rig_i32(&rig, KR_REG_SLIT_MEASURED, 0, 1), slit_um);
    rig_end(&rig);
}
END_TEST

START_TEST(other_settings_after_a_restart_let_it_fall)
{
    struct rig rig;
    begin_running(&rig, true, ACCESSES);
    rig.config.carriage[1].flag_width_um += 500;
    gateway_restarts(&rig);
    rig_run_ms(&rig, 4000);
    signals_are(&rig, 0);
    rig_end(&rig);
}
END_TEST

/* A compiler may leave anything between the fields of a struct. */
START_TEST(what_lies_between_the_settings_counts_for_nothing)
{
    struct rig rig;
    size_t gap = offsetof(struct kr_carriage_config, dock_tries) + 1;
    _Static_assert(
        offsetof(struct kr_carriage_config, retries_notice) - offsetof(struct kr_carriage_config, dock_tries) == 2,
        "one byte lies between them");
    begin_running(&rig, true, ACCESSES);
    ((unsigned char *)&rig.config.carriage[1])[gap] ^= 0xFF;
    gateway_restarts(&rig);
    rig_run_ms(&rig, 4000);
    signals_are(&rig, SIGNALS);
    rig_end(&rig);
}
END_TEST

START_TEST(a_job_that_begins_meanwhile_measures_anew)
{
    struct rig rig;
    begin_running(&rig, true, ACCESSES);
    gateway_restarts(&rig);
    rig.in.permissives = 0x1F;
    rig.in.access_count = 0;
    rig_run_ms(&rig, 3000);
    rig.in.access_count = ACCESSES + 1;
    rig_run_ms(&rig, 1000);
    rig_reset(&rig);
    rig_start_job(&rig, KR_JOB_VERIFY);
    rig_ends_verified(&rig);
    rig_run_ms(&rig, 500);
    signals_are(&rig, SIGNALS);
    ck_assert_uint_eq(rig_u16(&rig, KR_REG_ACCESS_COUNT_PROVEN, 0, 0), ACCESSES + 1);
    rig_end(&rig);
}
END_TEST

/* De-energised while the line runs, the knives wear all the same. */
START_TEST(metres_are_counted_while_the_line_may_run_without_power)
{
    struct rig rig;
    begin_running(&rig, true, ACCESSES);
    rig.in.line_metres = 1000;
    rig_run_ms(&rig, 1000);
    power_goes(&rig);
    rig_run_ms(&rig, 1000);
    for (int i = 0; i < 50; i++) {
        rig.in.line_metres += 5;
        rig_run_ms(&rig, 1000);
    }
    ck_assert_int_ge(rig_i32(&rig, KR_REG_HOLDER_METRES, 1, (uint16_t)(holder_of_first_cut(&rig) - 1)), 200);
    rig_end(&rig);
}
END_TEST

/* ---- random stories ---------------------------------------------------------------------------------------------- */

/* What goes on at once: an access shows open, the PLC is silent, links and powers are gone. Hands push a knife behind a
 * guard that was released, which the PLC counts if it counts; a knife creeps without power where brakes don't hold.
 * From then on no signal may be 1, whatever comes; and if nothing of that was, all come back in the end. */
struct story {
    uint32_t random;
    bool guard_open, silent, link_lost[2], power_lost[2];
    uint16_t count;
    bool counts, brakes_hold, moved, touched;
};

static uint32_t draw(struct story *s, uint32_t below)
{
    s->random = s->random * 1664525u + 1013904223u; /* a linear congruence of common practice */
    return (s->random >> 8) % below;
}

static void story_images(struct rig *rig)
{
    const struct story *s = rig->of_meddle;
    for (uint16_t r = 0; r < 2; r++)
        if (s->power_lost[r])
            rig->in.axis[r].statusword &= (uint16_t)~KR_SW_VOLTAGE_ENABLED;
}

static void plc_writes(const struct story *s, struct rig *rig)
{
    rig->heart_stopped = s->silent;
    if (s->silent)
        return;
    rig->in.permissives = 0x1F & ~(KR_PERMIT_LINE_STOPPED | KR_PERMIT_KNIVES_RAISED);
    if (s->guard_open)
        rig->in.permissives &= (uint16_t)~KR_PERMIT_GUARDS_CLOSED;
    rig->in.access_count = s->counts ? s->count : 0;
    rig->in.plc_heartbeat++;
}

static void push(struct story *s, struct rig *rig, uint16_t rail)
{
    uint16_t holder = 0;
    for (uint16_t h = 0; h < SMALL_HOLDERS; h++)
        if (rig->book.holder[rail][h].cut != 0 || rig_u16(rig, KR_REG_HOLDER_CUT, rail, h) != 0)
            holder = h;
    rig_break(rig, rail, SIM_MOVED_BY_HAND, holder, draw(s, 2) ? 2 * MM : -2 * MM);
    s->moved = s->touched = true;
}

/* A PLC that is silent, and not yet known to be so, can't have told. */
static void released(struct story *s, struct rig *rig)
{
    if (s->silent && rig_status_has(rig, KR_STATUS_HEARTBEAT_FRESH))
        return;
    s->guard_open = s->touched = true;
    s->count++;
    plc_writes(s, rig);
    push(s, rig, (uint16_t)draw(s, 2));
}

static void toggle(struct story *s, struct rig *rig)
{
    uint16_t r = (uint16_t)draw(s, 2);
    switch (draw(s, 8)) {
    case 0:
    case 1: s->guard_open = !s->guard_open; break;
    case 2: s->silent = !s->silent; break;
    case 3:
        s->link_lost[r] = !s->link_lost[r];
        if (s->link_lost[r])
            rig_break(rig, r, SIM_LINK_LOST, 0, 0);
        else
            rig_mend(rig, r, SIM_LINK_LOST, 0);
        break;
    case 4: s->power_lost[r] = !s->power_lost[r]; break;
    case 5: gateway_restarts(rig); break;
    case 6:
        if (!s->moved && draw(s, 4) == 0)
            released(s, rig);
        break;
    default:
        if (!s->brakes_hold && s->power_lost[r] && !s->moved)
            push(s, rig, r); /* it creeps */
        break;
    }
    s->touched = s->touched || (!s->brakes_hold && (s->power_lost[r] || s->link_lost[r]));
    plc_writes(s, rig);
}

static void lives(struct story *s, struct rig *rig, int64_t ms)
{
    for (int64_t end_us = rig->time_us + 1000 * ms; rig->time_us < end_us;) {
        rig_cycle(rig);
        if (s->moved)
            signals_are(rig, 0);
        ck_assert(!rig->false_measured);
    }
}

START_TEST(no_signal_is_1_where_hands_or_a_lack_of_power_have_moved_a_knife)
{
    struct story s = {.random = 7919u * (uint32_t)_i + 1, .count = ACCESSES};
    struct rig rig;
    bool restarts_may = true;
    s.counts = draw(&s, 4) != 0;
    s.brakes_hold = draw(&s, 4) != 0;
    begin_running(&rig, s.brakes_hold, s.counts ? s.count : 0);
    rig.meddle = story_images;
    rig.of_meddle = &s;
    restarts_may = s.counts && s.brakes_hold;
    for (int step = 0; step < 20; step++) {
        toggle(&s, &rig);
        lives(&s, &rig, (int64_t)draw(&s, 2500) + 10);
    }
    s.guard_open = s.silent = s.power_lost[0] = s.power_lost[1] = false;
    for (uint16_t r = 0; r < 2; r++)
        if (s.link_lost[r])
            rig_mend(&rig, r, SIM_LINK_LOST, 0);
    plc_writes(&s, &rig);
    lives(&s, &rig, 6000);
    if (restarts_may && !s.touched)
        signals_are(&rig, SIGNALS);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("line signals");
    TCase *tc = suite_case(suite, "the table");
    tcase_add_loop_test(tc, each_row_of_the_table_falls_and_comes_back_as_it_says, 0, N_ROWS);
    tcase_add_test(tc, the_page_names_the_same_causes);
    tc = suite_case(suite, "hands");
    tcase_add_loop_test(tc, whoever_moves_a_knife_behind_a_guard_steps_the_count_and_nothing_runs, 0, 4);
    tcase_add_test(tc, a_count_that_steps_while_the_gateway_is_down_says_that_somebody_was_there);
    tcase_add_test(tc, after_a_silence_one_heartbeat_alone_brings_nothing_back);
    tcase_add_loop_test(tc, a_silence_alone_is_no_doubt_where_the_drives_show_that_the_guards_are_closed, 0, 2);
    tcase_add_test(tc, what_comes_back_after_a_restart_is_what_the_book_says);
    tcase_add_test(tc, other_settings_after_a_restart_let_it_fall);
    tcase_add_test(tc, what_lies_between_the_settings_counts_for_nothing);
    tcase_add_test(tc, a_job_that_begins_meanwhile_measures_anew);
    tcase_add_test(tc, metres_are_counted_while_the_line_may_run_without_power);
    tc = suite_case(suite, "stories");
    tcase_add_loop_test(tc, no_signal_is_1_where_hands_or_a_lack_of_power_have_moved_a_knife, 0, 60);
    return suite;
}
