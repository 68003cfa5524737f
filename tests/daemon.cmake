# The book, the daemon and its demo.
kr_test(test_book SOURCES ${CMAKE_CURRENT_SOURCE_DIR}/unit/test_book.c LIBS kr_book PkgConfig::SQLITE LABELS unit)
