/* Tells in the log and in the registers how the last run of the gateway ended. A run that is asked to end notes this in
 * the book as its last action. A run without this note was killed, or the computer stopped. The kernel's identifier of
 * the computer's start, which each run notes in the book, tells the two apart. */
#ifndef DAEMON_LAST_RUN_H
#define DAEMON_LAST_RUN_H

#include "kniferail/book.h"
#include "kniferail/map.h"

/* Reads the identifier of this start of the computer from /proc/sys/kernel/random/boot_id (random(4)); "": it can't be
 * read. */
#define LAST_RUN_BOOT_MAX 48
void last_run_boot(char boot[LAST_RUN_BOOT_MAX]);

/* Writes one line to the log, or nothing if there was no run before. */
void last_run_tell(const struct kr_book_run *run, int64_t now_utc_ms);

/* Fills in the registers LAST_RUN_... began_utc_ms: when this run began. */
void last_run_show(const struct kr_book_run *run, int64_t began_utc_ms, struct kr_image *image);

#endif
