/* cut_vfs: a disk for SQLite, in memory, that keeps what was synced apart from what was only written. It can lose its
 * power at any step, run full, fail once or for good, and be damaged byte by byte. A VFS of SQLite's own interface
 * (sqlite.org/vfs.html), registered as the default, so that the book runs on it unchanged.
 *
 * What a cut may leave is what a file system may leave (sqlite.org/atomiccommit.html, sections 2 and 3.8): of the steps
 * since a file's last sync all, none, those up to a moment, or any of them, and a write in pieces of a sector. A file's
 * name is on the disk once its folder was synced; SQLite does that with the first sync of a journal or a WAL.
 *
 * One process, one connection at a time. */
#ifndef KR_TESTS_CUT_VFS_H
#define KR_TESTS_CUT_VFS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum cut_step {
    CUT_WRITE = 1,
    CUT_SYNC = 2,
    CUT_TRUNCATE = 4,
    CUT_DELETE = 8,
    CUT_CREATE = 16,
    CUT_READ = 32,
    CUT_SHM = 64,
};
#define CUT_CHANGES (CUT_WRITE | CUT_SYNC | CUT_TRUNCATE | CUT_DELETE | CUT_CREATE)

void cut_install(void); /* the default VFS from now on */
void cut_format(void);  /* an empty disk, power on, nothing planned */

/* The nth step from now, from 1, is the last that is begun: power goes before it is done. 0: never. */
void cut_power_at(long nth);
bool cut_is_off(void);
long cut_steps(void); /* changes since cut_format or cut_power_at */

enum cut_keep {
    CUT_KEEP_SYNCED, /* nothing that was not synced */
    CUT_KEEP_ALL,    /* all that was begun */
    CUT_KEEP_PREFIX, /* all up to a moment by chance, the last write torn */
    CUT_KEEP_ANY,    /* any of it by chance, writes torn */
    CUT_KEEPS
};
/* Cuts the power if it is still on, then brings it back: unsynced steps are kept or lost as told. */
void cut_power_up(enum cut_keep keep, uint64_t seed);

/* The nth step of those kinds from now fails with an SQLite code; for_good: so do all behind it. 0: none. */
void cut_fail_at(long nth, unsigned kinds, int rc, bool for_good);
bool cut_failed(void); /* a step has failed since cut_fail_at */

/* A copy of the whole disk, and back to it: one at a time. Only while no file is open. */
void cut_save(void);
void cut_restore(void);

/* Damage. Names are the ends of paths ("book.db", "-wal"). Only while no file is open. */
size_t cut_size(const char *end); /* 0: there is none */
const unsigned char *cut_bytes(const char *end);
void cut_flip(const char *end, size_t at, unsigned char mask);
void cut_shorten(const char *end, size_t size);
void cut_put(const char *end, size_t at, const unsigned char *bytes, size_t n);
void cut_remove(const char *end);
void cut_protect(bool on); /* from writing; cut_format takes it off */

#endif
