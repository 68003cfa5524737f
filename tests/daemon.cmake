# The book, the daemon and its demo.
kr_test(test_book SOURCES ${CMAKE_CURRENT_SOURCE_DIR}/unit/test_book.c LIBS kr_book PkgConfig::SQLITE LABELS unit)

# The real daemon over real sockets, with Debian's python3-pymodbus and mbpoll. Alone on the machine: deadlines are its own.
function(kr_daemon_system name)
    add_test(NAME ${name} COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/${name}.py
             $<TARGET_FILE:kniferaild> $<TARGET_FILE:kniferail> ${ARGN})
    set_tests_properties(${name} PROPERTIES LABELS system TIMEOUT 900 RUN_SERIAL ON)
endfunction()

if(NOT CMAKE_BUILD_TYPE MATCHES "ASan|TSan" AND NOT KR_FUZZ)
    add_library(count_malloc MODULE ${CMAKE_CURRENT_SOURCE_DIR}/system/count_malloc.c)
    set_target_properties(count_malloc PROPERTIES PREFIX "" LIBRARY_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}/tests)
    set(count_malloc $<TARGET_FILE:count_malloc>)
endif()

kr_daemon_system(daemon_changeover)
kr_daemon_system(daemon_handshake)
kr_daemon_system(daemon_motion)
kr_daemon_system(daemon_doors ${count_malloc})
kr_daemon_system(daemon_book)
# The log's thread, the pool's work and the loop meet here: also under ThreadSanitizer.
set_tests_properties(daemon_book PROPERTIES LABELS "system;threads")

# It builds into build/ itself.
if(CMAKE_BINARY_DIR STREQUAL "${CMAKE_SOURCE_DIR}/build")
    add_test(NAME demo COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/demo.py)
    set_tests_properties(demo PROPERTIES LABELS system TIMEOUT 300 RUN_SERIAL ON)
endif()
