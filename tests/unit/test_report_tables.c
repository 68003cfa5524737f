/* The times of a report: which planned times stand beside those that docking and ways took. */
#include "../../src/cli/report_tables.h"

#include "suite.h"

static struct history_table table;

/* A period in which one rail, by its number, docked three times. What lies in front of the planned times is not 0. */
static struct report_data docked_on(uint16_t rail_number)
{
    static struct report_timing timing;
    timing = (struct report_timing){.rail = rail_number, .step[REPORT_DOCK] = {.n = 3, .ms = 1200}};
    return (struct report_data){.room = {1, 1, 1, 1, 1, 1}, .timing = &timing, .n_timings = 1};
}

static const struct kr_cell *told(const struct report_data *data, const struct kr_station_config *station,
                                  const char *column)
{
    history_table_free(&table);
    history_table_begin(&table, "times");
    ck_assert(report_add_timing(data, station, &table));
    ck_assert_uint_eq(table.n_rows, N_REPORT_STEPS);
    return history_table_cell(&table, REPORT_DOCK, history_table_column(&table, column));
}

START_TEST(planned_times_are_those_of_the_book_or_else_of_the_station_file)
{
    static struct kr_station_config station; /* large */
    struct report_data data = docked_on(2);
    station.geometry.n_rails = 2;
    station.geometry.rail[1].dock_us = 900000;
    ck_assert_int_eq(told(&data, NULL, "planned_ms")->kind, KR_CELL_NONE);
    ck_assert_double_eq(told(&data, &station, "planned_ms")->real, 900);
    data.planned[1] = (struct report_planned){.origin = KR_FRAME_FROM_PERSON, .ms = {700}};
    ck_assert_double_eq(told(&data, &station, "planned_ms")->real, 700);
    station.geometry.n_rails = 1; /* the station has lost a rail since then */
    ck_assert_double_eq(told(&data, &station, "planned_ms")->real, 700);
    history_table_free(&table);
}
END_TEST

/* Somebody may have changed a book by hand. */
START_TEST(a_rail_that_no_station_has_has_no_planned_times)
{
    static struct kr_station_config station; /* large */
    const uint16_t numbers[] = {0, KR_RAILS_MAX + 1, UINT16_MAX};
    struct report_data data = docked_on(numbers[_i]);
    station.geometry.n_rails = KR_RAILS_MAX;
    ck_assert_int_eq(told(&data, NULL, "planned_ms")->kind, KR_CELL_NONE);
    ck_assert_int_eq(told(&data, &station, "planned_ms")->kind, KR_CELL_NONE);
    ck_assert_str_eq(told(&data, &station, "planned_by")->text, "");
    ck_assert_uint_eq((unsigned)told(&data, &station, "rail")->number, numbers[_i]);
    history_table_free(&table);
}
END_TEST

Suite *make_suite(void)
{
    Suite *suite = suite_create("report_tables");
    TCase *all = suite_case(suite, "times");
    tcase_add_test(all, planned_times_are_those_of_the_book_or_else_of_the_station_file);
    tcase_add_loop_test(all, a_rail_that_no_station_has_has_no_planned_times, 0, 3);
    return suite;
}
