/* How many transactions were confirmed, written in the lock file beside the book. A book whose -wal file is damaged,
 * or was left behind when it was copied, opens without an error, in the state of an earlier day: SQLite can't know
 * that there was more. This number tells. It is written after each commit and never synced: a power cut may leave an
 * older one, which is no harm; a newer one than the book means that something confirmed is gone. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "inner.h"

/* The number stands there twice: what is not the same twice was not written by us, or not to its end. */
#define COUNT_FORMAT "%020" PRIu64 " %020" PRIu64 "\n"
#define COUNT_SIZE   42

void confirmed_count_write(int fd, uint64_t commits)
{
    char text[COUNT_SIZE + 1];
    snprintf(text, sizeof text, COUNT_FORMAT, commits, commits);
    ssize_t written = pwrite(fd, text, COUNT_SIZE, 0);
    (void)written; /* else it stays older, or can't be read: then it tells nothing */
}

uint64_t confirmed_count_read(int fd)
{
    char text[COUNT_SIZE + 1] = "", *behind;
    if (pread(fd, text, COUNT_SIZE, 0) != COUNT_SIZE)
        return 0;
    uint64_t first = strtoull(text, &behind, 10);
    uint64_t second = strtoull(behind, NULL, 10);
    return first == second ? first : 0; /* no number reads as 0: it tells nothing */
}
