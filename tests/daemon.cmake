# The book, the daemon and its demo.
kr_test(test_book SOURCES ${CMAKE_CURRENT_SOURCE_DIR}/unit/test_book.c LIBS kr_book PkgConfig::SQLITE LABELS unit)

# The real daemon over real sockets, with Debian's python3-pymodbus and mbpoll. Alone on the machine: deadlines are its own.
function(kr_daemon_system name)
    add_test(NAME ${name} COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/${name}.py
             $<TARGET_FILE:kniferaild> $<TARGET_FILE:kniferail>)
    set_tests_properties(${name} PROPERTIES LABELS system TIMEOUT 600 RUN_SERIAL ON)
endfunction()

kr_daemon_system(daemon_changeover)
kr_daemon_system(daemon_handshake)
kr_daemon_system(daemon_motion)
