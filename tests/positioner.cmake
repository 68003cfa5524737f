# The positioner, and the map of a drive's registers that both ends of the wire share.
kr_test(test_drivemap SOURCES unit/test_drivemap.c LIBS sim_rig kr_drivemap LABELS unit)
kr_test(test_pace SOURCES unit/test_pace.c LIBS kr_positioner LABELS unit)
target_include_directories(test_pace PRIVATE ${CMAKE_SOURCE_DIR}/src/positioner)
kr_test(test_owner SOURCES unit/test_owner.c ${CMAKE_SOURCE_DIR}/src/positioner/owner.c LIBS kr_positioner LABELS unit)
target_include_directories(test_owner PRIVATE ${CMAKE_SOURCE_DIR}/src/positioner)

# Against the simulator at the end of a wire, in real time.
kr_test(test_wire SOURCES system/test_wire.c system/wire_rig.c system/wire_proxy.c
        LIBS kr_positioner kr_config PkgConfig::MODBUS
        LABELS system ARGS $<TARGET_FILE:kniferail-sim> COST 70)
set_tests_properties(test_wire PROPERTIES RUN_SERIAL ON) # an answer has 50 ms
set_source_files_properties(system/wire_proxy.c PROPERTIES COMPILE_DEFINITIONS _XOPEN_SOURCE=700) # pseudo-terminals

# What its clients leave undone: read, ask, go on living.
add_test(NAME sim_doors COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/sim_doors.py
    $<TARGET_FILE:kniferail-sim>)
set_tests_properties(sim_doors PROPERTIES LABELS system TIMEOUT 300 COST 20)

# How long its serial line takes, and what it makes of a line that is set up otherwise. It measures milliseconds.
add_test(NAME sim_line COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/sim_line.py
         $<TARGET_FILE:kniferail> $<TARGET_FILE:kniferail-sim>)
set_tests_properties(sim_line PROPERTIES LABELS system TIMEOUT 300 COST 30 RUN_SERIAL ON)

# What comes over a drive's wire, up to the station, and fault scripts. A run has the station's cycles in it, and costs
# about ten times what a run of the other targets costs.
kr_fuzz(fuzz_drive LIBS rig kr_simserve PkgConfig::MODBUS SOURCES ${CMAKE_SOURCE_DIR}/src/positioner/transfer.c
        ${CMAKE_SOURCE_DIR}/src/positioner/tcp.c ${CMAKE_SOURCE_DIR}/src/positioner/network.c
        ${CMAKE_SOURCE_DIR}/src/positioner/outputs.c ${CMAKE_SOURCE_DIR}/src/positioner/clock.c
        SEES ${CMAKE_SOURCE_DIR}/src/positioner RUNS 50000 MOST_BYTES 600 BRIEF 20000)
