# The station with an ordinary machine: what the suites of unit/test_station_*.c leave to be said.
foreach(what intake commands permissives sequence scan placement)
    kr_test(test_${what} SOURCES unit/test_${what}.c LIBS rig LABELS unit station)
endforeach()
