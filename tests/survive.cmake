# What survives: power cuts, failing and damaged disks, every interleaving of the handshake, kills of the daemon.
set(survive ${CMAKE_CURRENT_SOURCE_DIR}/survive)
set(survive_disk ${survive}/cut_vfs.c ${survive}/story.c)

if(CMAKE_BUILD_TYPE MATCHES "ASan|TSan|Coverage") # an order of magnitude slower
    set(survive_states 2000)
    set(survive_kills 30)
else()
    set(survive_states 40000)
    set(survive_kills 300)
endif()

kr_test(test_cut TIMEOUT 1200 SOURCES ${survive}/test_cut.c ${survive_disk} LIBS kr_book PkgConfig::SQLITE LABELS unit
        ARGS power COST 50)
add_test(NAME test_cut_failures COMMAND test_cut failures WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(test_cut_failures PROPERTIES LABELS unit TIMEOUT 1200 COST 50)
kr_test(test_damage SOURCES ${survive}/test_damage.c ${survive_disk} LIBS kr_book PkgConfig::SQLITE LABELS unit)

# Every interleaving: its own main, which prints the bound and the totals. It looks into the station's state.
add_executable(interleave ${survive}/interleave.c ${survive}/actions.c ${survive}/world.c ${survive}/judge.c
               ${survive}/key.c ${survive}/toy.c)
target_include_directories(interleave PRIVATE ${CMAKE_SOURCE_DIR}/src/station)
target_link_libraries(interleave PRIVATE kr_station)
set_target_properties(interleave PROPERTIES RUNTIME_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}/tests)
add_test(NAME interleave COMMAND interleave ${survive_states} WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(interleave PROPERTIES LABELS property TIMEOUT 600 COST 65)

# The real daemon: killed at any instant, and with a disk that takes its time.
kr_real_time(kill FOLDER survive ARGS ${wired} --kills ${survive_kills} COST 120)
set_tests_properties(kill PROPERTIES PROCESSORS 2) # it has eight benches
if(NOT CMAKE_BUILD_TYPE MATCHES "ASan|TSan" AND NOT KR_FUZZ)
    add_library(slow_sync MODULE ${survive}/slow_sync.c)
    target_link_libraries(slow_sync PRIVATE ${CMAKE_DL_LIBS})
    set_target_properties(slow_sync PROPERTIES PREFIX "" LIBRARY_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}/tests)
    kr_real_time(slow_disk FOLDER survive ARGS ${gateway} $<TARGET_FILE:slow_sync> COST 30)
endif()
