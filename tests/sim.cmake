# The simulated machine, and drives over Modbus on both ends of their wire.
foreach(what profile drive rail switch faults slave)
    kr_test(test_sim_${what} SOURCES unit/test_sim_${what}.c unit/sim_rig.c LIBS kr_simserve m LABELS unit sim)
endforeach()
kr_test(test_drivemap SOURCES unit/test_drivemap.c unit/sim_rig.c LIBS kr_sim kr_drivemap LABELS unit)
kr_test(test_wire SOURCES system/test_wire.c system/wire_rig.c system/wire_proxy.c LIBS kr_positioner kr_config PkgConfig::MODBUS
        LABELS system ARGS $<TARGET_FILE:kniferail-sim>)
set_source_files_properties(system/wire_proxy.c PROPERTIES COMPILE_DEFINITIONS _XOPEN_SOURCE=700) # pseudo-terminals
