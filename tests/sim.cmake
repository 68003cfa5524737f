# The simulated machine, and drives over Modbus on both ends of their wire.
kr_rig(sim_rig SOURCES rig/sim_rig.c LIBS kr_sim m)
foreach(what profile drive rail switch faults slave)
    kr_test(test_sim_${what} SOURCES unit/test_sim_${what}.c LIBS sim_rig kr_simserve LABELS unit sim)
endforeach()
kr_test(test_error_codes SOURCES reference/test_error_codes.c LIBS kr_sim LABELS reference)
kr_test(test_drivemap SOURCES unit/test_drivemap.c LIBS sim_rig kr_drivemap LABELS unit)
kr_test(test_config_drive SOURCES unit/test_config_drive.c LIBS kr_config LABELS unit)
kr_test(test_wire SOURCES system/test_wire.c system/wire_rig.c system/wire_proxy.c LIBS kr_positioner kr_config PkgConfig::MODBUS
        LABELS system ARGS $<TARGET_FILE:kniferail-sim> COST 70)
set_tests_properties(test_wire PROPERTIES RUN_SERIAL ON) # it is in real time, and an answer has 50 ms
set_source_files_properties(system/wire_proxy.c PROPERTIES COMPILE_DEFINITIONS _XOPEN_SOURCE=700) # pseudo-terminals

# What comes over a drive's wire, and fault scripts.
kr_fuzz(fuzz_drive LIBS kr_simserve PkgConfig::MODBUS SOURCES ${CMAKE_SOURCE_DIR}/src/positioner/transfer.c
        SEES ${CMAKE_SOURCE_DIR}/src/positioner RUNS 50000 MOST_BYTES 600 BRIEF 20000)

add_test(NAME manual COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/manual.py $<TARGET_FILE:kniferaild>
         $<TARGET_FILE:kniferail> $<TARGET_FILE:kniferail-sim>)
set_tests_properties(manual PROPERTIES LABELS system TIMEOUT 60)

# The gateway, the wire and the simulator together; in wire_misbehaves with something between them.
kr_real_time(wire_changeover FOLDER system ARGS ${wired} ALONE) # with the limits that are shipped, and no interruption
kr_real_time(wire_misbehaves FOLDER system ARGS ${wired} COST 85)
