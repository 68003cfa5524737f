/* What the service manager that has started the gateway is told, as sd_notify(3) describes it: that the gateway
 * listens, what its stations do, that the cycle runs (the watchdog), that a station file is being read again, and
 * that the gateway ends. Nothing is told where NOTIFY_SOCKET is not set.
 *
 * The cycle never waits for the service manager: it notes what is to be told, and a thread of its own sends it. That
 * thread sends a watchdog message only when the cycle has asked for one since the last. One a process; every function
 * but supervisor_open and supervisor_close may be called whether or not there is a service manager. */
#ifndef DAEMON_SUPERVISOR_H
#define DAEMON_SUPERVISOR_H

#include <stdbool.h>
#include <stdint.h>

#define SUPERVISOR_STATUS_MAX 2048

/* After log_open, before the loop runs. False: there is a service manager, and no thread to tell it from. */
bool supervisor_open(void);

/* Sends what is left, for at most a second. */
void supervisor_close(void);

/* The gateway listens, and its cycle runs. */
void supervisor_ready(void);

/* One line for people; what does not fit is cut. It replaces the one before. */
void supervisor_status(const char *status);

/* The end of a cycle that ran whole, at now_us by clock_us(). */
void supervisor_cycle(int64_t now_us);

/* A reload begins, and has ended with the file taken or not. */
void supervisor_reloading(void);
void supervisor_reloaded(void);

/* The gateway ends. From here on no watchdog message is sent. */
void supervisor_stopping(void);

#endif
