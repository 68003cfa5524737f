# One rail, without a station: the rig is the caller of motion, in front of the simulated machine.
kr_rig(motion_rig SOURCES rig/motion_rig.c LIBS kr_motion kr_sim)
kr_test(test_motion SOURCES unit/test_motion.c LIBS motion_rig LABELS unit motion COST 10)
kr_test(test_knowledge SOURCES unit/test_knowledge.c LIBS motion_rig LABELS unit motion)

# What moves a rail, through the whole station: the same rig as for the station.
foreach(what devices datum drive frame alike references reference_switch scan jog)
    kr_test(test_${what} SOURCES unit/test_${what}.c LIBS rig LABELS unit motion)
endforeach()
