/* tcp: a request and its answer over Modbus/TCP. Every field of an answer is checked: transaction, protocol, length,
 * unit, function, byte count, and the echo after writing. libmodbus does not check length and unit. libmodbus also
 * accepts only the answer to the request that it waits for, while here a stop is sent, once, even while another answer
 * is awaited. */
#ifndef POSITIONER_TCP_H
#define POSITIONER_TCP_H

#include "line.h"

/* Like the functions of libmodbus, except for what they return. An answer may come until port->until_us. Nothing is
 * repeated. line->why says in words what is wrong with an answer. */
enum transfer tcp_write(struct line *line, struct port *port, struct kr_drive_run to, const uint16_t word[]);
enum transfer tcp_read(struct line *line, struct port *port, struct kr_drive_run from, uint16_t word[]);
enum transfer tcp_write_and_read(struct line *line, struct port *port, struct kr_drive_run to, const uint16_t out[],
                                 struct kr_drive_run from, uint16_t in[]);

#endif
