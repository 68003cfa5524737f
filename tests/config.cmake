# The config and the command line.
kr_test(test_config SOURCES ${CMAKE_CURRENT_SOURCE_DIR}/unit/test_config.c LIBS kr_config LABELS unit)

# The same target for libFuzzer (KR_FUZZ) and, everywhere else, as a test that mutates the examples by a fixed seed.
add_executable(fuzz_config ${CMAKE_CURRENT_SOURCE_DIR}/fuzz/fuzz_config.c)
target_link_libraries(fuzz_config PRIVATE kr_config)
set_target_properties(fuzz_config PROPERTIES RUNTIME_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}/tests)
if(KR_FUZZ)
    target_compile_definitions(fuzz_config PRIVATE KR_FUZZ)
    target_link_options(fuzz_config PRIVATE -fsanitize=fuzzer)
    file(MAKE_DIRECTORY ${CMAKE_BINARY_DIR}/corpus/config) # what it finds goes there; the examples are only read
    add_test(NAME fuzz_config COMMAND fuzz_config -runs=20000 -seed=1 -max_len=16384 ${CMAKE_BINARY_DIR}/corpus/config
                                      ${CMAKE_SOURCE_DIR}/config)
    set_tests_properties(fuzz_config PROPERTIES LABELS fuzz TIMEOUT 300)
else()
    add_test(NAME fuzz_config COMMAND fuzz_config 5000 1 WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
    set_tests_properties(fuzz_config PROPERTIES LABELS property TIMEOUT 300)
endif()

add_test(NAME command_line COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/command_line.py $<TARGET_FILE:kniferail>
                 $<TARGET_FILE:kniferaild> WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(command_line PROPERTIES LABELS system TIMEOUT 120)
