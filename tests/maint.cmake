# Maintenance's part of the job, in virtual time.
set(maint_rig ${CMAKE_CURRENT_SOURCE_DIR}/unit/rig.c ${CMAKE_CURRENT_SOURCE_DIR}/unit/maint_rig.c)

kr_test(test_edit SOURCES unit/test_edit.c ${maint_rig} LIBS kr_station kr_sim m LABELS unit station)
kr_test(test_maint_stories SOURCES unit/test_maint_stories.c ${maint_rig} LIBS kr_station kr_sim m LABELS unit station)
kr_test(test_jog SOURCES unit/test_jog.c ${maint_rig} LIBS kr_station kr_sim m LABELS unit station)
kr_test(test_queue SOURCES unit/test_queue.c ${maint_rig} LIBS kr_station kr_sim m LABELS unit station)
kr_test(test_metres SOURCES unit/test_metres.c ${maint_rig} LIBS kr_station kr_sim m LABELS unit station)
kr_test(test_statistics SOURCES reference/test_statistics.c LIBS kr_base m LABELS reference)
kr_test(test_offsets SOURCES unit/test_offsets.c ${maint_rig} LIBS kr_station kr_sim m LABELS unit station)
kr_daemon_system(daemon_maint)
kr_test(maint_property SOURCES unit/maint_property.c ${maint_rig} LIBS kr_station kr_sim m LABELS property ARGS 100 1)
