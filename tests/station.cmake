# The station: whole changeovers in virtual time against the simulated machine (unit/rig).
set(station_rig ${CMAKE_CURRENT_SOURCE_DIR}/unit/rig.c)
set(station_rig_libs kr_station kr_sim m)
