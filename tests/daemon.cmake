# The daemon and its demo.
if(NOT CMAKE_BUILD_TYPE MATCHES "ASan|TSan" AND NOT KR_FUZZ)
    add_library(count_malloc MODULE system/count_malloc.c)
    set_target_properties(count_malloc PROPERTIES PREFIX "" LIBRARY_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}/tests)
    set(count_malloc $<TARGET_FILE:count_malloc>)
endif()

# Of the daemon's own files: how a changeover is told.
set(daemon ${CMAKE_SOURCE_DIR}/src/daemon)
kr_test(test_record SOURCES unit/test_record.c ${daemon}/record.c ${daemon}/clock.c ${daemon}/words.c
        LIBS kr_book kr_station kr_base PkgConfig::UV PkgConfig::JANSSON LABELS unit)
target_include_directories(test_record PRIVATE ${daemon})
# And what its time is spent on.
kr_test(test_spent SOURCES unit/test_spent.c ${daemon}/record.c ${daemon}/clock.c ${daemon}/words.c
        LIBS rig kr_book PkgConfig::UV PkgConfig::JANSSON LABELS unit)
target_include_directories(test_spent PRIVATE ${daemon})
# The audit.
kr_test(test_audit SOURCES unit/test_audit.c ${daemon}/audit.c ${daemon}/clock.c ${daemon}/log.c
        LIBS kr_face kr_book kr_station kr_base PkgConfig::UV LABELS unit)
target_include_directories(test_audit PRIVATE ${daemon})
# And how its steps are: clocks and log are the test's own.
kr_test(test_story_log SOURCES unit/test_story_log.c ${daemon}/story_log.c LIBS rig PkgConfig::UV LABELS unit)
target_include_directories(test_story_log PRIVATE ${daemon})
kr_test(test_overruns SOURCES unit/test_overruns.c ${daemon}/overruns.c LIBS kr_base PkgConfig::UV LABELS unit)
target_include_directories(test_overruns PRIVATE ${daemon})

# The real daemon over real sockets, with Debian's python3-pymodbus and mbpoll.
kr_real_time(daemon_changeover FOLDER system ARGS ${gateway} COST 35)
kr_real_time(daemon_handshake FOLDER system ARGS ${gateway} COST 25)
kr_real_time(daemon_motion FOLDER system ARGS ${gateway} COST 35 PARTS 3)
kr_real_time(daemon_maint FOLDER system ARGS ${gateway} COST 25 PARTS 2)
kr_real_time(daemon_frame FOLDER system ARGS ${gateway} COST 20)
kr_real_time(daemon_knives FOLDER system ARGS ${gateway} COST 20)
# Knives as a list: out of one book, into another.
kr_real_time(knife_list FOLDER system ARGS ${gateway} COST 10)
kr_real_time(daemon_doors FOLDER system ARGS ${gateway} ${count_malloc} COST 35)
# The shipped PLC library as a PLC.
kr_real_time(plc_library FOLDER system ARGS ${gateway} COST 100 PARTS 3)
# The log's thread, the pool's work and the loop meet here: also under ThreadSanitizer.
kr_real_time(daemon_book FOLDER system ARGS ${gateway} COST 30 PARTS 2 LABELS threads)
kr_real_time(spare_computer FOLDER system ARGS ${gateway} COST 20)
# So does the thread that tells the service manager.
kr_real_time(supervised FOLDER system ARGS ${gateway} COST 20 LABELS threads)

# The gateway, the wire and the simulator together; in wire_misbehaves with something between them.
kr_real_time(wire_changeover FOLDER system ARGS ${wired} ALONE) # with the limits that are shipped, and no interruption
# These two scan flags over the wire, and a late cycle loses edges: wire_trace, and wire_told below.
kr_real_time(wire_trace FOLDER system ARGS ${wired} ALONE COST 60)
kr_real_time(wire_commissioning FOLDER system ARGS ${wired} COST 140)
kr_real_time(wire_guide_moves FOLDER system ARGS ${wired} COST 110 PARTS 3 SANITIZED silence_in_all one_holder)
kr_real_time(wire_guide_alarms FOLDER system ARGS ${wired} TESTS Alarms LowTorque Sessions COST 90)
kr_real_time(wire_rehearsal FOLDER system FILE wire_guide_alarms ARGS ${wired} TESTS Rehearsal
             SANITIZED machine_is_refused
             ALONE COST 250) # a late cycle loses edges, too
kr_real_time(wire_guide FOLDER system ARGS ${wired} COST 90)
kr_real_time(wire_guide_care FOLDER system ARGS ${wired} COST 60)
kr_real_time(wire_guide_frame FOLDER system ARGS ${wired} COST 200 PARTS 3 SANITIZED frame_that_is_off bias_that strips)
kr_real_time(wire_guide_doubt FOLDER system ARGS ${wired} COST 130 SANITIZED each_value older_program)
kr_real_time(wire_guide_switch FOLDER system ARGS ${wired} COST 110 SANITIZED flag_width)
kr_real_time(wire_cold_monday FOLDER system ARGS ${wired} COST 115)
kr_real_time(wire_broken_knife FOLDER system ARGS ${wired} COST 65)
kr_real_time(wire_drives FOLDER system ARGS ${wired} COST 60)
kr_real_time(wire_late_answers FOLDER system ARGS ${wired} COST 50)
kr_real_time(wire_times FOLDER system ARGS ${wired} ALONE COST 110) # it compares times
kr_count(changeovers BRIEF 10 FULL 20 SANITIZED 10)
kr_real_time(wire_told FOLDER system ARGS ${wired} --changeovers ${changeovers} ALONE COST 150)
kr_real_time(wire_misbehaves FOLDER system ARGS ${wired} COST 85)

# Under the system calls that the shipped unit leaves it.
if(NOT CMAKE_BUILD_TYPE MATCHES "ASan|TSan" AND NOT KR_FUZZ)
    kr_real_time(service_filter FOLDER system ARGS ${gateway} $<TARGET_FILE:kniferail-panel>)
    set_tests_properties(service_filter PROPERTIES SKIP_RETURN_CODE 77)
endif()

# Killed at any instant, and with a disk that takes its time.
kr_count(kills BRIEF 30 FULL 300 SANITIZED 30)
kr_real_time(kill FOLDER survive SUITE survive ARGS ${wired} --kills ${kills} COST 120)
set_tests_properties(kill PROPERTIES PROCESSORS 2) # it has eight benches
if(NOT CMAKE_BUILD_TYPE MATCHES "ASan|TSan" AND NOT KR_FUZZ)
    add_library(slow_sync MODULE survive/slow_sync.c)
    target_link_libraries(slow_sync PRIVATE ${CMAKE_DL_LIBS})
    set_target_properties(slow_sync PROPERTIES PREFIX "" LIBRARY_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}/tests)
    kr_real_time(many_stations FOLDER survive SUITE survive ARGS ${gateway} ALONE COST 60)
    kr_real_time(slow_disk FOLDER survive SUITE survive ARGS ${gateway} $<TARGET_FILE:slow_sync> COST 30)
    kr_count(kills BRIEF 12 FULL 100 SANITIZED 12)
    kr_real_time(failing_commits FOLDER survive SUITE survive ARGS ${gateway} $<TARGET_FILE:slow_sync>
        --kills ${kills} COST 40)
endif()

# The demo builds into build/ itself.
if(CMAKE_BINARY_DIR STREQUAL "${CMAKE_SOURCE_DIR}/build")
    add_test(NAME demo COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/demo.py)
    set_tests_properties(demo PROPERTIES LABELS system TIMEOUT 300 RUN_SERIAL ON)
endif()
