/* A question and its answer over Modbus/TCP. Of an answer every field is judged: transaction, protocol, length, unit,
 * function, byte count; of a written run its echo. libmodbus does not judge length and unit, and pairs no answer with a
 * request that it did not wait for: while an answer is awaited, a stop is sent all the same, once. */
#ifndef POSITIONER_TCP_H
#define POSITIONER_TCP_H

#include "line.h"

/* As the functions of libmodbus, but for what they return. An answer may come until port->until_us; nothing is
 * repeated. line->why says in words what is wrong with an answer. */
enum transfer tcp_write(struct line *line, struct port *port, struct kr_drive_run to, const uint16_t word[]);
enum transfer tcp_read(struct line *line, struct port *port, struct kr_drive_run from, uint16_t word[]);
enum transfer tcp_write_and_read(struct line *line, struct port *port, struct kr_drive_run to,
                                 const uint16_t out[], struct kr_drive_run from, uint16_t in[]);

#endif
