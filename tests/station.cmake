# The station: whole changeovers in virtual time against the simulated machine (unit/rig).
set(station_rig ${CMAKE_CURRENT_SOURCE_DIR}/unit/rig.c)
set(station_rig_libs kr_station kr_sim m)

# chaos: random stations, orders and, with "faults", everything that can go wrong; a story is its number.
# matrix: every fault in every phase.
foreach(what chaos matrix)
    add_executable(station_${what} long/${what}.c long/crew.c long/stations.c ${station_rig})
    target_include_directories(station_${what} PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/unit ${CMAKE_SOURCE_DIR})
    target_link_libraries(station_${what} PRIVATE ${station_rig_libs} PkgConfig::CHECK)
    set_target_properties(station_${what} PROPERTIES RUNTIME_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}/tests)
endforeach()
