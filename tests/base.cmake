# Units, the map, statistics.
kr_test(test_base SOURCES unit/test_base.c LIBS kr_base LABELS unit)
kr_test(test_bucket SOURCES unit/test_bucket.c LIBS kr_base LABELS unit)
kr_test(test_packml SOURCES reference/test_packml.c LIBS kr_base LABELS reference)
kr_test(test_statistics SOURCES reference/test_statistics.c LIBS kr_base m LABELS reference)
kr_test(test_report SOURCES reference/test_report.c LIBS kr_report m LABELS reference)
kr_test(test_calibration SOURCES reference/test_calibration.c LIBS kr_base m LABELS reference)
add_test(NAME pi_digits COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/reference/pi_digits.py)
set_tests_properties(pi_digits PROPERTIES LABELS reference TIMEOUT 60)
