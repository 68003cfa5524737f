kr_test(test_base SOURCES unit/test_base.c LIBS kr_base LABELS unit)
