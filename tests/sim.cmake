# The simulated machine, and the server that lends it to a wire.
kr_rig(sim_rig SOURCES rig/sim_rig.c LIBS kr_sim m)
foreach(what profile drive rail switch faults slave)
    kr_test(test_sim_${what} SOURCES unit/test_sim_${what}.c LIBS sim_rig kr_simserve LABELS unit sim)
endforeach()
kr_test(test_error_codes SOURCES reference/test_error_codes.c LIBS kr_sim LABELS reference)

# Help that can't be written is no success.
add_test(NAME sim_help_to_a_full_device
         COMMAND sh -c "for option in help version faults; do ! \"$1\" --$option >/dev/full 2>/dev/null || exit 1; done"
             -
                 $<TARGET_FILE:kniferail-sim>)
set_tests_properties(sim_help_to_a_full_device PROPERTIES LABELS unit)
