#include "kniferail/admission.h"

#include <arpa/inet.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>

/* Length of the prefix ::ffff:0:0/96, which holds the IPv4 addresses among the IPv6 ones (RFC 4291, 2.5.5.2). */
#define V4_BITS 96

static bool address_from_text(const char *text, uint8_t address[16], unsigned *family_bits)
{
    if (inet_pton(AF_INET, text, address + 12) == 1) {
        static const uint8_t v4_mapped[12] = {[10] = 0xFF, [11] = 0xFF};
        memcpy(address, v4_mapped, sizeof v4_mapped);
        *family_bits = 32;
        return true;
    }
    *family_bits = 128;
    return inet_pton(AF_INET6, text, address) == 1;
}

static bool bits_from_text(const char *text, unsigned most, unsigned *bits)
{
    if (text[0] < '0' || text[0] > '9' || strlen(text) > 3)
        return false;
    char *end;
    unsigned long value = strtoul(text, &end, 10);
    *bits = (unsigned)value;
    return *end == '\0' && value <= most;
}

static bool bit_is_set(const uint8_t address[16], unsigned bit)
{
    return address[bit / 8] >> (7 - bit % 8) & 1;
}

bool kr_prefix_from_text(const char *text, struct kr_prefix *prefix)
{
    char copy[KR_FACE_ADDRESS_MAX + 4];
    size_t length = strlen(text);
    if (length >= sizeof copy)
        return false;
    memcpy(copy, text, length + 1);
    char *slash = strchr(copy, '/');
    if (slash != NULL)
        *slash = '\0';

    struct kr_prefix read;
    unsigned family_bits, bits;
    if (!address_from_text(copy, read.address, &family_bits))
        return false;
    bits = family_bits;
    if (slash != NULL && !bits_from_text(slash + 1, family_bits, &bits))
        return false;
    read.bits = (uint8_t)(family_bits == 32 ? V4_BITS + bits : bits);
    for (unsigned bit = read.bits; bit < 128; bit++)
        if (bit_is_set(read.address, bit))
            return false;
    *prefix = read;
    return true;
}
