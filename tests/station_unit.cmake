# The station with an ordinary machine: what the suites of unit/test_station_*.c leave to be said.
kr_rig(change_rig SOURCES unit/change_rig.c LIBS station_rig)
foreach(what intake commands permissives sequence scan placement)
    kr_test(test_${what} SOURCES unit/test_${what}.c LIBS change_rig LABELS unit station)
endforeach()
