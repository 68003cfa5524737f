# The config and the command line.
kr_test(test_config SOURCES ${CMAKE_CURRENT_SOURCE_DIR}/unit/test_config.c LIBS kr_config LABELS unit)

kr_fuzz(fuzz_config LIBS kr_config RUNS 20000 MOST_BYTES 16384 EXAMPLES ${CMAKE_SOURCE_DIR}/config BRIEF 5000)

add_test(NAME command_line COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/command_line.py $<TARGET_FILE:kniferail>
                 $<TARGET_FILE:kniferaild> WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(command_line PROPERTIES LABELS system TIMEOUT 120)
