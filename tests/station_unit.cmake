# The station, sentence by sentence: requests, commands, permissives, the sequence, scans, placement.
foreach(what intake commands permissives sequence placement)
    kr_test(test_${what} SOURCES unit/test_${what}.c unit/change_rig.c unit/rig.c LIBS kr_station kr_sim m LABELS unit station)
endforeach()
