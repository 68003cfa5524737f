/* The log writes lines to standard error, in a form that suits journald. A line is copied into a ring buffer and
 * written by a separate thread, so that a full pipe or a slow terminal never delays the cycle. Any thread may call
 * these functions. Nothing is allocated after log_open(). A process has one log. */
#ifndef DAEMON_LOG_H
#define DAEMON_LOG_H

#include <stdbool.h>

/* Priorities of RFC 5424, as in syslog(3). LOG_STEP, called "debug" there, is used only for the story of each step. */
enum log_priority { LOG_ERROR = 3, LOG_WARNING = 4, LOG_NOTICE = 5, LOG_INFORMATION = 6, LOG_STEP = 7 };

#define LOG_LINE_MAX 1024

/* Tells whether journald reads standard error: JOURNAL_STREAM identifies this stream (systemd.exec(5)). It is not
 * enough that the variable is set, because every program that a service starts inherits it. */
bool log_is_read_by_journald(void);

/* journal: lines begin with their priority as journald reads it ("<6>"); otherwise with the time, and the priority in
 * words. */
bool log_open(bool journal);
void log_close(void); /* writes the remaining lines, for at most a second */

/* Writes a line; a line longer than LOG_LINE_MAX is cut. If the ring buffer is full, the line is left out, and the log
 * says so as soon as there is room. Lines of LOG_STEP are left out when half of the buffer is used, so that they never
 * take the place of other lines. */
void log_line(enum log_priority priority, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Writes one line unchanged, of any length up to the buffer's 256 KB. It is meant for records that programs read. */
void log_record(const char *text);

#endif
