#include "copy.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static bool fail(struct file_error *error, const char *name, const char *why)
{
    snprintf(error->text, sizeof error->text, "the copy %s can't be made: %s", name, why);
    return false;
}

/* SQLite copies page by page, so the copy includes the content of the -wal file. */
static bool copy_pages(sqlite3 *from, sqlite3 *to, const char *name, struct file_error *error)
{
    sqlite3_backup *backup = sqlite3_backup_init(to, "main", from, "main");
    if (backup == NULL)
        return fail(error, name, sqlite3_errmsg(to));
    int rc = sqlite3_backup_step(backup, -1);
    int end = sqlite3_backup_finish(backup);
    return (rc == SQLITE_DONE && end == SQLITE_OK) || fail(error, name, sqlite3_errstr(end != SQLITE_OK ? end : rc));
}

bool copy_into(sqlite3 *db, const char *name, struct file_error *error)
{
    sqlite3 *to = NULL;
    int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOFOLLOW;
    bool ok = sqlite3_open_v2(name, &to, flags, NULL) == SQLITE_OK ? copy_pages(db, to, name, error)
                                                                   : fail(error, name, sqlite3_errmsg(to));
    int rc = sqlite3_close(to);
    return ok && (rc == SQLITE_OK || fail(error, name, sqlite3_errstr(rc)));
}

bool copy_make(sqlite3 *db, const struct book_file *file, long long version, char name[PATH_MAX],
               struct file_error *error)
{
    char suffix[40];
    snprintf(suffix, sizeof suffix, ".version-%lld", version);
    int fd = file_make_beside(file, suffix, name, error);
    if (fd < 0)
        return false;
    bool ok = copy_into(db, name, error) && (fsync(fd) == 0 || fail(error, name, strerror(errno)));
    ok = ok && file_sync_folder(file, error);
    close(fd);
    if (!ok)
        unlink(name); /* the rest of the copy is useless; the error is in *error already */
    return ok;
}
