# The tests of the face look inside: the answering part is tested without sockets.
kr_rig(face_rig SOURCES rig/face_rig.c LIBS kr_face PkgConfig::MODBUS)
target_include_directories(face_rig PUBLIC ${CMAKE_SOURCE_DIR}/src/face)
function(kr_face_test name label)
    kr_test(${name} SOURCES unit/${name}.c LIBS face_rig LABELS ${label})
endfunction()

# libmodbus lends its constants and no code: none of its blocking paths can be reached from the face.
add_test(NAME face_calls_no_libmodbus
         COMMAND sh -c
             "nm --undefined-only \"$1\" | grep uv_ > /dev/null && ! nm --undefined-only \"$1\" | grep modbus_" -
                 $<TARGET_FILE:kr_face>)
set_tests_properties(face_calls_no_libmodbus PROPERTIES LABELS unit)

kr_face_test(test_face_server unit)
kr_face_test(test_face_limits unit)
kr_face_test(test_face_vectors reference)
kr_face_test(test_face_functions unit)
kr_face_test(test_face_control unit)

# Any bytes as a client's stream.
kr_fuzz(fuzz_frame LIBS kr_face PkgConfig::MODBUS SEES ${CMAKE_SOURCE_DIR}/src/face RUNS 50000
        MOST_BYTES 4096 BRIEF 2000)

# ---- with a server of its own process ------------------------------------------------------------------------

kr_program(face_host SOURCES system/face_host.c LIBS kr_face)
kr_program(face_libmodbus SOURCES system/face_libmodbus.c LIBS PkgConfig::MODBUS)
kr_program(face_load SOURCES bench/face_load.c)

# Debian's python3, whose pymodbus is the one that the test names.
kr_real_time(face_conformance FOLDER system ARGS $<TARGET_FILE:face_host> $<TARGET_FILE:face_libmodbus> ALONE)
kr_real_time(face_abuse FOLDER system ARGS $<TARGET_FILE:face_host> $<TARGET_FILE:face_load> ALONE)
add_library(face_count_malloc SHARED ${CMAKE_CURRENT_SOURCE_DIR}/system/face_count_malloc.c)
set_target_properties(face_count_malloc PROPERTIES LIBRARY_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}/tests)
target_compile_options(face_count_malloc PRIVATE -fno-builtin -fno-sanitize=all)
kr_real_time(face_allocation FOLDER system ARGS $<TARGET_FILE:face_host> $<TARGET_FILE:face_count_malloc>)
set_tests_properties(face_allocation PROPERTIES SKIP_RETURN_CODE 77)
kr_real_time(face_npm FOLDER system ARGS $<TARGET_FILE:face_host> ${CMAKE_BINARY_DIR}/face_npm)
set_tests_properties(face_npm PROPERTIES SKIP_RETURN_CODE 77)

# ---- benchmarks: tests/bench/face_bench.py runs them ---------------------------------------------------------

kr_program(face_ceiling SOURCES bench/face_ceiling.c LIBS PkgConfig::UV)
kr_program(face_plain SOURCES bench/face_plain.c LIBS PkgConfig::MODBUS)

# Answers formed by libmodbus through a socket pair: the way not taken, kept to be measured.
kr_program(face_host_pair SOURCES system/face_host.c bench/face_pair.c LIBS kr_face PkgConfig::MODBUS)
target_link_options(face_host_pair PRIVATE -Wl,--wrap=face_answer)
kr_program(face_pair SOURCES bench/face_pair.c LIBS kr_face PkgConfig::MODBUS)
target_compile_definitions(face_pair PRIVATE FACE_PAIR_MAIN)
foreach(tool face_host_pair face_pair)
    target_include_directories(${tool} PRIVATE ${CMAKE_SOURCE_DIR}/src/face)
endforeach()
