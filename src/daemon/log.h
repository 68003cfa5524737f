/* The log: lines to standard error, fit for journald. A line is copied into a ring and written by a thread of its own,
 * so that a full pipe or a slow terminal never holds up the cycle. Callable from any thread; nothing is allocated
 * after log_open. One log a process. */
#ifndef DAEMON_LOG_H
#define DAEMON_LOG_H

#include <stdbool.h>

/* Priorities of RFC 5424, as in syslog(3). LOG_STEP, "debug" there, is the story of each step alone. */
enum log_priority { LOG_ERROR = 3, LOG_WARNING = 4, LOG_NOTICE = 5, LOG_INFORMATION = 6, LOG_STEP = 7 };

#define LOG_LINE_MAX 1024

/* Whether journald reads standard error: JOURNAL_STREAM names it (systemd.exec(5)). The variable alone says nothing:
 * what a service starts inherits it, wherever its output goes. */
bool log_is_read_by_journald(void);

/* journal: lines begin with their priority as journald reads it ("<6>"), else with time and priority in words. */
bool log_open(bool journal);
void log_close(void); /* writes what is left, for at most a second */

/* Longer lines are cut. What finds the ring full is left out, and that is told as soon as there is room. Lines of
 * LOG_STEP find it full when half of it is used, so that they take no other line's place. */
void log_line(enum log_priority priority, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* One line as it stands, of any length up to the ring's 256 KB: for records that programs read. */
void log_record(const char *text);

#endif
