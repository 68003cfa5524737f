# The station: whole changeovers in virtual time against the simulated machine (rig/rig.h).
kr_rig(rig SOURCES rig/rig.c rig/plc.c rig/small.c rig/story.c rig/truth.c LIBS kr_station kr_trace kr_sim m)

foreach(what commands orders queue permissives line line_signals interruptions verify jobs progress reload figures
        edit edges offsets metres maint_stories told fast_scan late_scan)
    kr_test(test_${what} SOURCES unit/test_${what}.c LIBS rig LABELS unit station)
endforeach()
kr_rig(example_rig SOURCES rig/example_rig.c LIBS rig kr_config)
foreach(what figures told fast_scan late_scan)
    target_include_directories(test_${what} PRIVATE ${CMAKE_CURRENT_SOURCE_DIR}/long)
    target_link_libraries(test_${what} PRIVATE example_rig)
endforeach()

# chaos: random stations, orders and, with "faults", everything that can go wrong; a story is its number.
# matrix: every fault in every phase. frame_matrix: every fault of the frame.
foreach(what chaos matrix frame_matrix)
    kr_program(station_${what} SOURCES long/${what}.c long/operators.c long/digest.c long/frames.c long/running.c
               long/stations.c long/storms.c long/traced.c
               ${CMAKE_SOURCE_DIR}/src/face/line.c LIBS rig)
    # The PLC's writes count by the face's own rules.
    target_include_directories(station_${what} PRIVATE ${CMAKE_SOURCE_DIR}/src/face ${CMAKE_BINARY_DIR}/view/face
        ${CMAKE_BINARY_DIR}/view/admission)
endforeach()

function(station_property name program)
    add_test(NAME ${name} COMMAND ${program} ${ARGN})
    set_tests_properties(${name} PROPERTIES LABELS "property;station" TIMEOUT 1500 COST 50)
endfunction()
kr_count(step BRIEF 7 FULL 2 SANITIZED 2) # every how many cells: by sevenths come all rails, moments and faults
kr_count(parts BRIEF 1 FULL 2 SANITIZED 2)
foreach(part RANGE 1 ${parts})
    math(EXPR first "${part} - 1")
    station_property(station_matrix_${part} station_matrix ${first} ${step})
endforeach()
kr_count(step BRIEF 13 FULL 2 SANITIZED 13) # by thirteenths come all faults, moments and kinds of stations
kr_count(parts BRIEF 1 FULL 2 SANITIZED 1)
foreach(part RANGE 1 ${parts})
    math(EXPR first "${part} - 1")
    station_property(station_frame_matrix_${part} station_frame_matrix ${first} ${step})
endforeach()
# station_stories(NAME FIRST COUNT PARTS arguments...): COUNT stories from FIRST on, in parts that run side by side.
function(station_stories name first_of_all count parts)
    math(EXPR share "${count} / ${parts}")
    foreach(part RANGE 1 ${parts})
        math(EXPR first "(${part} - 1) * ${share} + ${first_of_all}")
        station_property(${name}_${part} station_chaos ${first} ${share} ${ARGN})
    endforeach()
endfunction()
kr_count(stories BRIEF 100 FULL 1000 SANITIZED 100)
station_stories(station_plain 1 ${stories} 2 plain)
# The first stories with faults are also held against how the station behaved in them before. A sanitizer is too slow
# for that.
kr_count(digested BRIEF 200 FULL 2000 SANITIZED 0)
if(digested)
    station_property(station_digest ${CMAKE_CURRENT_SOURCE_DIR}/digest ${digested} $<TARGET_FILE:station_chaos>)
    set_tests_properties(station_digest PROPERTIES PROCESSORS 2)
endif()
math(EXPR first "${digested} + 1")
# Recorded, written to a file, read again and replayed bit for bit.
kr_count(stories BRIEF 20 FULL 200 SANITIZED 10)
station_stories(station_traced 300001 ${stories} 1 faults --replay)
kr_count(stories BRIEF 800 FULL 8000 SANITIZED 500)
kr_count(parts BRIEF 2 FULL 4 SANITIZED 2)
station_stories(station_faults ${first} ${stories} ${parts} faults)
kr_count(stories BRIEF 100 FULL 3000 SANITIZED 100)
station_stories(station_storms 1 ${stories} 2 storms)
# A line that runs between two changeovers: accesses, power, restarts.
kr_count(stories BRIEF 60 FULL 1500 SANITIZED 60)
station_stories(station_lines 1 ${stories} 2 lines)
# With references on the frame, and what drives and switches are counted from changes.
kr_count(stories BRIEF 60 FULL 1500 SANITIZED 40)
station_stories(station_frames 1 ${stories} 2 frames)
kr_count(stories BRIEF 5 FULL 50 SANITIZED 5)
station_stories(station_faults_of_40 1 ${stories} 1 faults 40)
kr_count(parts BRIEF 1 FULL 2 SANITIZED 1)
station_stories(station_faults_of_100 1 ${stories} ${parts} faults 100)

# Random maintenance between random changeovers.
kr_count(cases BRIEF 20 FULL 100 SANITIZED 15)
kr_test(maint_property SOURCES unit/maint_property.c LIBS rig LABELS property
        ARGS ${cases} 1 COST 25)

# Every interleaving: its own main, which prints the bound and the totals. It looks into the station's state.
kr_count(states BRIEF 2000 FULL 40000 SANITIZED 2000)
kr_program(interleave SOURCES survive/interleave.c survive/actions.c survive/world.c survive/judge.c survive/key.c
           survive/toy.c ${CMAKE_SOURCE_DIR}/src/face/line.c LIBS kr_station)
# The PLC's writes count by the face's own rules.
target_include_directories(interleave PRIVATE ${CMAKE_SOURCE_DIR}/src/station ${CMAKE_SOURCE_DIR}/src
                           ${CMAKE_BINARY_DIR}/view/face ${CMAKE_BINARY_DIR}/view/admission)
add_test(NAME interleave COMMAND interleave ${states} WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(interleave PROPERTIES LABELS survive TIMEOUT 1200 COST 65)
