#include "file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <unistd.h>

#define LOCK_BYTE  ((off_t)1 << 62) /* SQLite's own locks are in the 512 bytes from 1 GiB on */
#define PROBE_SIZE 4096
#define PROBE_AT   64 /* after the number of commits */

static bool fail(struct file_error *error, const char *format, ...) __attribute__((format(printf, 2, 3)));
static bool fail(struct file_error *error, const char *format, ...)
{
    va_list arg;
    va_start(arg, format);
    vsnprintf(error->text, sizeof error->text, format, arg);
    va_end(arg);
    return false;
}

static bool join(char to[PATH_MAX], const char *path, const char *suffix, struct file_error *error)
{
    int n = snprintf(to, PATH_MAX, "%s%s", path, suffix);
    return (n >= 0 && n < PATH_MAX) || fail(error, "the path is longer than %d characters", PATH_MAX - 1);
}

/* ---- finding it ------------------------------------------------------------------------------------------------ */

/* Called if the file does not exist yet: its folder must exist. */
static bool find_folder(const char *path, char real[PATH_MAX], struct file_error *error)
{
    static char folder[PATH_MAX]; /* static, because it is large: the daemon opens one book, on one thread */
    const char *slash = strrchr(path, '/'), *name = slash != NULL ? slash + 1 : path;
    if (!join(folder, slash == path ? "/" : slash != NULL ? path : ".", "", error))
        return false;
    if (slash != NULL && slash != path)
        folder[slash - path] = '\0';
    if (realpath(folder, real) == NULL)
        return fail(error, "%s: %s", path, strerror(errno));
    size_t used = strlen(real);
    int n = snprintf(real + used, PATH_MAX - used, "%s%s", real[1] != '\0' ? "/" : "", name);
    return (n >= 0 && (size_t)n < PATH_MAX - used) ||
           fail(error, "the path is longer than %d characters", PATH_MAX - 1);
}

static bool find(const char *path, char real[PATH_MAX], struct file_error *error)
{
    struct stat st;
    if (realpath(path, real) != NULL)
        return true;
    if (errno != ENOENT)
        return fail(error, "%s: %s", path, strerror(errno));
    if (lstat(path, &st) == 0 && S_ISLNK(st.st_mode))
        return fail(error, "%s is a symbolic link to a file that is not there", path);
    return find_folder(path, real, error);
}

/* ---- opening it ------------------------------------------------------------------------------------------------ */

static bool one_name(const struct stat *st, const char *name, struct file_error *error)
{
    if (st->st_nlink == 1)
        return true;
    if (st->st_nlink == 0)
        return fail(error, "%s was deleted", name);
    return fail(error,
                "%s has %lu names (hard links); the files that belong to it are found by its name, so it "
                "must have one",
                name, (unsigned long)st->st_nlink);
}

/* Makes sure that this is a regular file with one name, which nobody else may write and only its group may read. */
static bool make_safe(int fd, const char *name, struct stat *st, struct file_error *error)
{
    if (fstat(fd, st) != 0)
        return fail(error, "%s: %s", name, strerror(errno));
    if (!S_ISREG(st->st_mode))
        return fail(error, "%s is not a regular file", name);
    if (!one_name(st, name, error))
        return false;
    mode_t rights = st->st_mode & 07777;
    if ((rights & ~(mode_t)BOOK_RIGHTS) == 0 || fchmod(fd, rights & BOOK_RIGHTS) == 0)
        return true;
    return fail(error, "%s is open to others (%04o), and its rights can't be changed: %s", name, (unsigned)rights,
                strerror(errno));
}

static int open_safely(const char *name, int flags, struct stat *st, struct file_error *error)
{
    int fd = open(name, flags | O_NOFOLLOW | O_CLOEXEC | O_NONBLOCK, BOOK_RIGHTS);
    if (fd < 0 && errno == ELOOP)
        fail(error, "%s is a symbolic link, which is not followed", name);
    else if (fd < 0)
        fail(error, "%s: %s", name, strerror(errno));
    if (fd < 0 || make_safe(fd, name, st, error))
        return fd;
    close(fd);
    return -1;
}

static bool lock(int fd, off_t at, off_t length, const char *name, struct file_error *error)
{
    struct flock range = {.l_type = F_WRLCK, .l_whence = SEEK_SET, .l_start = at, .l_len = length};
    if (fcntl(fd, F_OFD_SETLK, &range) == 0)
        return true;
    if (errno == EACCES || errno == EAGAIN)
        return fail(error, "another gateway uses this book (%s is locked)", name);
    return fail(error, "%s can't be locked: %s", name, strerror(errno));
}

static bool open_count(struct book_file *file, struct file_error *error)
{
    static char name[PATH_MAX];
    struct stat st;
    if (!join(name, file->path, ".lock", error))
        return false;
    file->count_fd = open_safely(name, O_RDWR | O_CREAT, &st, error);
    return file->count_fd >= 0 && lock(file->count_fd, 0, 0, name, error);
}

/* Checks SQLite's own files if they were left over; SQLite gives new ones the rights of the database. */
static bool look_beside(const struct book_file *file, struct file_error *error)
{
    static const char *const suffix[] = {"-wal", "-shm", "-journal"};
    static char name[PATH_MAX];
    for (size_t i = 0; i < sizeof suffix / sizeof suffix[0]; i++) {
        struct stat st;
        if (!join(name, file->path, suffix[i], error))
            return false;
        if (lstat(name, &st) != 0 && errno == ENOENT)
            continue;
        int fd = open_safely(name, O_RDONLY, &st, error);
        if (fd < 0)
            return false;
        close(fd); /* this loses no lock of SQLite, because SQLite has not opened the file yet */
    }
    return true;
}

bool file_open(struct book_file *file, const char *path, struct file_error *error)
{
    struct stat st;
    *file = (struct book_file){.fd = -1, .count_fd = -1};
    if (!find(path, file->path, error))
        return false;
    file->fd = open_safely(file->path, O_RDWR | O_CREAT, &st, error);
    if (file->fd < 0)
        return false;
    file->device = st.st_dev;
    file->inode = st.st_ino;
    return lock(file->fd, LOCK_BYTE, 1, file->path, error) && open_count(file, error) && look_beside(file, error);
}

bool file_is_in_use(const char *path, bool *in_use, struct file_error *error)
{
    struct flock range = {.l_type = F_WRLCK, .l_whence = SEEK_SET, .l_start = LOCK_BYTE, .l_len = 1};
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    bool ok = fd >= 0 && fcntl(fd, F_OFD_GETLK, &range) == 0;
    int why = errno;
    *in_use = ok && range.l_type != F_UNLCK;
    if (fd >= 0)
        close(fd);
    return ok || fail(error, "%s: %s", path, strerror(why));
}

void file_close(struct book_file *file)
{
    if (file->fd >= 0)
        close(file->fd);
    if (file->count_fd >= 0)
        close(file->count_fd);
    file->fd = file->count_fd = -1;
}

/* ---- watching it ----------------------------------------------------------------------------------------------- */

bool file_is_there(const struct book_file *file, struct file_error *error)
{
    struct stat st;
    if (lstat(file->path, &st) != 0)
        return fail(error, "%s was deleted or moved while it was in use: %s", file->path, strerror(errno));
    if (st.st_dev != file->device || st.st_ino != file->inode)
        return fail(error, "%s is another file now: the one that was in use was moved or replaced", file->path);
    return one_name(&st, file->path, error);
}

/* The file system counts whole blocks, and quotas and limits only show when something is written. */
static bool can_write(const struct book_file *file, struct file_error *error)
{
    static const char nothing[PROBE_SIZE];
    ssize_t written = pwrite(file->count_fd, nothing, sizeof nothing, PROBE_AT);
    int why = written < 0 ? errno : ENOSPC;
    if (ftruncate(file->count_fd, PROBE_AT) != 0 && written == PROBE_SIZE)
        return fail(error, "%s.lock: %s", file->path, strerror(errno));
    return written == PROBE_SIZE || fail(error, "nothing can be written beside %s: %s", file->path, strerror(why));
}

bool file_has_room(const struct book_file *file, long kb, struct file_error *error)
{
    struct statvfs disk;
    if (fstatvfs(file->fd, &disk) == 0 &&
        (unsigned long long)disk.f_bavail * disk.f_frsize / 1024 < (unsigned long long)kb)
        return fail(error, "the disk of %s has %llu kB free; %ld kB are needed", file->path,
                    (unsigned long long)disk.f_bavail * disk.f_frsize / 1024, kb);
    return can_write(file, error);
}

/* ---- another beside it ----------------------------------------------------------------------------------------- */

int file_make_beside(const struct book_file *file, const char *suffix, char name[PATH_MAX], struct file_error *error)
{
    for (int i = 1; i < 1000; i++) {
        char more[8] = "";
        if (i > 1)
            snprintf(more, sizeof more, ".%d", i);
        int n = snprintf(name, PATH_MAX, "%s%s%s", file->path, suffix, more);
        if (n < 0 || n >= PATH_MAX)
            break;
        int fd = open(name, O_RDWR | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, BOOK_RIGHTS);
        if (fd >= 0)
            return fd;
        if (errno != EEXIST) {
            fail(error, "%s: %s", name, strerror(errno));
            return -1;
        }
    }
    fail(error, "%s%s: all names for it are taken", file->path, suffix);
    return -1;
}

bool file_sync_folder(const struct book_file *file, struct file_error *error)
{
    static char folder[PATH_MAX];
    snprintf(folder, sizeof folder, "%s", file->path);
    char *slash = strrchr(folder, '/'); /* it exists, because the path is absolute */
    slash[slash == folder] = '\0';
    int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    bool ok = fd >= 0 && fsync(fd) == 0;
    int why = errno;
    if (fd >= 0)
        close(fd);
    return ok || fail(error, "%s: %s", folder, strerror(why));
}
