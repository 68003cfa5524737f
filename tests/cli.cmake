# What is typed on a command line, and what the manuals say of it.
add_test(NAME command_line COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/command_line.py
         $<TARGET_FILE:kniferail> $<TARGET_FILE:kniferaild> $<TARGET_FILE:kniferail-sim>
         WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(command_line PROPERTIES LABELS system TIMEOUT 120)

add_test(NAME map_version COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/map_version.py
    $<TARGET_FILE:kniferail>)
set_tests_properties(map_version PROPERTIES LABELS system TIMEOUT 60)

# The page for browsers.
kr_real_time(panel FOLDER system ARGS ${gateway} $<TARGET_FILE:kniferail-panel> COST 60 LABELS threads)
kr_fuzz(fuzz_panel LIBS kr_panel kr_sim RUNS 200000 MOST_BYTES 2000
    EXAMPLES ${CMAKE_CURRENT_SOURCE_DIR}/fuzz/panel BRIEF 200000)

# A list of knives that is to be taken in.
kr_fuzz(fuzz_knives SOURCES ${CMAKE_SOURCE_DIR}/src/cli/knife_rows.c ${CMAKE_SOURCE_DIR}/src/cli/csv.c
        LIBS kr_book kr_sim
        SEES ${CMAKE_SOURCE_DIR}/src/cli RUNS 100000 MOST_BYTES 1000 BRIEF 100000)

kr_test(test_commission SOURCES unit/test_commission.c LIBS kr_commission LABELS unit)
kr_test(test_commission_alarms SOURCES unit/test_commission_alarms.c LIBS kr_commission kr_sim LABELS unit)
kr_test(test_provocations SOURCES unit/test_provocations.c LIBS rig kr_commission LABELS unit station)
kr_test(test_commission_moves SOURCES unit/test_commission_moves.c LIBS kr_commission kr_report LABELS unit)
kr_test(test_commission_frame SOURCES unit/test_commission_frame.c LIBS kr_commission LABELS unit)
kr_test(test_commission_switch SOURCES unit/test_commission_switch.c LIBS kr_commission LABELS unit)
kr_test(test_commission_inches SOURCES unit/test_commission_inches.c LIBS kr_commission LABELS unit)
kr_test(test_commission_station SOURCES unit/test_commission_station.c ${CMAKE_SOURCE_DIR}/src/cli/commission_ask.c
        ${CMAKE_SOURCE_DIR}/src/cli/commission_alive.c ${CMAKE_SOURCE_DIR}/src/cli/commission_station.c
        ${CMAKE_SOURCE_DIR}/src/cli/commission_rehearsal_open.c
        LIBS kr_commission kr_config kr_client PkgConfig::JANSSON LABELS unit)
kr_test(test_commission_jobs SOURCES unit/test_commission_jobs.c ${CMAKE_SOURCE_DIR}/src/cli/commission_jobs.c
        LIBS kr_commission kr_config kr_client PkgConfig::JANSSON LABELS unit)
kr_test(test_commission_rehearsal SOURCES unit/test_commission_rehearsal.c
        ${CMAKE_SOURCE_DIR}/src/cli/commission_rehearsal.c
        LIBS kr_commission kr_config kr_client PkgConfig::JANSSON LABELS unit)
kr_test(test_commission_silence SOURCES unit/test_commission_silence.c
        ${CMAKE_SOURCE_DIR}/src/cli/commission_silence.c
        LIBS kr_commission kr_config kr_client PkgConfig::JANSSON LABELS unit)
kr_test(test_report_tables SOURCES unit/test_report_tables.c ${CMAKE_SOURCE_DIR}/src/cli/report_tables.c
        ${CMAKE_SOURCE_DIR}/src/cli/history_table.c ${CMAKE_SOURCE_DIR}/src/cli/text_table.c
        ${CMAKE_SOURCE_DIR}/src/cli/csv.c
        LIBS kr_book kr_report kr_station PkgConfig::JANSSON LABELS unit)
kr_test(test_csv SOURCES unit/test_csv.c ${CMAKE_SOURCE_DIR}/src/cli/csv.c LABELS unit)
kr_test(test_text_table SOURCES unit/test_text_table.c ${CMAKE_SOURCE_DIR}/src/cli/text_table.c LABELS unit)
kr_test(test_text_fill SOURCES unit/test_text_fill.c ${CMAKE_SOURCE_DIR}/src/cli/text_fill.c LABELS unit)

add_test(NAME manual COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/manual.py $<TARGET_FILE:kniferaild>
         $<TARGET_FILE:kniferail> $<TARGET_FILE:kniferail-sim> $<TARGET_FILE:kniferail-panel>)
set_tests_properties(manual PROPERTIES LABELS system TIMEOUT 60)

# The documents: their links, and where the answers to newcomers' questions stand.
add_test(NAME documents COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/documents.py)
set_tests_properties(documents PROPERTIES LABELS system TIMEOUT 60)

# Texts that send hands to the machine.
add_test(NAME lockout COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/lockout.py)
set_tests_properties(lockout PROPERTIES LABELS system TIMEOUT 60)

# kniferail plan, as a program would use it.
add_test(NAME plan_cli COMMAND /usr/bin/python3 -B ${CMAKE_SOURCE_DIR}/tests/reference/plan_cli.py
         $<TARGET_FILE:kniferail> config/small-shear.cfg WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(plan_cli PROPERTIES LABELS "system;plan" TIMEOUT 120)

# What is installed, and taken away again.
if(NOT CMAKE_BUILD_TYPE MATCHES "ASan|TSan" AND NOT KR_FUZZ)
    add_test(NAME installation COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/installation.py
        ${CMAKE_BINARY_DIR})
    set_tests_properties(installation PROPERTIES LABELS system TIMEOUT 120 RESOURCE_LOCK install_manifest)
endif()

# What a PLC programmer's tool reads of the map.
add_test(NAME plc_text COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/plc_text.py
    $<TARGET_FILE:kniferail>)
set_tests_properties(plc_text PROPERTIES LABELS system TIMEOUT 60)
