/* Finds, opens, locks and watches the book's file. Private to src/book.
 *
 * The lock is a lock on the database file itself, at a byte that SQLite does not use. So there is one lock, whichever
 * path leads to the file, and a program that only reads is not hindered. It is a lock of the open file description
 * (F_OFD_SETLK). A lock of the process (F_SETLK), as SQLite takes it, ends as soon as the process closes any descriptor
 * of the file. For the same reason the descriptor here is closed only after SQLite has closed its own. */
#ifndef BOOK_FILE_H
#define BOOK_FILE_H

#include <limits.h>
#include <stdbool.h>
#include <sys/types.h>

#define BOOK_RIGHTS 0640 /* the most that any file of the book grants, whatever the umask */

struct book_file {
    char path[PATH_MAX]; /* the resolved path, without a symbolic link; "": the book is in memory */
    int fd;              /* of the database; -1: none */
    /* Of FILE.lock, which contains the number of confirmed commits. It is locked, too, for older gateways, which look
     * at this lock alone. */
    int count_fd;
    dev_t device;
    ino_t inode;
};

struct file_error {
    char text[256];
};

/* Opens and locks the file; creates it if it does not exist. A symbolic link may lead to an existing book, but not to a
 * file that does not exist, and the files beside the book must not be symbolic links. False: *error says why; call
 * file_close() nonetheless. */
bool file_open(struct book_file *file, const char *path, struct file_error *error);
void file_close(struct book_file *file);

/* Tells whether the path still leads to the file that was opened, and no other path does. False: *error says what is
 * different. */
bool file_is_there(const struct book_file *file, struct file_error *error);

/* Sets *in_use if a gateway has the book at this path open. Writes nothing. False: *error says why the file can't be
 * asked. */
bool file_is_in_use(const char *path, bool *in_use, struct file_error *error);

/* Tells whether at least kb kilobytes are free on the file's disk, and writing works. False: *error says why not. */
bool file_has_room(const struct book_file *file, long kb, struct file_error *error);

/* Creates a new file beside the book, named after the book and suffix. It never takes an existing file. Writes its path
 * to name. Returns its descriptor, or -1: *error says why. */
int file_make_beside(const struct book_file *file, const char *suffix, char name[PATH_MAX], struct file_error *error);

/* Syncs the folder of the book, so that the names in it survive a power cut. False: *error says why it can't. */
bool file_sync_folder(const struct book_file *file, struct file_error *error);

#endif
