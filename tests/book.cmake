# The book.
kr_test(test_book SOURCES unit/test_book.c LIBS kr_book PkgConfig::SQLITE LABELS unit)

# Power cuts, failing and damaged disks.
set(disk survive/cut_vfs.c survive/sample_commits.c)
kr_test(test_cut TIMEOUT 1200 SOURCES survive/test_cut.c ${disk} LIBS kr_book PkgConfig::SQLITE LABELS unit
        ARGS power COST 50)
add_test(NAME test_cut_failures COMMAND test_cut failures WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
set_tests_properties(test_cut_failures PROPERTIES LABELS unit TIMEOUT 1200 COST 50)
kr_test(test_damage SOURCES survive/test_damage.c ${disk} LIBS kr_book PkgConfig::SQLITE LABELS unit)
