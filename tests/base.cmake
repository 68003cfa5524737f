kr_test(test_base SOURCES unit/test_base.c LIBS kr_base LABELS unit)
kr_test(test_packml SOURCES reference/test_packml.c LIBS kr_base LABELS reference)
