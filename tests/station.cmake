# The station: whole changeovers in virtual time against the simulated machine (rig/rig.h).
kr_rig(rig SOURCES rig/rig.c rig/plc.c rig/small.c rig/story.c rig/truth.c LIBS kr_station kr_sim m)

foreach(what commands orders queue permissives line interruptions verify jobs progress reload figures
        edit offsets metres maint_stories)
    kr_test(test_${what} SOURCES unit/test_${what}.c LIBS rig LABELS unit station)
endforeach()
target_include_directories(test_figures PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/long)
target_link_libraries(test_figures PRIVATE kr_config)

# chaos: random stations, orders and, with "faults", everything that can go wrong; a story is its number.
# matrix: every fault in every phase.
foreach(what chaos matrix)
    kr_program(station_${what} SOURCES long/${what}.c long/operators.c long/digest.c long/stations.c LIBS rig)
endforeach()

function(station_property name program)
    add_test(NAME ${name} COMMAND ${program} ${ARGN})
    set_tests_properties(${name} PROPERTIES LABELS "property;station" TIMEOUT 1500 COST 50)
endfunction()
station_property(station_matrix station_matrix)
# station_stories(NAME FIRST COUNT PARTS arguments...): COUNT stories from FIRST on, in parts that run side by side.
function(station_stories name first_of_all count parts)
    math(EXPR share "${count} / ${parts}")
    foreach(part RANGE 1 ${parts})
        math(EXPR first "(${part} - 1) * ${share} + ${first_of_all}")
        station_property(${name}_${part} station_chaos ${first} ${share} ${ARGN})
    endforeach()
endfunction()
if(CMAKE_BUILD_TYPE MATCHES "ASan|TSan|Coverage") # an order of magnitude slower: a twentieth, a tenth of them
    station_stories(station_plain 1 100 2 plain)
    station_stories(station_faults 1 500 2 faults)
    station_stories(station_faults_of_40 1 5 1 faults 40)
    station_stories(station_faults_of_100 1 5 1 faults 100)
else()
    station_stories(station_plain 1 1000 2 plain)
    station_stories(station_faults 2001 8000 4 faults)
    # Stories 1 to 2000, and whether the station behaves in them exactly as it did.
    station_property(station_digest ${CMAKE_CURRENT_SOURCE_DIR}/digest 2000 $<TARGET_FILE:station_chaos>)
    set_tests_properties(station_digest PROPERTIES PROCESSORS 2)
    station_stories(station_faults_of_40 1 50 1 faults 40)
    station_stories(station_faults_of_100 1 50 2 faults 100)
endif()

# Random maintenance between random changeovers.
if(CMAKE_BUILD_TYPE MATCHES "ASan|TSan|Coverage") # an order of magnitude slower
    set(maint_cases 15)
else()
    set(maint_cases 100)
endif()
kr_test(maint_property SOURCES unit/maint_property.c LIBS rig LABELS property
        ARGS ${maint_cases} 1 COST 25)

# Every interleaving: its own main, which prints the bound and the totals. It looks into the station's state.
if(CMAKE_BUILD_TYPE MATCHES "ASan|TSan|Coverage") # an order of magnitude slower
    set(survive_states 2000)
else()
    set(survive_states 40000)
endif()
kr_program(interleave SOURCES survive/interleave.c survive/actions.c survive/world.c survive/judge.c survive/key.c
           survive/toy.c LIBS kr_station)
target_include_directories(interleave PRIVATE ${CMAKE_SOURCE_DIR}/src/station)
add_test(NAME interleave COMMAND interleave ${survive_states} WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(interleave PROPERTIES LABELS property TIMEOUT 600 COST 65)
