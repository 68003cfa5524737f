/* wire: numbers and limits of the protocol, and its byte order. APP: MODBUS Application Protocol
 * Specification V1.1b3; MSG: MODBUS Messaging on TCP/IP Implementation Guide V1.0b. */
#ifndef KR_FACE_WIRE_H
#define KR_FACE_WIRE_H

#include <stddef.h>
#include <stdint.h>

#include <modbus.h> /* function codes, exception codes and quantity limits */

#define FACE_MBAP_BYTES      7   /* transaction 2, protocol 2, length 2, unit 1 (MSG 3.1.3) */
#define FACE_ADU_BYTES_MAX   260 /* MBAP and a PDU of 253 (APP 4.1) */
#define FACE_PDU_BYTES_MAX   253
#define FACE_LENGTH_MIN      2    /* of the length field: a unit and a function code */
#define FACE_LENGTH_MAX      254  /* of the length field: a unit and a PDU of 253 */
#define FACE_FC_ENCAPSULATED 0x2B /* APP 6.19 */
#define FACE_MEI_IDENTITY    0x0E /* APP 6.21 */
#define FACE_EXCEPTION_BIT   0x80

static inline uint16_t get16(const uint8_t *at)
{
    return (uint16_t)(at[0] << 8 | at[1]);
}

static inline void put16(uint8_t *at, uint16_t value)
{
    at[0] = (uint8_t)(value >> 8);
    at[1] = (uint8_t)value;
}

#endif
