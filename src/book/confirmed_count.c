/* The number of confirmed transactions, in the lock file beside the book. If the -wal file of a book is damaged, or was
 * forgotten when the book was copied, the book opens without an error, but in an earlier state. SQLite can't know that
 * there was more, but this number shows it. It is written after each commit and never synced. After a power cut it may
 * be too low, which does no harm. If it is higher than the number in the book, confirmed transactions are lost. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "inner.h"

/* The number is written twice. If the two differ, another program wrote it, or writing was interrupted. */
#define COUNT_FORMAT "%020" PRIu64 " %020" PRIu64 "\n"
#define COUNT_SIZE   42

void confirmed_count_write(int fd, uint64_t commits)
{
    char text[COUNT_SIZE + 1];
    snprintf(text, sizeof text, COUNT_FORMAT, commits, commits);
    ssize_t written = pwrite(fd, text, COUNT_SIZE, 0);
    (void)written; /* after an error the number is too low, or can't be read, and then nothing is concluded from it */
}

uint64_t confirmed_count_read(int fd)
{
    char text[COUNT_SIZE + 1] = "", *behind;
    if (pread(fd, text, COUNT_SIZE, 0) != COUNT_SIZE)
        return 0;
    uint64_t first = strtoull(text, &behind, 10);
    uint64_t second = strtoull(behind, NULL, 10);
    return first == second ? first : 0; /* a text that is not a number gives 0, from which nothing is concluded */
}
