# The book.
kr_test(test_book SOURCES unit/test_book.c LIBS kr_book PkgConfig::SQLITE LABELS unit)
kr_test(test_book_file SOURCES unit/test_book_file.c LIBS kr_book PkgConfig::SQLITE LABELS unit)
kr_test(test_care SOURCES unit/test_care.c LIBS kr_book PkgConfig::SQLITE LABELS unit)
kr_program(year_book SOURCES bench/year_book.c LIBS kr_book)
add_test(NAME report COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/report.py $<TARGET_FILE:kniferail>
    $<TARGET_FILE:year_book>)
add_test(NAME knives_due COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/knives_due.py
    $<TARGET_FILE:kniferail> $<TARGET_FILE:year_book>)
set_tests_properties(knives_due PROPERTIES LABELS system TIMEOUT 120)
add_test(NAME knife_history COMMAND /usr/bin/python3 -B ${CMAKE_CURRENT_SOURCE_DIR}/system/knife_history.py
         $<TARGET_FILE:kniferail> $<TARGET_FILE:year_book>)
set_tests_properties(report knife_history PROPERTIES LABELS system TIMEOUT 300)

# Power cuts, failing and damaged disks.
set(disk survive/cut_vfs.c survive/sample_commits.c)
# The power is cut at every STRIDEth step of a story, cut again while the book comes up, and the disk fails.
kr_count(stride BRIEF 17 FULL 1 SANITIZED 7)
kr_test(test_cut SOURCES survive/test_cut.c ${disk} LIBS kr_book PkgConfig::SQLITE LABELS survive
        ARGS power ${stride} TIMEOUT 1200 COST 50)
function(cut_test part stride)
    add_test(NAME test_cut_${part} COMMAND test_cut ${part} ${stride} WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
    set_tests_properties(test_cut_${part} PROPERTIES LABELS survive TIMEOUT 1200 COST 50)
endfunction()
kr_count(stride BRIEF 197 FULL 23 SANITIZED 149)
cut_test(again ${stride})
kr_count(stride BRIEF 7 FULL 1 SANITIZED 5)
cut_test(older ${stride})
kr_count(stride BRIEF 50 FULL 3 SANITIZED 29)
cut_test(failures ${stride})
kr_test(test_damage SOURCES survive/test_damage.c ${disk} LIBS kr_book PkgConfig::SQLITE LABELS survive
        TIMEOUT 1200 COST 50)

# They compare by the book's own lists of fields.
foreach(test test_book test_cut test_damage)
    target_include_directories(${test} PRIVATE ${CMAKE_SOURCE_DIR}/src/book)
endforeach()

# The ledger of knives: a station in front of the simulated machine, with a real book behind it (rig/ledger_rig.h).
kr_rig(ledger_rig SOURCES rig/ledger_rig.c LIBS rig kr_book PkgConfig::SQLITE PkgConfig::CHECK)
kr_test(test_knives SOURCES unit/test_knives.c LIBS ledger_rig LABELS unit)
kr_test(test_wear SOURCES unit/test_wear.c LIBS ledger_rig LABELS unit)
kr_count(stride BRIEF 7 FULL 1 SANITIZED 5)
kr_test(test_cut_knives SOURCES survive/test_cut_knives.c survive/cut_vfs.c LIBS ledger_rig LABELS survive
        ARGS ${stride} TIMEOUT 600)
kr_count(orders BRIEF 100 FULL 1000 SANITIZED 100)
set(told ${CMAKE_SOURCE_DIR}/src/cli)
set(recorded ${CMAKE_SOURCE_DIR}/src/daemon)
kr_test(test_knife_year SOURCES long/knife_year.c ${recorded}/record.c ${recorded}/clock.c ${recorded}/words.c
        ${told}/report_data.c ${told}/report_tables.c ${told}/history_table.c ${told}/text_table.c ${told}/csv.c
        LIBS ledger_rig kr_report PkgConfig::UV PkgConfig::JANSSON LABELS property ARGS ${orders} 1 TIMEOUT 1200
        COST 60)
target_include_directories(test_knife_year PRIVATE ${recorded} ${told})
