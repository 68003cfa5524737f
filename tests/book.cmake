# The book.
kr_test(test_book SOURCES unit/test_book.c LIBS kr_book PkgConfig::SQLITE LABELS unit)
