/* admission: who may reach the Modbus/TCP server and what they may do there: its addresses, rights, groups and limits
 * as plain data, and the reader of addresses. The config fills these structs from the station file, and the face takes
 * them as they are. Any thread may call it. Stands on base. */
#ifndef KNIFERAIL_ADMISSION_H
#define KNIFERAIL_ADMISSION_H

#include "kniferail/base.h"

#define KR_FACE_LISTEN_MAX     8
#define KR_FACE_RULES_MAX      64
#define KR_FACE_GROUPS_MAX     16
#define KR_FACE_PREFIXES_MAX   8  /* of one group */
#define KR_FACE_ADDRESS_MAX    46 /* an IPv4 or IPv6 address as text, with its closing 0 */
#define KR_FACE_GROUP_NAME_MAX 40 /* with its closing 0; CONTROL_HOLDER shows it */

/* The first three are the numbers of OWN_ROLE. Each of them includes the rights before it. */
enum kr_right {
    KR_RIGHT_READ = 0,
    KR_RIGHT_CONTROL = 1,
    KR_RIGHT_MAINTAIN = 2,
    KR_RIGHT_NONE = 3, /* the address may not even connect */
};

/* A range of addresses. IPv4 a.b.c.d/n is kept as the IPv6 range ::ffff:a.b.c.d/(96 + n). */
struct kr_prefix {
    uint8_t address[16];
    uint8_t bits; /* 0 to 128; address bits beyond it are 0 */
};

/* Reads "192.0.2.0/24", "2001:db8::/32" or a single address. False if the text is none of these, has too many bits, or
 * has address bits set beyond the prefix, because then the writer meant something else. *prefix is untouched then. */
bool kr_prefix_from_text(const char *text, struct kr_prefix *prefix);

#define KR_RULE_OF_NO_STATION UINT16_MAX /* the rule is for a station that does not run */

struct kr_face_rule {
    struct kr_prefix prefix;
    enum kr_right right;
    uint16_t station_number; /* the station for which the rule is, from 1; 0: every station */
};

struct kr_face_group {
    char name[KR_FACE_GROUP_NAME_MAX];
    uint16_t n_prefixes;
    struct kr_prefix prefix[KR_FACE_PREFIXES_MAX];
};

struct kr_face_listen {
    /* "127.0.0.1", "0.0.0.0", "::" (IPv4 too, where the system allows it) and so on. */
    char address[KR_FACE_ADDRESS_MAX];
    uint16_t port; /* 0: any that is free */
};

struct kr_face_limits {
    uint32_t connections;             /* all together, 1 to 4096 */
    uint32_t connections_per_address; /* 1 or more */
    uint32_t queued_answers; /* of one connection: formed and not sent, and formed in one turn; 1 to 64 */
    uint32_t requests_per_s; /* of one connection; requests that come faster wait. 0: no limit */
    uint32_t idle_ms;        /* a connection is closed after so long without a whole request. 0: never */
    /* Time for the rest of a frame, and for the client to read its answers; 10 or more. */
    uint32_t partial_ms;
};

#endif
