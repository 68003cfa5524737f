# The station with an ordinary machine: what the suites of unit/test_station_*.c leave to be said.
foreach(what intake commands permissives sequence scan placement)
    kr_test(test_${what} SOURCES unit/test_${what}.c unit/change_rig.c unit/station_rig.c unit/rig.c LIBS kr_station kr_sim m LABELS unit station)
endforeach()
