# What survives: power cuts, failing and damaged disks, every interleaving of the handshake, kills of the daemon.
set(survive ${CMAKE_CURRENT_SOURCE_DIR}/survive)
set(survive_disk ${survive}/cut_vfs.c ${survive}/story.c)

kr_test(test_cut TIMEOUT 600 SOURCES ${survive}/test_cut.c ${survive_disk} LIBS kr_book PkgConfig::SQLITE LABELS unit)
kr_test(test_damage SOURCES ${survive}/test_damage.c ${survive_disk} LIBS kr_book PkgConfig::SQLITE LABELS unit)

# Every interleaving: its own main, which prints the bound and the totals. It looks into the station's state.
add_executable(interleave ${survive}/interleave.c ${survive}/actions.c ${survive}/world.c ${survive}/judge.c
               ${survive}/key.c ${survive}/toy.c)
target_include_directories(interleave PRIVATE ${CMAKE_SOURCE_DIR}/src/station)
target_link_libraries(interleave PRIVATE kr_station)
set_target_properties(interleave PROPERTIES RUNTIME_OUTPUT_DIRECTORY ${CMAKE_BINARY_DIR}/tests)
add_test(NAME interleave COMMAND interleave WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(interleave PROPERTIES LABELS property TIMEOUT 600)
