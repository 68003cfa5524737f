/* Computes how long the exchanges with a drive take on a serial line. */
#include "kniferail/drivemap.h"

#define QUICK_BAUD 19200 /* above this rate, the silence between two frames has a fixed length */

/* Bytes of the requests and answers of an exchange on a serial line: unit identifier and checksum, and the PDUs of
 * MODBUS Application Protocol V1.1b3, 6.3, 6.12 and 6.17. */
static int32_t bytes_of(const struct kr_drive *drive, int *transfers)
{
    struct kr_drive_run to[KR_DRIVE_RUNS_MAX], from[KR_DRIVE_RUNS_MAX];
    int n_to = kr_drivemap_runs(&drive->map, KR_OBJECT_OUT, to);
    int n_from = kr_drivemap_runs(&drive->map, KR_OBJECT_IN, from);
    int32_t bytes = 0;
    *transfers = 1;
    if (drive->function_23 && n_to == 1 && n_from == 1)
        return 13 + 2 * to[0].n + 5 + 2 * from[0].n;
    for (int i = 0; i < n_to; i++)
        bytes += 9 + 2 * to[i].n + 8;
    for (int i = 0; i < n_from; i++)
        bytes += 8 + 5 + 2 * from[i].n;
    *transfers = n_to + n_from;
    return bytes;
}

int64_t kr_drive_character_ns(const struct kr_drive_link *link)
{
    int bits = 1 + 8 + (link->parity != 'N') + link->stop_bits;
    return bits * 1000000000LL / link->baud;
}

int64_t kr_drive_silence_us(const struct kr_drive_link *link)
{
    return link->baud > QUICK_BAUD ? 1750 : kr_drive_character_ns(link) * 7 / 2000;
}

/* In each cycle the owner's number may be read or written, too; writing takes longer and is assumed. */
static int32_t bytes_of_owner(const struct kr_drive *drive)
{
    return drive->map.address[KR_OBJECT_OWNER] == KR_NO_REGISTER ? 0 : 11 + 8;
}

int64_t kr_drive_exchange_us(const struct kr_drive *drive)
{
    int transfers;
    int32_t bytes = bytes_of(drive, &transfers) + bytes_of_owner(drive);
    transfers += bytes_of_owner(drive) > 0;
    return bytes * kr_drive_character_ns(&drive->link) / 1000 + 2LL * transfers * kr_drive_silence_us(&drive->link);
}
