# What moves a rail, through the whole station: the same rig as for the station.
foreach(what devices drive scan jog)
    kr_test(test_${what} SOURCES unit/test_${what}.c LIBS rig LABELS unit motion)
endforeach()
