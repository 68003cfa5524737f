/* Tests of a drive's objects in registers: a drive reads what a master writes, and the other way round. */
#include "kniferail/drivemap.h"

#include <stdlib.h>
#include <string.h>

#include "sim/draw.h"
#include "sim_rig.h"
#include "suite.h"

static struct kr_drivemap standard(void)
{
    struct kr_drivemap map;
    kr_drivemap_standard(&map);
    return map;
}

/* Through registers, one by one, as a wire does it. */
static void carry(const struct kr_drivemap *map, enum kr_object_direction direction,
                  const struct kr_drive_objects *from, struct kr_drive_objects *to)
{
    struct kr_drive_run run[KR_DRIVE_RUNS_MAX];
    uint16_t n = kr_drivemap_runs(map, direction, run), value;
    memset(to, 0, sizeof *to);
    for (uint16_t r = 0; r < n; r++)
        for (uint16_t i = 0; i < run[r].n; i++) {
            uint16_t address = (uint16_t)(run[r].address + i);
            ck_assert(kr_drivemap_get(map, from, direction, address, &value));
            ck_assert(kr_drivemap_set(map, to, direction, address, value));
        }
}

START_TEST(the_standard_map_is_possible_and_one_run_each_way)
{
    struct kr_drivemap map = standard();
    struct kr_drive_run run[KR_DRIVE_RUNS_MAX];
    ck_assert_ptr_null(kr_drivemap_check(&map).what);
    ck_assert_uint_eq(kr_drivemap_runs(&map, KR_OBJECT_OUT, run), 1);
    ck_assert_uint_eq(run[0].address, 0);
    ck_assert_uint_eq(run[0].n, 12);
    ck_assert_uint_eq(kr_drivemap_runs(&map, KR_OBJECT_IN, run), 1);
    ck_assert_uint_eq(run[0].address, 100);
    ck_assert_uint_eq(run[0].n, 15);
}
END_TEST

START_TEST(the_high_word_comes_first_unless_the_map_says_otherwise)
{
    struct kr_drivemap map = standard();
    struct kr_axis_out out = {.target_um = 0x01234567};
    struct kr_drive_objects objects;
    uint16_t first, second;
    for (int low_first = 0; low_first < 2; low_first++) {
        map.low_word_first = low_first;
        kr_drivemap_write_out(&map, &out, &objects);
        ck_assert(kr_drivemap_get(&map, &objects, KR_OBJECT_OUT, 2, &first));
        ck_assert(kr_drivemap_get(&map, &objects, KR_OBJECT_OUT, 3, &second));
        ck_assert_uint_eq(first, low_first ? 0x4567 : 0x0123);
        ck_assert_uint_eq(second, low_first ? 0x0123 : 0x4567);
    }
}
END_TEST

START_TEST(units_are_exact_ratios_rounded_to_the_nearest_on_either_side_of_zero)
{
    struct kr_drivemap map = standard();
    struct kr_drive_objects objects;
    map.position = (struct kr_drive_ratio){4096, 20000};
    static const struct {
        int32_t um, units;
    } row[] = {{20000, 4096},     {-20000, -4096},    {1, 0}, {3, 1}, {-3, -1}, {2, 0},
               {1234567, 252839}, {-1234567, -252839}};
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct kr_axis_out out = {.target_um = row[i].um};
        kr_drivemap_write_out(&map, &out, &objects);
        ck_assert_int_eq((int32_t)objects.raw[KR_OBJECT_TARGET], row[i].units);
    }
}
END_TEST

START_TEST(what_doesnt_fit_32_bits_stops_at_their_limit)
{
    struct kr_drivemap map = standard();
    struct kr_drive_objects objects;
    map.position = (struct kr_drive_ratio){1000, 1};
    struct kr_axis_out out = {.target_um = INT32_MAX};
    kr_drivemap_write_out(&map, &out, &objects);
    ck_assert_int_eq((int32_t)objects.raw[KR_OBJECT_TARGET], INT32_MAX);
    out.target_um = INT32_MIN;
    kr_drivemap_write_out(&map, &out, &objects);
    ck_assert_int_eq((int32_t)objects.raw[KR_OBJECT_TARGET], INT32_MIN);
    map.reversed = true;
    kr_drivemap_write_out(&map, &out, &objects);
    ck_assert_int_eq((int32_t)objects.raw[KR_OBJECT_TARGET], INT32_MAX);
}
END_TEST

START_TEST(a_reversed_drive_counts_the_other_way_in_places_and_not_in_speeds)
{
    struct kr_drivemap map = standard();
    struct kr_drive_objects objects;
    map.reversed = true;
    struct kr_axis_out out = {.target_um = 700, .speed_um_per_s = 50, .accel_um_per_s2 = 60, .decel_um_per_s2 = 70};
    kr_drivemap_write_out(&map, &out, &objects);
    ck_assert_int_eq((int32_t)objects.raw[KR_OBJECT_TARGET], -700);
    ck_assert_int_eq((int32_t)objects.raw[KR_OBJECT_SPEED], 50);
    ck_assert_int_eq((int32_t)objects.raw[KR_OBJECT_DECEL], 70);
    objects.raw[KR_OBJECT_POSITION] = (uint32_t)-900;
    struct kr_axis_in in = {0};
    kr_drivemap_read_in(&map, &objects, &in);
    ck_assert_int_eq(in.position_um, 900);
}
END_TEST

START_TEST(signals_go_to_their_bits_inverted_where_the_drive_wants_it)
{
    struct kr_drivemap map = standard();
    struct kr_drive_objects objects;
    map.output_bit[0] = 7;         /* pin in */
    map.output_bit[3] = KR_NO_BIT; /* clamp open: not wired */
    map.inverted_outputs = KR_DO_BRAKE_OPEN | KR_DO_CLAMP_OPEN;
    struct kr_axis_out out = {.outputs = KR_DO_PIN_IN | KR_DO_CLAMP_OPEN};
    kr_drivemap_write_out(&map, &out, &objects);
    ck_assert_uint_eq(objects.raw[KR_OBJECT_OUTPUTS], 0x80 | 0x04);
    out.outputs = KR_DO_PIN_OUT | KR_DO_BRAKE_OPEN;
    kr_drivemap_write_out(&map, &out, &objects);
    ck_assert_uint_eq(objects.raw[KR_OBJECT_OUTPUTS], 0x02);
}
END_TEST

START_TEST(an_input_that_isnt_wired_reads_0_even_if_inverted)
{
    struct kr_drivemap map = standard();
    struct kr_drive_objects objects;
    struct kr_axis_in in;
    memset(&objects, 0, sizeof objects);
    for (int i = 0; i < KR_N_INPUT_SIGNALS; i++)
        map.input_bit[i] = KR_NO_BIT;
    map.inverted_inputs = 0xFFFF;
    kr_drivemap_read_in(&map, &objects, &in);
    ck_assert_uint_eq(in.inputs, 0);
}
END_TEST

/* CiA 402 (IEC 61800-7-201), object 60FDh: bit 0 is the negative limit switch, bit 1 the positive one, bit 2 the home
 * switch; bits 16 to 31 are the manufacturer's. From memory of the standard. */
START_TEST(limit_switches_are_left_out_unless_the_map_names_their_bits_of_60FDh)
{
    struct kr_drivemap map = standard();
    struct kr_drive_objects objects;
    struct kr_axis_in in;
    memset(&objects, 0, sizeof objects);
    objects.raw[KR_OBJECT_INPUTS] = 0xC000;
    kr_drivemap_read_in(&map, &objects, &in);
    ck_assert_uint_eq(in.inputs & (KR_DI_LIMIT_LOW | KR_DI_LIMIT_HIGH), 0);
    map.address[KR_OBJECT_INPUTS_HIGH] = 115;
    for (int i = 0; i < KR_N_INPUT_SIGNALS; i++)
        map.input_bit[i] = map.input_bit[i] == KR_NO_BIT ? KR_NO_BIT : (int8_t)(16 + i);
    map.input_bit[14] = 0;
    map.input_bit[15] = 1;
    ck_assert_ptr_null(kr_drivemap_check(&map).what);
    objects.raw[KR_OBJECT_INPUTS] = 0x0002;
    kr_drivemap_read_in(&map, &objects, &in);
    ck_assert_uint_eq(in.inputs, KR_DI_LIMIT_HIGH);
    objects.raw[KR_OBJECT_INPUTS] = 0x0001;
    kr_drivemap_read_in(&map, &objects, &in);
    ck_assert_uint_eq(in.inputs, KR_DI_LIMIT_LOW);
}
END_TEST

START_TEST(inputs_may_lie_in_a_second_word)
{
    struct kr_drivemap map = standard();
    struct kr_drive_objects objects;
    struct kr_axis_in in = {.inputs = KR_DI_FLAG};
    map.address[KR_OBJECT_INPUTS_HIGH] = 115;
    map.input_bit[6] = 21; /* flag */
    ck_assert_ptr_null(kr_drivemap_check(&map).what);
    kr_drivemap_write_in(&map, &in, &objects);
    ck_assert_uint_eq(objects.raw[KR_OBJECT_INPUTS], 0);
    ck_assert_uint_eq(objects.raw[KR_OBJECT_INPUTS_HIGH], 1u << 5);
    in.inputs = 0;
    kr_drivemap_read_in(&map, &objects, &in);
    ck_assert_uint_eq(in.inputs, KR_DI_FLAG);
}
END_TEST

START_TEST(a_position_has_a_datum_as_the_map_says_by_a_bit_or_always)
{
    struct kr_drivemap map = standard();
    struct kr_drive_objects objects;
    struct kr_axis_in in = {.referenced = false, .statusword = 0x4237}, back;
    kr_drivemap_write_in(&map, &in, &objects);
    kr_drivemap_read_in(&map, &objects, &back);
    ck_assert(back.referenced);
    map.referenced_bit = 14;
    kr_drivemap_write_in(&map, &in, &objects);
    kr_drivemap_read_in(&map, &objects, &back);
    ck_assert(!back.referenced);
    ck_assert_uint_eq(back.statusword, 0x0237);
}
END_TEST

static int32_t any(uint32_t item, uint32_t nth)
{
    return (int32_t)(sim_draw_bits((struct sim_draw){.seed = 9, .what = SIM_DRAW_SLIP, .item = item, .nth = nth}) %
                     20000001) -
           10000000;
}

START_TEST(images_come_back_as_they_were_through_any_word_order_direction_and_place)
{
    for (uint32_t i = 0; i < 500; i++) {
        struct kr_drivemap map = standard();
        map.low_word_first = i & 1;
        map.reversed = i & 2;
        map.inverted_outputs = (uint16_t)(any(1, i) & 0xF);
        map.inverted_inputs = (uint16_t)(any(2, i) & 0x3F7F);
        map.position = (struct kr_drive_ratio){1 + (int32_t)(i % 7), 1};
        if (i & 4)
            map.address[KR_OBJECT_TARGET] = 50; /* a run of its own */
        map.address[KR_OBJECT_PROBE_2_RISE] = 140;
        map.address[KR_OBJECT_PROBE_2_FALL] = 142;
        map.address[KR_OBJECT_RISE_2_COUNT] = 144;
        map.address[KR_OBJECT_FALL_2_COUNT] = 145;
        ck_assert_ptr_null(kr_drivemap_check(&map).what);
        struct kr_axis_out out = {.controlword = (uint16_t)any(3, i),
                                  .mode = (int8_t)any(4, i),
                                  .probe_function = (uint16_t)any(5, i),
                                  .outputs = (uint16_t)(any(6, i) & 0xF),
                                  .target_um = any(7, i),
                                  .speed_um_per_s = abs(any(8, i)),
                                  .accel_um_per_s2 = abs(any(9, i)),
                                  .decel_um_per_s2 = abs(any(10, i))};
        struct kr_axis_out out_back = {0};
        struct kr_drive_objects a, b;
        kr_drivemap_write_out(&map, &out, &a);
        carry(&map, KR_OBJECT_OUT, &a, &b);
        kr_drivemap_read_out(&map, &b, &out_back);
        ck_assert_uint_eq(out_back.controlword, out.controlword);
        ck_assert_int_eq(out_back.mode, out.mode);
        ck_assert_uint_eq(out_back.probe_function, out.probe_function);
        ck_assert_uint_eq(out_back.outputs, out.outputs);
        ck_assert_int_eq(out_back.target_um, out.target_um);
        ck_assert_int_eq(out_back.speed_um_per_s, out.speed_um_per_s);
        ck_assert_int_eq(out_back.accel_um_per_s2, out.accel_um_per_s2);
        ck_assert_int_eq(out_back.decel_um_per_s2, out.decel_um_per_s2);
        struct kr_axis_in in = {.statusword = (uint16_t)any(11, i),
                                .mode = (int8_t)any(12, i),
                                .error_code = (uint16_t)any(13, i),
                                .position_um = any(14, i),
                                .following_error_um = any(15, i),
                                .probe_status = (uint16_t)any(16, i),
                                .rise_count = (uint16_t)any(17, i),
                                .fall_count = (uint16_t)any(18, i),
                                .rise_um = any(19, i),
                                .fall_um = any(20, i),
                                .second = {(uint16_t)any(31, i), (uint16_t)any(32, i), any(33, i), any(34, i)},
                                .inputs = (uint16_t)(any(21, i) & 0x3F7F),
                                .referenced = true};
        struct kr_axis_in in_back = {0};
        kr_drivemap_write_in(&map, &in, &a);
        carry(&map, KR_OBJECT_IN, &a, &b);
        kr_drivemap_read_in(&map, &b, &in_back);
        ck_assert_int_eq(in_back.position_um, in.position_um);
        ck_assert_int_eq(in_back.following_error_um, in.following_error_um);
        ck_assert_int_eq(in_back.rise_um, in.rise_um);
        ck_assert_int_eq(in_back.second.rise_um, in.second.rise_um);
        ck_assert_int_eq(in_back.second.fall_um, in.second.fall_um);
        ck_assert_uint_eq(in_back.second.rise_count, in.second.rise_count);
        ck_assert_uint_eq(in_back.second.fall_count, in.second.fall_count);
        ck_assert_int_eq(in_back.fall_um, in.fall_um);
        ck_assert_uint_eq(in_back.inputs, in.inputs);
        ck_assert_uint_eq(in_back.statusword, in.statusword);
        ck_assert_uint_eq(in_back.rise_count, in.rise_count);
        ck_assert_int_eq(in_back.mode, in.mode);
    }
}
END_TEST

START_TEST(scattered_registers_make_several_runs_and_the_controlword_s_comes_last)
{
    struct kr_drivemap map = standard();
    struct kr_drive_run run[KR_DRIVE_RUNS_MAX];
    map.address[KR_OBJECT_OUTPUTS] = 40;
    map.address[KR_OBJECT_TARGET] = 30;
    ck_assert_ptr_null(kr_drivemap_check(&map).what);
    ck_assert_uint_eq(kr_drivemap_runs(&map, KR_OBJECT_OUT, run), 4);
    static const struct kr_drive_run want[] = {{4, 7}, {30, 2}, {40, 1}, {0, 2}};
    for (int i = 0; i < 4; i++) {
        ck_assert_uint_eq(run[i].address, want[i].address);
        ck_assert_uint_eq(run[i].n, want[i].n);
    }
}
END_TEST

START_TEST(no_gap_is_ever_written_to)
{
    struct kr_drivemap map = standard();
    struct kr_drive_objects objects;
    memset(&objects, 0, sizeof objects);
    map.address[KR_OBJECT_OUTPUTS] = 40;
    ck_assert(!kr_drivemap_set(&map, &objects, KR_OBJECT_OUT, 11, 1));
    ck_assert(!kr_drivemap_set(&map, &objects, KR_OBJECT_OUT, 100, 1)); /* an input */
    ck_assert(kr_drivemap_set(&map, &objects, KR_OBJECT_OUT, 40, 1));
}
END_TEST

START_TEST(an_impossible_map_is_refused_by_name)
{
    struct kr_drivemap map = standard();
    map.address[KR_OBJECT_TARGET] = KR_NO_REGISTER;
    ck_assert_str_eq(kr_drivemap_check(&map).what, "target");
    map = standard();
    map.address[KR_OBJECT_POSITION] = 65535; /* its second register would be the 65537th */
    ck_assert_str_eq(kr_drivemap_check(&map).what, "position");
    ck_assert_int_eq(kr_drivemap_check(&map).most, 65534);
    map = standard();
    map.address[KR_OBJECT_STATUSWORD] = 3; /* the target's second */
    ck_assert_str_eq(kr_drivemap_check(&map).what, "statusword");
    ck_assert_str_eq(kr_drivemap_check(&map).other, "target");
    map = standard();
    map.speed.um = 0;
    ck_assert_str_eq(kr_drivemap_check(&map).what, "speed");
    map = standard();
    map.input_bit[8] = map.input_bit[9];
    ck_assert_str_eq(kr_drivemap_check(&map).what, "knives_raised");
    ck_assert_str_eq(kr_drivemap_check(&map).other, "line_stopped");
    map = standard();
    map.input_bit[8] = 16; /* there is no second word */
    ck_assert_str_eq(kr_drivemap_check(&map).what, "line_stopped");
    map = standard();
    map.referenced_bit = 16;
    ck_assert_str_eq(kr_drivemap_check(&map).what, "referenced_bit");
}
END_TEST

START_TEST(an_expected_parameter_is_one_word_or_two_in_the_map_s_order_behind_its_mask)
{
    const uint16_t word[2] = {0xFFFF, 0xF800};
    struct kr_expected e = {.words = 2, .is_signed = true, .value = (uint32_t)-2048, .mask = UINT32_MAX};
    ck_assert_uint_eq(kr_expected_seen(&e, false, word), (uint32_t)-2048);
    ck_assert_uint_eq(kr_expected_seen(&e, true, word), 0xF800FFFFu);
    ck_assert_int_eq(kr_expected_shown(&e, e.value), -2048);
    e = (struct kr_expected){.words = 1, .is_signed = true, .mask = 0xFF0F};
    ck_assert_uint_eq(kr_expected_seen(&e, true, word), 0xFF0F);
    ck_assert_int_eq(kr_expected_shown(&e, 0xFF0F), -241);
    e.is_signed = false;
    ck_assert_int_eq(kr_expected_shown(&e, 0xFF0F), 65295);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("a drive's registers");
    TCase *tc = suite_case(suite, "a drive's registers");
    tcase_add_test(tc, the_standard_map_is_possible_and_one_run_each_way);
    tcase_add_test(tc, the_high_word_comes_first_unless_the_map_says_otherwise);
    tcase_add_test(tc, units_are_exact_ratios_rounded_to_the_nearest_on_either_side_of_zero);
    tcase_add_test(tc, what_doesnt_fit_32_bits_stops_at_their_limit);
    tcase_add_test(tc, a_reversed_drive_counts_the_other_way_in_places_and_not_in_speeds);
    tcase_add_test(tc, signals_go_to_their_bits_inverted_where_the_drive_wants_it);
    tcase_add_test(tc, an_input_that_isnt_wired_reads_0_even_if_inverted);
    tcase_add_test(tc, limit_switches_are_left_out_unless_the_map_names_their_bits_of_60FDh);
    tcase_add_test(tc, inputs_may_lie_in_a_second_word);
    tcase_add_test(tc, a_position_has_a_datum_as_the_map_says_by_a_bit_or_always);
    tcase_add_test(tc, images_come_back_as_they_were_through_any_word_order_direction_and_place);
    tcase_add_test(tc, scattered_registers_make_several_runs_and_the_controlword_s_comes_last);
    tcase_add_test(tc, no_gap_is_ever_written_to);
    tcase_add_test(tc, an_expected_parameter_is_one_word_or_two_in_the_map_s_order_behind_its_mask);
    tcase_add_test(tc, an_impossible_map_is_refused_by_name);
    return suite;
}
