# Maintenance's part of the job, in virtual time.
kr_test(test_edit SOURCES unit/test_edit.c LIBS rig LABELS unit station)
kr_test(test_maint_stories SOURCES unit/test_maint_stories.c LIBS rig LABELS unit station)
kr_test(test_jog SOURCES unit/test_jog.c LIBS rig LABELS unit station)
kr_test(test_queue SOURCES unit/test_queue.c LIBS rig LABELS unit station)
kr_test(test_metres SOURCES unit/test_metres.c LIBS rig LABELS unit station)
kr_test(test_statistics SOURCES reference/test_statistics.c LIBS kr_base m LABELS reference)
add_test(NAME pi_digits COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/reference/pi_digits.py)
set_tests_properties(pi_digits PROPERTIES LABELS reference TIMEOUT 60)
kr_test(test_offsets SOURCES unit/test_offsets.c LIBS rig LABELS unit station)
kr_real_time(daemon_maint FOLDER system ARGS ${gateway} COST 25 PARTS 2)
if(CMAKE_BUILD_TYPE MATCHES "ASan|TSan|Coverage") # an order of magnitude slower
    set(maint_cases 15)
else()
    set(maint_cases 100)
endif()
kr_test(maint_property SOURCES unit/maint_property.c LIBS rig LABELS property
        ARGS ${maint_cases} 1 COST 25)
