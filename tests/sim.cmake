foreach(what profile drive rail switch faults)
    kr_test(test_sim_${what} SOURCES unit/test_sim_${what}.c unit/sim_rig.c LIBS kr_sim m LABELS unit sim)
endforeach()
