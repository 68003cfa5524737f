/* How the last run of the gateway ended: kept in the book, told in the log, and shown in the registers. A run that is
 * asked to end says so in the book as the last thing that it does. One that says nothing was killed, or the computer
 * went down with it; the kernel's number of the computer's start, which each run leaves in the book, tells which. */
#ifndef DAEMON_LAST_RUN_H
#define DAEMON_LAST_RUN_H

#include "kniferail/book.h"
#include "kniferail/map.h"

/* Of this start of the computer, from /proc/sys/kernel/random/boot_id (random(4)); "": it can't be read. */
#define LAST_RUN_BOOT_MAX 48
void last_run_boot(char boot[LAST_RUN_BOOT_MAX]);

/* One line in the log; nothing where there was no run before. */
void last_run_tell(const struct kr_book_run *run, int64_t now_utc_ms);

/* LAST_RUN_...; began_utc_ms: when this run began. */
void last_run_show(const struct kr_book_run *run, int64_t began_utc_ms, struct kr_image *image);

#endif
