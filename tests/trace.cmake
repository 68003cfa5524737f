# The recorder: recording, files, replay and the story in words, in virtual time.
kr_test(test_trace SOURCES unit/test_trace.c LIBS rig LABELS unit)
target_include_directories(test_trace PRIVATE ${CMAKE_SOURCE_DIR}/src/trace ${CMAKE_SOURCE_DIR}/src/station)

# Any bytes as a file, and as the records of one.
kr_fuzz(fuzz_trace LIBS rig SEES ${CMAKE_SOURCE_DIR}/src/trace RUNS 20000 MOST_BYTES 4096 BRIEF 20000)

# The command, with the trace of a random story.
add_test(NAME trace_cli COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/trace_cli.py
         $<TARGET_FILE:kniferail> $<TARGET_FILE:station_chaos>)
set_tests_properties(trace_cli PROPERTIES LABELS system TIMEOUT 120)

# What recording costs the cycle: tests/bench/run trace.
set(daemon ${CMAKE_SOURCE_DIR}/src/daemon)
kr_program(trace_bench SOURCES bench/trace_bench.c ${daemon}/story_log.c ${daemon}/log.c ${daemon}/clock.c
           LIBS rig PkgConfig::UV)
target_include_directories(trace_bench PRIVATE ${daemon})
