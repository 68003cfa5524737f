/* drive_error: the meaning of a drive's error code (object 603Fh). Belongs to base: alarms and status show it in
 * words. */
#ifndef KNIFERAIL_DRIVE_ERROR_H
#define KNIFERAIL_DRIVE_ERROR_H

#include <stdint.h>

/* X(code, "meaning"). The codes of CiA 302 and CiA 402 (IEC 61800-7-201), as open source that implements them lists
 * them (tests/reference/data/cia402_error_codes.csv names it). A code that ends in zeros also stands for its group. */
#define KR_DRIVE_ERRORS(X) \
    X(0x1000, "generic error") \
    X(0x2000, "current") \
    X(0x2100, "device input side") \
    X(0x2200, "inside the device") \
    X(0x2300, "device output side") \
    X(0x2310, "continuous over-current at the output") \
    X(0x2320, "output short circuit or earth leakage") \
    X(0x3000, "voltage") \
    X(0x3100, "mains") \
    X(0x3110, "mains over-voltage") \
    X(0x3120, "mains under-voltage") \
    X(0x3130, "phase failure") \
    X(0x3200, "inside the device") \
    X(0x3210, "DC link over-voltage") \
    X(0x3220, "DC link under-voltage") \
    X(0x3300, "output") \
    X(0x4000, "temperature") \
    X(0x4210, "device temperature too high") \
    X(0x4310, "drive temperature too high") \
    X(0x5000, "hardware") \
    X(0x5400, "power section") \
    X(0x5530, "EEPROM") \
    X(0x6000, "software") \
    X(0x6010, "reset by watchdog") \
    X(0x6310, "loss of parameters") \
    X(0x6320, "parameter error") \
    X(0x7000, "additional modules") \
    X(0x7100, "power") \
    X(0x7120, "motor") \
    X(0x7121, "motor blocked") \
    X(0x7122, "motor error or commutation malfunction") \
    X(0x7300, "sensor") \
    X(0x7303, "resolver 1 fault") \
    X(0x7305, "incremental sensor 1 fault") \
    X(0x7310, "speed") \
    X(0x7320, "position") \
    X(0x7500, "communication") \
    X(0x7510, "serial interface no. 1") \
    X(0x7600, "data storage") \
    X(0x8000, "monitoring") \
    X(0x8100, "communication") \
    X(0x8120, "CAN in error passive mode") \
    X(0x8130, "life guard error or heartbeat error") \
    X(0x8200, "protocol error") \
    X(0x8300, "torque") \
    X(0x8311, "torque too high") \
    X(0x8400, "velocity speed controller") \
    X(0x8500, "position controller") \
    X(0x8600, "positioning controller") \
    X(0x8611, "following error") \
    X(0x8612, "reference limit") \
    X(0x8700, "sync controller") \
    X(0x9000, "external error") \
    X(0xF000, "additional functions") \
    X(0xF001, "deceleration") \
    X(0xFF00, "device specific")

/* Returns the meaning of a code in words. For a code that the list does not have, it is the meaning of its group. NULL:
 * the list has neither, or there is no error. */
const char *kr_drive_error_text(uint16_t code);

#endif
