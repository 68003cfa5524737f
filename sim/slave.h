/* The Modbus side of a simulated drive: requests in, answers out, on the registers that the drive's map gives it.
 * Knows no sockets: a request is the PDU without framing. One slave serves all units of one listener or line. */
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
        struct kr_expected expected[KR_EXPECTED_MAX]; /* parameters: registers that can be read */
        struct kr_drive_objects outputs;              /* as the master last wrote them */
        uint32_t serial;
        uint64_t requests, exceptions;
    } drive[KR_RAILS_MAX];
};

void sim_slave_init(struct sim_slave *slave, struct sim_machine *machine);

/* Serves one request to the drive of a rail: functions 03, 06, 16, 23. answer has room for SIM_PDU_MAX bytes. Returns
 * the answer's length; 0: the drive is silent (no power, link lost), which it never is towards a malformed request
 * only. */
size_t sim_slave_serve(struct sim_slave *slave, uint16_t rail, const uint8_t *request, size_t length,
                       uint8_t *answer);

/* How long the answer to a request that was served now has to be held back; 0: not at all. */
int32_t sim_slave_delay_ms(const struct sim_slave *slave, uint16_t rail);

/* Serial line frames: the check sum of MODBUS over Serial Line V1.02, 6.2.2, low byte first on the wire; and how long
 * a request frame is, told from its first bytes: 0 if more are needed to tell, SIM_RTU_MAX + 1 if it is none. */
#define SIM_RTU_MAX 256
uint16_t sim_rtu_crc(const uint8_t *bytes, size_t length);
size_t sim_rtu_request_length(const uint8_t *bytes, size_t length);

#endif
