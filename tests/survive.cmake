# What survives: power cuts, failing and damaged disks, every interleaving of the handshake, kills of the daemon.
set(survive ${CMAKE_CURRENT_SOURCE_DIR}/survive)
set(survive_disk ${survive}/cut_vfs.c ${survive}/story.c)

kr_test(test_cut TIMEOUT 600 SOURCES ${survive}/test_cut.c ${survive_disk} LIBS kr_book PkgConfig::SQLITE LABELS unit)
kr_test(test_damage SOURCES ${survive}/test_damage.c ${survive_disk} LIBS kr_book PkgConfig::SQLITE LABELS unit)
