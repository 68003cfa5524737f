# The simulated machine, and the server that lends it to a wire.
kr_rig(sim_rig SOURCES rig/sim_rig.c LIBS kr_sim m)
foreach(what profile drive rail switch faults slave)
    kr_test(test_sim_${what} SOURCES unit/test_sim_${what}.c LIBS sim_rig kr_simserve LABELS unit sim)
endforeach()
kr_test(test_error_codes SOURCES reference/test_error_codes.c LIBS kr_sim LABELS reference)
