/* The book's file: found, opened, locked, and watched. Private to src/book.
 *
 * The lock is on the database file itself, at a byte that SQLite leaves alone: whatever name leads to the file, it is
 * one lock, and who only reads is not hindered. It is a lock of the open file description (F_OFD_SETLK). A lock of
 * the process (F_SETLK), as SQLite takes them, ends as soon as the process closes any descriptor of the file; for the
 * same reason the descriptor here is closed only after SQLite has closed its own. */
#ifndef BOOK_FILE_H
#define BOOK_FILE_H

#include <limits.h>
#include <stdbool.h>
#include <sys/types.h>

#define BOOK_RIGHTS 0640 /* at most, of every file of the book, whatever the umask */

struct book_file {
    char path[PATH_MAX]; /* without a symbolic link in it; "": a book in memory */
    int fd;              /* of the database; -1: none */
    int count_fd; /* of FILE.lock: how many commits were confirmed; locked for gateways that know no other lock */
    dev_t device;
    ino_t inode;
};

struct file_error {
    char text[256];
};

/* Makes the file if it isn't there. No planted link is followed: a symbolic link may lead to the book, but not to
 * nothing, and the files beside it are none. False: *error says why, and file_close() is to be called nonetheless. */
bool file_open(struct book_file *file, const char *path, struct file_error *error);
void file_close(struct book_file *file);

/* Whether the path still leads to the file that was opened, and only this path does. False: *error says what else. */
bool file_is_there(const struct book_file *file, struct file_error *error);

/* Whether a gateway has the book at this path open; nothing is written. False: *error says why nobody knows. */
bool file_is_in_use(const char *path, bool *in_use, struct file_error *error);

/* Whether so much can still be written beside the file. */
bool file_has_room(const struct book_file *file, long kb, struct file_error *error);

/* A new file beside the book, named after it and this, and never one that is there; its name goes to name. Returns its
 * descriptor, -1: *error says why. */
int file_make_beside(const struct book_file *file, const char *suffix, char name[PATH_MAX],
                     struct file_error *error);

/* Whether what the folder says of its files is on the disk. */
bool file_sync_folder(const struct book_file *file, struct file_error *error);

#endif
