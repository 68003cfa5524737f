# The config: files to structs.
foreach(what config config_drive config_sizes)
    kr_test(test_${what} SOURCES unit/test_${what}.c LIBS kr_config LABELS unit)
endforeach()

kr_fuzz(fuzz_config LIBS kr_config RUNS 20000 MOST_BYTES 16384 EXAMPLES ${CMAKE_SOURCE_DIR}/config BRIEF 5000)
