/* Tests of traces: the recording of a station can be replayed bit for bit and told in words; a damaged recording is
 * refused, or its damage is named. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

#include "kniferail/layout.h"
#include "rig.h"
#include "state.h"
#include "suite.h"
#include "trace.h"

/* ---- a rig that is recorded ------------------------------------------------------------------------------------ */

static struct kr_trace_ring ring;
static struct kr_trace_frozen frozen;
static char path[64], error[256];

static void begin_recorded(struct rig *rig)
{
    static unsigned char *memory;
    if (memory == NULL)
        memory = malloc(KR_TRACE_BYTES);
    ck_assert_ptr_nonnull(memory);
    rig_small_ideal(rig, 2);
    kr_trace_ring_init(&ring, memory);
    rig->trace = &ring;
    rig_begin(rig);
    snprintf(path, sizeof path, "/tmp/test-trace-%ld", (long)getpid());
}

static void freeze(const struct rig *rig)
{
    ck_assert(kr_trace_ring_freeze(&ring, rig->station, rig->time_us / 1000, &frozen));
}

static void write_file(const struct rig *rig)
{
    struct kr_trace_head head = {.station = "small", .reason = "a test", .n_rails = 2, .n_holders = {5, 5}};
    freeze(rig);
    ck_assert_msg(kr_trace_write(path, &head, &frozen, error, sizeof error), "%s", error);
    kr_trace_ring_thaw(&ring);
}

static struct kr_trace *read_file(void)
{
    struct kr_trace *trace = kr_trace_open(path, error, sizeof error);
    ck_assert_msg(trace != NULL, "%s", error);
    unlink(path);
    return trace;
}

static struct kr_trace *traced(const struct rig *rig)
{
    write_file(rig);
    return read_file();
}

static struct kr_trace_result replayed(const struct kr_trace *trace)
{
    struct kr_trace_result result;
    ck_assert_msg(kr_trace_replay(trace, (struct kr_trace_witness){NULL, NULL}, &result, error, sizeof error), "%s",
                  error);
    return result;
}

/* ---- replay ---------------------------------------------------------------------------------------------------- */

START_TEST(a_changeover_is_replayed_bit_for_bit)
{
    struct rig rig;
    begin_recorded(&rig);
    rig_set_up_small(&rig);
    freeze(&rig);
    kr_trace_ring_thaw(&ring);
    rig_set_up_again(&rig);
    struct kr_trace *trace = traced(&rig);
    struct kr_trace_result result = replayed(trace);
    ck_assert_msg(!result.parted, "cycle %llu: %s %s", (unsigned long long)result.cycle, result.of, result.field);
    ck_assert_uint_eq(result.cycles, kr_trace_head(trace)->cycles);
    ck_assert_uint_eq(result.cycles, (unsigned)(rig.time_us / rig.period_us));
    ck_assert_uint_ge(result.checkpoints, 1);
    ck_assert_str_eq(kr_trace_head(trace)->station, "small");
    ck_assert_str_eq(kr_trace_head(trace)->reason, "a test");
    ck_assert_int_eq(kr_trace_head(trace)->last_utc_ms, rig.time_us / 1000);
    kr_trace_close(trace);
    rig_end(&rig);
}
END_TEST

START_TEST(a_restart_and_another_config_begin_a_segment)
{
    struct rig rig;
    begin_recorded(&rig);
    rig_set_up_small(&rig);
    rig_restart(&rig);
    rig_to_idle(&rig);
    rig.config.carriage[0].settle_ms += 10;
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_LIVE));
    kr_trace_ring_begin(&ring, rig.station, rig.time_us / 1000);
    rig_set_up_small(&rig);
    struct kr_trace *trace = traced(&rig);
    ck_assert_uint_eq(kr_trace_head(trace)->n_segments, 3);
    struct kr_trace_result result = replayed(trace);
    ck_assert(!result.parted);
    ck_assert_uint_eq(result.checkpoints, 0); /* none goes on from the one before */
    kr_trace_close(trace);
    rig_end(&rig);
}
END_TEST

/* They are no part of the config that a segment begins with: the request is an input, and after it the book has
 * them. */
START_TEST(accepted_times_are_replayed_as_the_station_planned_with_them)
{
    static const struct kr_rail_times is = {450000, 550000, 25000, 17000};
    struct rig rig;
    begin_recorded(&rig);
    rig_set_up_small(&rig);
    rig_to_idle(&rig);
    ck_assert_int_eq(rig_times(&rig, 1, is), KR_OK);
    rig_set_up_again(&rig);
    rig_restart(&rig);
    rig_to_idle(&rig);
    rig_set_up_again(&rig);
    rig_to_idle(&rig);
    ck_assert_int_eq(rig_edit(&rig, KR_EDIT_TIMES_BACK, (struct edit_values){.rail = 1}), KR_OK);
    rig_set_up_again(&rig);
    struct kr_trace *trace = traced(&rig);
    struct kr_trace_result result = replayed(trace);
    ck_assert_msg(!result.parted, "cycle %llu: %s %s", (unsigned long long)result.cycle, result.of, result.field);
    ck_assert_uint_eq(result.cycles, kr_trace_head(trace)->cycles);
    kr_trace_close(trace);
    rig_end(&rig);
}
END_TEST

/* The station behaves in another way than it would have: as a changed algorithm does. */
START_TEST(a_station_that_behaves_in_another_way_parts_at_its_first_cycle_and_field)
{
    struct rig rig;
    begin_recorded(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_SETTLING);
    uint64_t begun = ring.cycles;
    rig.config.carriage[0].settle_ms += 30; /* the recorder is not told */
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_LIVE));
    rig_run_ms(&rig, 1000);
    struct kr_trace *trace = traced(&rig);
    struct kr_trace_result result = replayed(trace);
    ck_assert(result.parted);
    ck_assert_uint_eq(result.cycle, begun + 1); /* the limit that the step shows is another one at once */
    ck_assert_str_eq(result.of, "steps");
    ck_assert_str_eq(result.field, "rail[0].wait_limit_ms");
    ck_assert_int_eq(atoi(result.recorded), atoi(result.replayed) + 30);
    kr_trace_close(trace);
    rig_end(&rig);
}
END_TEST

START_TEST(an_output_that_differs_is_named_with_both_values)
{
    struct rig rig;
    begin_recorded(&rig);
    rig.in.wall_dt_us = rig.in.dt_us = rig.period_us;
    kr_station_step(rig.station, &rig.in, &rig.out);
    struct kr_station_out other = rig.out;
    other.axis[1].controlword = 4711;
    kr_trace_ring_step(&ring, rig.station, &rig.in, &other, 0);
    struct kr_trace *trace = traced(&rig);
    struct kr_trace_result result = replayed(trace);
    ck_assert(result.parted);
    ck_assert_uint_eq(result.cycle, ring.cycles);
    ck_assert_str_eq(result.of, "output");
    ck_assert_str_eq(result.field, "axis[1].controlword");
    ck_assert_str_eq(result.recorded, "4711");
    kr_trace_close(trace);
    rig_end(&rig);
}
END_TEST

START_TEST(a_state_that_differs_is_found_at_the_next_checkpoint)
{
    struct rig rig;
    begin_recorded(&rig);
    rig_run_ms(&rig, 1000);
    rig.config.slit_tolerance_um += 7; /* nobody looks at it while nothing runs */
    ck_assert(kr_station_reconfigure(rig.station, &rig.config, KR_CHANGE_LIVE));
    uint64_t cycle = ring.cycles;
    freeze(&rig); /* a checkpoint */
    kr_trace_ring_thaw(&ring);
    rig_run_ms(&rig, 1000);
    struct kr_trace *trace = traced(&rig);
    struct kr_trace_result result = replayed(trace);
    ck_assert(result.parted);
    ck_assert_uint_eq(result.cycle, cycle);
    ck_assert_str_eq(result.of, "state");
    ck_assert_str_eq(result.field, "config.slit_tolerance_um");
    kr_trace_close(trace);
    rig_end(&rig);
}
END_TEST

/* ---- the ring -------------------------------------------------------------------------------------------------- */

START_TEST(what_is_frozen_stays_while_recording_goes_on)
{
    struct rig rig;
    struct kr_trace_frozen more;
    begin_recorded(&rig);
    rig_set_up_small(&rig);
    freeze(&rig);
    ck_assert_uint_eq(frozen.n, 1);
    unsigned char *copy = malloc(frozen.bytes[0]);
    ck_assert_ptr_nonnull(copy);
    memcpy(copy, frozen.segment[0], frozen.bytes[0]);
    uint64_t segments = ring.segments;
    while (ring.segments < segments + 3 * KR_TRACE_SEGMENTS)
        rig_cycle(&rig);
    ck_assert_int_eq(memcmp(copy, frozen.segment[0], frozen.bytes[0]), 0);
    ck_assert(!kr_trace_ring_freeze(&ring, rig.station, 0, &more)); /* one at a time */
    kr_trace_ring_thaw(&ring);
    freeze(&rig);
    ck_assert_uint_eq(frozen.n, KR_TRACE_FROZEN_MAX);
    ck_assert_uint_eq(ring.not_recorded, 0);
    free(copy);
    rig_end(&rig);
}
END_TEST

START_TEST(a_full_ring_holds_the_last_minutes)
{
    struct rig rig;
    begin_recorded(&rig);
    rig_start_changeover(&rig);
    uint64_t before = ring.cycles;
    for (uint64_t segments = ring.segments + 1; ring.segments < segments;)
        rig_cycle(&rig);
    /* of the eight segments that a file has at most, each holds at least half a minute */
    ck_assert_int_ge((int64_t)(ring.cycles - before) * RIG_PERIOD_MS, 30000);
    rig_end(&rig);
}
END_TEST

/* ---- files ----------------------------------------------------------------------------------------------------- */

static unsigned char *bytes_of_file(size_t *n)
{
    FILE *file = fopen(path, "rb");
    ck_assert_ptr_nonnull(file);
    unsigned char *bytes = malloc(KR_TRACE_BYTES);
    ck_assert_ptr_nonnull(bytes);
    *n = fread(bytes, 1, KR_TRACE_BYTES, file);
    fclose(file);
    unlink(path);
    return bytes;
}

static void must_refuse(const unsigned char *bytes, size_t n, size_t at)
{
    error[0] = 0;
    struct kr_trace *trace = kr_trace_read(bytes, n, error, sizeof error);
    ck_assert_msg(trace == NULL, "byte %zu of %zu", at, n);
    ck_assert_msg(strlen(error) > 8 && strchr(error, '\n') == NULL, "one line: %s", error);
}

START_TEST(a_damaged_trace_is_refused)
{
    struct rig rig;
    size_t n;
    begin_recorded(&rig);
    rig_set_up_small(&rig);
    write_file(&rig);
    unsigned char *bytes = bytes_of_file(&n);
    size_t step = n / 400 + 1;
    for (size_t i = 0; i < n; i += i < 300 ? 1 : step) {
        bytes[i] ^= (unsigned char)(1u << i % 8);
        must_refuse(bytes, n, i);
        bytes[i] ^= (unsigned char)(1u << i % 8);
    }
    struct kr_trace *trace = kr_trace_read(bytes, n, error, sizeof error);
    ck_assert_ptr_nonnull(trace);
    kr_trace_close(trace);
    free(bytes);
    rig_end(&rig);
}
END_TEST

START_TEST(a_trace_that_is_cut_or_has_more_behind_it_is_refused)
{
    struct rig rig;
    size_t n;
    begin_recorded(&rig);
    rig_run_ms(&rig, 3000);
    write_file(&rig);
    unsigned char *bytes = bytes_of_file(&n);
    for (size_t i = 0; i < n; i += i < 300 ? 1 : n / 200 + 1)
        must_refuse(bytes, i, i);
    must_refuse(bytes, n + 1, n);
    free(bytes);
    rig_end(&rig);
}
END_TEST

START_TEST(another_layout_is_refused_in_one_line_and_can_be_listed)
{
    struct rig rig;
    struct kr_trace_result result;
    begin_recorded(&rig);
    rig_run_ms(&rig, 100);
    struct kr_trace *trace = traced(&rig);
    trace->head.layout[3] ^= 1;
    ck_assert(!kr_trace_replay(trace, (struct kr_trace_witness){NULL, NULL}, &result, error, sizeof error));
    ck_assert_ptr_nonnull(strstr(error, trace->head.layout));
    ck_assert_ptr_nonnull(strstr(error, kr_layout_digest()));
    ck_assert_ptr_null(strchr(error, '\n'));
    ck_assert_str_eq(kr_trace_head(trace)->station, "small");
    kr_trace_close(trace);
    rig_end(&rig);
}
END_TEST

START_TEST(a_file_that_can_t_be_written_leaves_none)
{
    struct rig rig;
    struct kr_trace_head head = {.n_rails = 2};
    begin_recorded(&rig);
    rig_run_ms(&rig, 100);
    freeze(&rig);
    ck_assert(!kr_trace_write("/dev/full/x", &head, &frozen, error, sizeof error));
    ck_assert_ptr_nonnull(strstr(error, "/dev/full/x"));
    rig_end(&rig);
}
END_TEST

/* The C library's, in front of which this program stands: it sees which folder is synced, and lets that fail. */
static int folders_synced;
static bool folders_fail;
long syscall(long number, ...);
int fsync(int fd)
{
    struct stat st;
    if (fstat(fd, &st) == 0 && S_ISDIR(st.st_mode)) {
        folders_synced++;
        if (folders_fail) {
            errno = EIO;
            return -1;
        }
    }
    return (int)syscall(SYS_fsync, fd);
}

/* A power cut right behind the stop is when the file is wanted most. */
START_TEST(the_name_of_a_file_and_of_its_folder_are_on_the_disk_too)
{
    struct rig rig;
    char folder[sizeof path];
    begin_recorded(&rig);
    rig_run_ms(&rig, 100);
    folders_synced = 0;
    write_file(&rig);
    ck_assert_int_eq(folders_synced, 1);
    unlink(path);
    memcpy(folder, path, sizeof folder);
    ck_assert(kr_trace_make_folder(folder, error, sizeof error));
    ck_assert_int_eq(folders_synced, 2);
    ck_assert(kr_trace_make_folder(folder, error, sizeof error)); /* it is there already */
    ck_assert_int_eq(rmdir(folder), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(a_file_whose_name_may_be_lost_is_no_file)
{
    struct rig rig;
    struct kr_trace_head head = {.n_rails = 2};
    begin_recorded(&rig);
    rig_run_ms(&rig, 100);
    freeze(&rig);
    folders_fail = true;
    bool written = kr_trace_write(path, &head, &frozen, error, sizeof error);
    folders_fail = false;
    ck_assert(!written);
    ck_assert_ptr_nonnull(strstr(error, "its folder can't be synced: "));
    ck_assert_int_ne(access(path, F_OK), 0);
    rig_end(&rig);
}
END_TEST

START_TEST(nothing_is_written_through_a_link)
{
    struct rig rig;
    char part[sizeof path + 8], victim[sizeof path + 8];
    struct stat st;
    begin_recorded(&rig);
    rig_run_ms(&rig, 100);
    snprintf(part, sizeof part, "%s.part", path);
    snprintf(victim, sizeof victim, "%s.else", path);
    FILE *file = fopen(victim, "w");
    ck_assert(file != NULL && fputs("somebody else's", file) >= 0 && fclose(file) == 0);
    ck_assert_int_eq(symlink(victim, part), 0);
    write_file(&rig);
    ck_assert_int_eq(stat(victim, &st), 0);
    ck_assert_int_eq(st.st_size, 15);
    ck_assert(lstat(path, &st) == 0 && S_ISREG(st.st_mode));
    unlink(victim);
    unlink(path);
    rig_end(&rig);
}
END_TEST

/* Two stations that fill their segments alike. */
static struct kr_trace_ring second;
static bool in_turn;
static uint64_t segments_before[2];
static uint32_t copied_together, copied_in_turn;

static void record_second(const struct rig *rig, void *arg)
{
    uint64_t *before = segments_before;
    (void)arg;
    kr_trace_ring_step(&second, rig->station, &rig->in, &rig->out, rig->time_us / 1000);
    if (in_turn && !kr_trace_ring_renew(&ring, rig->station, rig->time_us / 1000))
        kr_trace_ring_renew(&second, rig->station, rig->time_us / 1000);
    bool copied[2] = {ring.segments != before[0], second.segments != before[1]};
    copied_together += copied[0] && copied[1];
    copied_in_turn += copied[0] != copied[1];
    before[0] = ring.segments;
    before[1] = second.segments;
}

/* _i: 0, as they fill; 1, as a gateway asks them. */
START_TEST(of_stations_that_are_asked_in_turn_no_two_copy_their_state_in_one_cycle)
{
    struct rig rig;
    void *memory = malloc(KR_TRACE_BYTES);
    ck_assert_ptr_nonnull(memory);
    begin_recorded(&rig);
    rig_set_up_small(&rig);
    kr_trace_ring_init(&second, memory);
    second.last = ring.last;
    kr_trace_ring_begin(&ring, rig.station, 0);
    kr_trace_ring_begin(&second, rig.station, 0);
    segments_before[0] = ring.segments;
    segments_before[1] = second.segments;
    copied_together = copied_in_turn = 0;
    in_turn = _i == 1;
    rig.witness = record_second;
    for (uint64_t end = ring.segments + 3; ring.segments < end;)
        rig_set_up_again(&rig);
    if (in_turn) {
        ck_assert_uint_eq(copied_together, 0);
        ck_assert_uint_ge(copied_in_turn, 4);
    } else {
        ck_assert_uint_eq(copied_together, 3);
        ck_assert_uint_eq(copied_in_turn, 0);
    }
    free(memory);
    rig_end(&rig);
}
END_TEST

/* ---- the layout ------------------------------------------------------------------------------------------------ */

START_TEST(every_field_of_an_image_has_a_name_and_a_place)
{
    static const struct kr_axis_in zero;
    struct kr_axis_in axis = zero;
    struct kr_field field;
    char text[32];
    ck_assert_uint_eq(kr_layout_size(KR_LAYOUT_STATION), kr_station_size());
    ck_assert_uint_eq(kr_layout_size(KR_LAYOUT_AXIS_IN), sizeof axis);
    ck_assert_uint_eq(strlen(kr_layout_digest()), 16);
    ck_assert(!kr_layout_differs(KR_LAYOUT_AXIS_IN, &zero, &axis, sizeof axis, &field));
    axis.wire.lost_links = 9;
    axis.position_um = -5;
    ck_assert(kr_layout_differs(KR_LAYOUT_AXIS_IN, &zero, &axis, sizeof axis, &field));
    ck_assert_str_eq(field.name, "wire.lost_links");
    axis.wire.lost_links = 0;
    ck_assert(kr_layout_differs(KR_LAYOUT_AXIS_IN, &zero, &axis, sizeof axis, &field));
    ck_assert_str_eq(field.name, "position_um");
    kr_field_text(&field, &axis, text, sizeof text);
    ck_assert_str_eq(text, "-5");
}
END_TEST

static void count_bytes(void *arg, const struct kr_field *field)
{
    size_t *end = arg;
    ck_assert_uint_ge(field->offset, *end); /* in the order of memory, none twice */
    ck_assert_uint_lt(field->offset, *end + 8);
    *end = field->offset + 1;
}

START_TEST(no_field_of_an_image_is_left_out)
{
    size_t end = 0;
    kr_layout_each(KR_LAYOUT_AXIS_OUT, count_bytes, &end);
    ck_assert_uint_ge(end + 8, sizeof(struct kr_axis_out));
}
END_TEST

/* ---- the story ------------------------------------------------------------------------------------------------- */

static char told[65536];

static void tell(void *arg, int64_t utc_ms, uint16_t rail, bool important, const char *line)
{
    size_t n = strlen(told);
    (void)arg;
    snprintf(told + n, sizeof told - n, "%lld rail %u%s %s\n", (long long)utc_ms, rail, important ? "!" : "", line);
}

static void tell_story(const struct kr_trace *trace)
{
    static struct kr_story story;
    struct kr_trace_frame frame;
    struct kr_trace_cursor *cursor = kr_trace_begin(trace, error, sizeof error);
    ck_assert_ptr_nonnull(cursor);
    told[0] = 0;
    kr_story_begin(&story, 2, KR_LENGTH_MM, (struct kr_story_teller){tell, NULL});
    while (kr_trace_next(cursor, &frame) == KR_TRACE_FRAME)
        kr_story_cycle(&story, frame.utc_ms, frame.in, frame.steps);
    kr_story_end(&story);
    kr_trace_end(cursor);
}

static void must_tell(const char *text)
{
    size_t n = strlen(told);
    ck_assert_msg(strstr(told, text) != NULL, "'%s' is missing; it ends with\n%s", text,
                  told + (n > 2000 ? n - 2000 : 0));
}

START_TEST(the_story_of_a_changeover_has_each_step_of_each_carriage)
{
    struct rig rig;
    begin_recorded(&rig);
    rig_set_up_small(&rig);
    struct kr_trace *trace = traced(&rig);
    tell_story(trace);
    must_tell("command 2, start changeover: accepted");
    must_tell("job changeover: phase move");
    must_tell("rail 1 docking, holder ");
    must_tell("rail 2 dragging, holder ");
    must_tell(" for the pin to be in; then freeing");
    must_tell(" for the brake to be open; then dragging");
    must_tell(" for the target to be reached at ");
    must_tell("unit state completing -> complete");
    kr_trace_close(trace);
    rig_end(&rig);
}
END_TEST

START_TEST(the_story_names_the_step_that_waited_in_vain_with_holder_time_and_limit)
{
    struct rig rig;
    char text[192];
    begin_recorded(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 1, KR_CARRIAGE_DOCKING);
    rig_break(&rig, 1, SIM_BRAKE_STUCK, 0, 0);
    rig_until_state(&rig, KR_STATE_HELD);
    struct kr_alarm alarm = rig_first_alarm(&rig);
    ck_assert_int_eq(alarm.code, KR_ALARM_BRAKE_NOT_OPEN);
    struct kr_trace *trace = traced(&rig);
    tell_story(trace);
    double limit_s = rig.config.carriage[1].brake_limit_ms / 1000.0;
    snprintf(text, sizeof text,
             "rail 2! freeing, holder %u, move 1: waited %.3f s of at most %.3f s for the brake to be open; "
             "then stopping",
             alarm.item, limit_s, limit_s);
    must_tell(text);
    snprintf(text, sizeof text, "alarm %u stands: rail 2, holder %u", alarm.code, alarm.item);
    must_tell(text);
    kr_trace_close(trace);
    rig_end(&rig);
}
END_TEST

START_TEST(the_story_marks_what_stops_a_unit_that_rests_and_not_what_leads_on)
{
    struct rig rig;
    begin_recorded(&rig);
    rig_to_idle(&rig);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_ABORT, 0), KR_OK);
    rig_until_state(&rig, KR_STATE_ABORTED);
    ck_assert_int_eq(rig_command(&rig, KR_COMMAND_CLEAR, 0), KR_OK);
    rig_until_state(&rig, KR_STATE_STOPPED);
    struct kr_trace *trace = traced(&rig);
    tell_story(trace);
    must_tell(" rail 0! unit state idle -> aborted");
    must_tell(" rail 0 unit state clearing -> stopped");
    kr_trace_close(trace);
    rig_end(&rig);
}
END_TEST

/* Knives that have cut their metres, as a station of many knives has them. */
START_TEST(more_notices_than_a_story_has_room_for_hide_no_alarm_that_stops)
{
    struct rig rig;
    struct kr_station_steps steps;
    begin_recorded(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    for (uint16_t holder = 1; holder <= KR_STEPS_ALARMS_MAX; holder++)
        alarm_list(&rig.station->alarms,
                   (struct kr_alarm){KR_ALARM_MANY_SLIPS, (uint16_t)(holder % 2 + 1), holder, 3, 3});
    rig.in.permissives &= (uint16_t)~KR_PERMIT_AIR;
    rig_until_state(&rig, KR_STATE_SUSPENDED);
    kr_station_steps(rig.station, &steps);
    ck_assert_uint_eq(steps.n_alarms, KR_STEPS_ALARMS_MAX);
    ck_assert_uint_eq(steps.alarm[0].code, KR_ALARM_PERMISSIVE_LOST);
    ck_assert_uint_eq(steps.alarm[1].code, KR_ALARM_MANY_SLIPS);
    struct kr_trace *trace = traced(&rig);
    tell_story(trace);
    must_tell("! alarm 1 stands: permissives were lost");
    kr_trace_close(trace);
    rig_end(&rig);
}
END_TEST

START_TEST(the_story_tells_a_drive_s_fault_and_a_lost_link)
{
    struct rig rig;
    begin_recorded(&rig);
    rig_start_changeover(&rig);
    rig_until_carriage(&rig, 0, KR_CARRIAGE_DRAGGING);
    rig_break(&rig, 0, SIM_DRIVE_FAULT, 0, 0x8611);
    rig_run_ms(&rig, 2000);
    rig_break(&rig, 1, SIM_LINK_LOST, 0, 0);
    rig_run_ms(&rig, 2000);
    struct kr_trace *trace = traced(&rig);
    tell_story(trace);
    must_tell("rail 1! the drive shows a fault, error code 8611h: following error");
    must_tell("rail 1! dragging, holder ");
    must_tell("rail 2! the link to the drive is lost: ");
    kr_trace_close(trace);
    rig_end(&rig);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("trace");
    TCase *tc = suite_case(suite, "replay");
    tcase_add_test(tc, a_changeover_is_replayed_bit_for_bit);
    tcase_add_test(tc, accepted_times_are_replayed_as_the_station_planned_with_them);
    tcase_add_test(tc, a_restart_and_another_config_begin_a_segment);
    tcase_add_test(tc, a_station_that_behaves_in_another_way_parts_at_its_first_cycle_and_field);
    tcase_add_test(tc, an_output_that_differs_is_named_with_both_values);
    tcase_add_test(tc, a_state_that_differs_is_found_at_the_next_checkpoint);
    tc = suite_case(suite, "ring");
    tcase_add_test(tc, what_is_frozen_stays_while_recording_goes_on);
    tcase_add_test(tc, a_full_ring_holds_the_last_minutes);
    tc = suite_case(suite, "files");
    tcase_add_test(tc, a_damaged_trace_is_refused);
    tcase_add_test(tc, a_trace_that_is_cut_or_has_more_behind_it_is_refused);
    tcase_add_test(tc, another_layout_is_refused_in_one_line_and_can_be_listed);
    tcase_add_test(tc, a_file_that_can_t_be_written_leaves_none);
    tcase_add_loop_test(tc, of_stations_that_are_asked_in_turn_no_two_copy_their_state_in_one_cycle, 0, 2);
    tcase_add_test(tc, the_name_of_a_file_and_of_its_folder_are_on_the_disk_too);
    tcase_add_test(tc, a_file_whose_name_may_be_lost_is_no_file);
    tcase_add_test(tc, nothing_is_written_through_a_link);
    tc = suite_case(suite, "layout");
    tcase_add_test(tc, every_field_of_an_image_has_a_name_and_a_place);
    tcase_add_test(tc, no_field_of_an_image_is_left_out);
    tc = suite_case(suite, "story");
    tcase_add_test(tc, the_story_of_a_changeover_has_each_step_of_each_carriage);
    tcase_add_test(tc, the_story_names_the_step_that_waited_in_vain_with_holder_time_and_limit);
    tcase_add_test(tc, the_story_marks_what_stops_a_unit_that_rests_and_not_what_leads_on);
    tcase_add_test(tc, more_notices_than_a_story_has_room_for_hide_no_alarm_that_stops);
    tcase_add_test(tc, the_story_tells_a_drive_s_fault_and_a_lost_link);
    return suite;
}
