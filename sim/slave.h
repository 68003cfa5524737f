/* The Modbus side of a simulated drive: answers requests about the registers that the drive's map defines. It does not
 * know of sockets: a request is a PDU without framing. One slave serves all units of one listener or line. */
#ifndef KNIFERAIL_SIM_SLAVE_H
#define KNIFERAIL_SIM_SLAVE_H

#include "kniferail/drivemap.h"
#include "sim/machine.h"

#define SIM_PDU_MAX 253 /* MODBUS Application Protocol V1.1b3, 4.1 */

struct sim_slave {
    struct sim_machine *machine; /* borrowed */
    struct {
        struct kr_drivemap map;
        uint16_t n_expected;
        struct kr_expected expected[KR_EXPECTED_MAX]; /* the drive's parameters: registers that can be read */
        struct kr_drive_objects outputs;              /* as the master wrote them last */
        uint32_t serial;
        uint64_t requests, exceptions;
    } drive[KR_RAILS_MAX];
};

void sim_slave_init(struct sim_slave *slave, struct sim_machine *machine);

/* Serves one request to the drive of a rail: functions 03, 06, 16, 23. answer has room for SIM_PDU_MAX bytes. Returns
 * the length of the answer. 0: the drive is silent, because it has no power or the link is lost; it always answers a
 * malformed request otherwise. */
size_t sim_slave_serve(struct sim_slave *slave, uint16_t rail, const uint8_t *request, size_t length, uint8_t *answer);

/* Returns how long the answer to the request that was served now has to be delayed; 0: not at all. */
int32_t sim_slave_delay_ms(const struct sim_slave *slave, uint16_t rail);

/* Frames of a serial line: the checksum of MODBUS over Serial Line V1.02, 6.2.2, whose low byte is sent first, and the
 * length of a request frame. The length is found from the first bytes: 0 means that more bytes are needed, and
 * SIM_RTU_MAX + 1 that this is not a request. */
#define SIM_RTU_MAX 256
uint16_t sim_rtu_crc(const uint8_t *bytes, size_t length);
size_t sim_rtu_request_length(const uint8_t *bytes, size_t length);

#endif
