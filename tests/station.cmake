# The station: whole changeovers in virtual time against the simulated machine (unit/rig).
kr_rig(rig SOURCES unit/rig.c LIBS kr_station kr_sim m)
kr_rig(station_rig SOURCES unit/station_rig.c LIBS rig)

file(GLOB station_tests CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/unit/test_station_*.c)
foreach(source ${station_tests})
    get_filename_component(name ${source} NAME_WE)
    kr_test(${name} SOURCES ${source} LIBS station_rig LABELS unit station)
    target_include_directories(${name} PRIVATE ${CMAKE_SOURCE_DIR} ${CMAKE_CURRENT_SOURCE_DIR}/long)
endforeach()
target_link_libraries(test_station_figures PRIVATE kr_config)

# chaos: random stations, orders and, with "faults", everything that can go wrong; a story is its number.
# matrix: every fault in every phase.
foreach(what chaos matrix)
    add_executable(station_${what} long/${what}.c long/crew.c long/stations.c)
    target_include_directories(station_${what} PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/unit ${CMAKE_SOURCE_DIR})
    target_link_libraries(station_${what} PRIVATE rig)
    set_target_properties(station_${what} PROPERTIES RUNTIME_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}/tests)
endforeach()

function(station_property name program)
    add_test(NAME ${name} COMMAND ${program} ${ARGN})
    set_tests_properties(${name} PROPERTIES LABELS "property;station" TIMEOUT 1500)
endfunction()
station_property(station_matrix station_matrix)
if(CMAKE_BUILD_TYPE MATCHES "ASan|TSan|Coverage") # an order of magnitude slower: a tenth of them
    station_property(station_plain station_chaos 1 100 plain)
    station_property(station_faults station_chaos 1 1000 faults)
    station_property(station_faults_40 station_chaos 1 5 faults 40)
    station_property(station_faults_100 station_chaos 1 5 faults 100)
else()
    station_property(station_plain station_chaos 1 1000 plain)
    station_property(station_faults station_chaos 1 10000 faults)
    station_property(station_faults_40 station_chaos 1 50 faults 40)
    station_property(station_faults_100 station_chaos 1 50 faults 100)
endif()
