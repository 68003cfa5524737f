/* Tells the service manager that started the gateway, as sd_notify(3) describes: that the gateway listens, what its
 * stations do, that the cycle runs (the watchdog), that the station file is being read again, and that the gateway
 * ends. Does nothing if NOTIFY_SOCKET is not set.
 *
 * The cycle never waits for the service manager: it only notes each message, and a separate thread sends it. This
 * thread sends a watchdog message only if a cycle has ended since the last one. There is one supervisor for each
 * process. All functions except supervisor_open and supervisor_close may be called whether or not there is a service
 * manager. */
#ifndef DAEMON_SUPERVISOR_H
#define DAEMON_SUPERVISOR_H

#include <stdbool.h>
#include <stdint.h>

#define SUPERVISOR_STATUS_MAX 2048

/* Call it after log_open(), before the loop runs. False: there is a service manager, but the thread could not be
 * started. */
bool supervisor_open(void);

/* Sends the remaining messages, for at most a second. */
void supervisor_close(void);

/* The gateway listens, and its cycle runs. */
void supervisor_ready(void);

/* Sends one line for people; it replaces the last one. A line that is too long is cut. */
void supervisor_status(const char *status);

/* Called at the end of every complete cycle, at now_us by clock_us(). */
void supervisor_cycle(int64_t now_us);

/* A reload begins; a reload has ended, whether or not the file was taken over. */
void supervisor_reloading(void);
void supervisor_reloaded(void);

/* The gateway ends. No watchdog message is sent after this. */
void supervisor_stopping(void);

#endif
