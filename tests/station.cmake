# The station: whole changeovers in virtual time against the simulated machine (unit/rig).
set(station_rig ${CMAKE_CURRENT_SOURCE_DIR}/unit/rig.c)
set(station_rig_libs kr_station kr_sim m)

# Random stations, orders and, with "faults", everything that can go wrong. A story is its number: DEVELOPERS.md.
add_executable(station_chaos long/chaos.c long/crew.c long/stations.c ${station_rig})
target_include_directories(station_chaos PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/unit ${CMAKE_SOURCE_DIR})
target_link_libraries(station_chaos PRIVATE ${station_rig_libs} PkgConfig::CHECK)
set_target_properties(station_chaos PROPERTIES RUNTIME_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}/tests)
